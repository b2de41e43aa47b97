"""The order that ends the day soonest: an order search on whatever it is worth."""

from __future__ import annotations

from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.clock.order import Rules, block_moves, soonest

Pairs = dict[tuple[int, int], int]


@st.composite
def days(draw: st.DrawFn) -> tuple[int, Pairs, Rules]:
    count = draw(st.integers(1, 8))
    cost = {(i, j): draw(st.integers(0, 20)) for i in range(count) for j in range(count)}
    pairs = draw(st.lists(st.tuples(*[st.integers(0, count - 1)] * 2), max_size=3))
    return count, cost, Rules(count, [(i, j) for i, j in pairs if i < j])


@settings(max_examples=30)
@given(days())
def test_no_move_of_a_block_is_better_and_every_rule_is_kept(day: tuple[int, Pairs, Rules]) -> None:
    count, cost, rules = day

    def worth(order: tuple[int, ...]) -> tuple[float, ...]:
        return (float(sum(cost[pair] for pair in pairwise(order))),)

    start = tuple(range(count))
    found = soonest([start], worth, rules.allows)
    assert rules.allows(found)
    assert worth(found) <= worth(start)
    for move in block_moves(count, count):
        other = tuple(found[k] for k in move)
        assert not rules.allows(other) or worth(found) <= worth(other)
    if count <= 6:
        every = [order for order in permutations(start) if rules.allows(order)]
        assert worth(found) == min(map(worth, every))


def test_the_earlier_start_is_kept_among_equals() -> None:
    assert soonest([(1, 0), (0, 1)], lambda _: (0.0,), lambda _: True) == (1, 0)
    with pytest.raises(ValueError):
        soonest([], lambda _: (0.0,), lambda _: True)


def test_it_can_be_stopped() -> None:
    looked: list[tuple[int, ...]] = []

    def worth(order: tuple[int, ...]) -> tuple[float, ...]:
        looked.append(order)
        return (float(sum(n * at for at, n in enumerate(order))),)

    start = tuple(range(12))
    found = soonest([start], worth, lambda _: True, lambda: len(looked) > 5)
    assert found in looked
    assert len(looked) < 9
