"""Heads to roles with the least change."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.clock.roles import NoWayToAssign, assigned, least_change

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
    if best is None:
        with pytest.raises(NoWayToAssign) as told:
            least_change(costs)
        # the roles named have fewer heads that would do than they are
        would_do = {j for i in told.value.roles for j, c in enumerate(costs[i]) if c is not None}
        assert would_do == set(told.value.heads)
        assert len(told.value.roles) > len(would_do)
        return
    columns = least_change(costs)
    assert len(set(columns)) == len(costs)
    assert sum(costs[row][column] for row, column in enumerate(columns)) == best


@given(st.integers(1, 5).flatmap(lambda n: st.lists(
    st.lists(st.integers(0, 30), min_size=n, max_size=n), min_size=n, max_size=n)))  # fmt: skip
def test_prices_prove_the_cost(costs):
    found = assigned(costs)
    total = sum(costs[row][column] for row, column in enumerate(found.columns))
    assert sum(found.row) + sum(found.column) == pytest.approx(total)
    for i, row in enumerate(costs):
        assert all(found.row[i] + found.column[j] <= cost + 1e-9 for j, cost in enumerate(row))


def test_a_head_that_costs_nothing_stays():
    assert least_change([[0, 50, 50], [50, 0, 50]]) == (0, 1)


def test_low_numbers_among_equals():
    assert least_change([[5, 5, 5], [5, 5, 5]]) == (0, 1)


def test_no_roles_need_no_heads():
    assert least_change([]) == ()


def test_more_roles_than_heads():
    with pytest.raises(NoWayToAssign, match="2 roles have 1 heads"):
        least_change([[1], [2]])


def test_ragged_rows_are_refused():
    with pytest.raises(ValueError, match="for every head"):
        least_change([[1, 2], [3]])
