"""Heads to roles with the least change."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.clock.assignment import assign

_COST = st.one_of(st.none(), st.integers(0, 30))


@st.composite
def _costs(draw: st.DrawFn) -> list[list[int | None]]:
    rows = draw(st.integers(1, 4))
    width = draw(st.integers(rows, 5))
    return [draw(st.lists(_COST, min_size=width, max_size=width)) for _ in range(rows)]


def _cheapest(costs: list[list[int | None]]) -> int | None:
    totals = []
    for columns in permutations(range(len(costs[0])), len(costs)):
        chosen = [costs[row][column] for row, column in enumerate(columns)]
        if None not in chosen:
            totals.append(sum(chosen))
    return min(totals, default=None)


@given(_costs())
def test_the_cheapest_of_all_ways(costs):
    best = _cheapest(costs)
    columns = assign(costs)
    if best is None:
        assert columns is None
        return
    assert columns is not None
    assert len(set(columns)) == len(costs)
    assert sum(costs[row][column] for row, column in enumerate(columns)) == best


def test_a_head_that_costs_nothing_stays():
    assert assign([[0, 50, 50], [50, 0, 50]]) == (0, 1)


def test_low_numbers_among_equals():
    assert assign([[5, 5, 5], [5, 5, 5]]) == (0, 1)


def test_no_roles_need_no_heads():
    assert assign([]) == ()


def test_more_roles_than_heads():
    assert assign([[1], [2]]) is None


def test_ragged_rows_are_refused():
    with pytest.raises(ValueError, match="for every head"):
        assign([[1, 2], [3]])
