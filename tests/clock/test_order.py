"""The order with the least changing, and the order that ends the day soonest."""

import time
from itertools import pairwise, permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.clock.order import Costs, NoOrder, Rules, block_moves, changing_s, least_changing, soonest


def _random(count: int, seed: int, most: int = 900, grid: int = 5) -> Costs:
    rng = Random(seed)

    def row() -> list[int]:
        return [grid * rng.randint(0, most // grid) for _ in range(count)]

    return Costs(row(), [row() for _ in range(count)], row())


def _kept(order, before, groups, first, last) -> bool:
    place = {setup: k for k, setup in enumerate(order)}
    if any(place[a] > place[b] for a, b in before):
        return False
    if (first is not None and order[0] != first) or (last is not None and order[-1] != last):
        return False
    for look in set(groups) - {None}:
        places = [place[i] for i, other in enumerate(groups) if other == look]
        if max(places) - min(places) + 1 != len(places):
            return False
    return True


@st.composite
def _days(draw: st.DrawFn):
    count = draw(st.integers(2, 6))
    costs = _random(count, draw(st.integers(0, 10**6)), draw(st.sampled_from([10, 900])))
    setup = st.integers(0, count - 1)
    pairs = draw(st.lists(st.tuples(setup, setup).filter(lambda p: p[0] != p[1]), max_size=2))
    look = st.sampled_from([None, "a", "b"])
    groups = draw(st.one_of(st.just([]), st.lists(look, min_size=count, max_size=count)))
    ends = st.one_of(st.none(), setup)
    return costs, pairs, groups, draw(ends), draw(ends)


@settings(max_examples=50, deadline=None)
@given(_days())
def test_the_best_of_all_orders(day):
    costs, before, groups, first, last = day
    allowed = [order for order in permutations(range(len(costs.start))) if _kept(order, before, groups, first, last)]
    if not allowed:
        with pytest.raises(NoOrder):
            Rules(len(costs.start), before, groups, first, last)
        return
    best = min(changing_s(costs, order) for order in allowed)
    rules = Rules(len(costs.start), before, groups, first, last)
    found = least_changing(costs, rules)
    assert found.order in allowed
    assert found.changing_s == changing_s(costs, found.order)
    assert found.proven
    assert found.changing_s == found.bound_s == best


def test_the_given_order_is_kept_when_no_other_is_better():
    costs = Costs([60] * 5, [[60] * 5] * 5, [60] * 5)
    assert least_changing(costs).order == (0, 1, 2, 3, 4)


def test_a_circle_is_named():
    with pytest.raises(NoOrder, match="setups 1, 2, 3") as text:
        Rules(4, [(0, 1), (1, 2), (2, 0)])
    assert text.value.setups == (0, 1, 2)


def test_a_look_that_would_have_to_be_broken_up_is_a_circle():
    costs = _random(3, 1)
    with pytest.raises(NoOrder):
        Rules(3, [(0, 1), (1, 2)], ["a", None, "a"])
    assert least_changing(costs, Rules(3, [(0, 1), (1, 2)])).order == (0, 1, 2)


@pytest.mark.parametrize("count", [0, 1])
def test_a_day_of_next_to_nothing(count):
    found = least_changing(Costs([10] * count, [[0] * count] * count, [20] * count))
    assert found.proven
    assert found.changing_s == 30 * count


def test_costs_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="3 setups need 3 costs"):
        least_changing(Costs([1, 2, 3], [[0, 0], [0, 0]], [1, 2, 3]))
    with pytest.raises(ValueError, match="3 looks"):
        Rules(3, looks=["a"])


@pytest.mark.parametrize("seed", range(3))
def test_fifteen_setups_are_proven_within_two_seconds(seed):
    costs = _random(15, seed)
    begin = time.process_time()
    assert least_changing(costs).proven
    assert time.process_time() - begin < 2


def _many(seed: int, count: int) -> Costs:
    rng = Random(seed)
    heads = [[(rng.randrange(5), rng.randrange(4)) for _ in range(6)] for _ in range(count)]

    def change(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> int:
        return sum(40 * (x[0] != y[0]) + 55 * (x[1] != y[1]) for x, y in zip(a, b, strict=True))

    return Costs([50] * count, [[change(a, b) for b in heads] for a in heads], [50] * count)


def test_many_setups_get_a_good_order_and_an_honest_bound():
    costs, before = _many(4, 30), [(3, 20), (7, 1)]
    found = least_changing(costs, Rules(30, before))
    assert _kept(found.order, before, [], None, None)
    assert found.changing_s == changing_s(costs, found.order)
    attained = 8920  # by a search of bounded states that ran twenty times as long
    assert found.changing_s <= 1.01 * attained
    assert found.bound_s <= attained
    assert found == least_changing(costs, Rules(30, before))


def test_beyond_fifteen_an_order_is_proven_only_if_it_meets_the_bound():
    # a ring in which every follower is the cheapest: the bound meets it
    ring = [[10.0 if j == (i + 1) % 18 else 60.0 for j in range(18)] for i in range(18)]
    costs = Costs([5.0] * 18, ring, [5.0] * 18)
    found = least_changing(costs)
    assert found.proven
    assert found.changing_s == 10 + 17 * 10
    open_gap = least_changing(_many(1, 18))
    assert open_gap.proven == (open_gap.changing_s <= open_gap.bound_s)
    assert open_gap.bound_s < open_gap.changing_s


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**6))
def test_the_bound_beyond_fifteen_is_below_what_a_smaller_exact_search_finds(seed):
    # two clusters of eight, far apart: the best order is the best of each, one behind the other
    rng = Random(seed)
    near = [[rng.randint(1, 20) for _ in range(16)] for _ in range(16)]
    between = [[near[i][j] + 10_000 * (i // 8 != j // 8) for j in range(16)] for i in range(16)]
    costs = Costs([0] * 16, between, [0] * 16)
    found = least_changing(costs, Rules(16, looks=["a"] * 8 + ["b"] * 8))
    assert found.bound_s <= found.changing_s
    crossings = sum(a // 8 != b // 8 for a, b in zip(found.order, found.order[1:], strict=False))
    assert crossings == 1


# --- the soonest end

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


@pytest.mark.parametrize("search", [
    lambda check: least_changing(_random(25, 3), check=check),
    lambda check: soonest([tuple(range(12))], lambda order: order, lambda _: True, check),
])  # fmt: skip
def test_a_long_search_can_be_stopped(search) -> None:
    calls = [None] * 3
    with pytest.raises(IndexError):
        search(calls.pop)
