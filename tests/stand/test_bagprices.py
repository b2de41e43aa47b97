"""The bound that prices prove; that they are the best is checked against scipy's programme."""

from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stand import bagprices
from runbook.stand.bagprices import Priced, priced
from runbook.stand.bagstock import Stock, TooMuch
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


def with_nothing_hung(needs: list[int], stock: Stock, missing: int) -> Priced:
    return priced(needs, stock, [stock.load_of([]) for _ in needs], missing)


@given(NEEDS, BAGS)
def test_no_sharing_beats_the_bound(needs: list[int], bags: list[int]) -> None:
    least, stock = least_missing(needs, bags), Stock(bags)
    assert with_nothing_hung(needs, stock, least).bound <= least + 1e-6


@given(NEEDS, BAGS)
def test_no_load_that_may_hang_costs_less_than_the_cheapest(
    needs: list[int], bags: list[int]
) -> None:
    missing, stock = least_missing(needs, bags), Stock(bags)
    found = with_nothing_hung(needs, stock, missing)
    assert all(price >= 0 for price in found.prices)
    waste = missing - sum(needs) + sum(bags)
    for need, least in zip(needs, found.least, strict=True):
        loads = stock.fitting(stock.all, need, max(0, need - missing), need + waste)
        costs = [
            max(0, need - load.mass) + sum(found.prices[kind] for kind in load.kinds)
            for load in loads
        ]
        assert abs(min(costs) - least) < 1e-6


@given(NEEDS, BAGS)
def test_every_stand_takes_parts_that_make_one_load(needs: list[int], bags: list[int]) -> None:
    stock = Stock(bags)
    for parts in with_nothing_hung(needs, stock, sum(needs)).parts:
        assert abs(sum(parts.values()) - 1) < 1e-6


def test_prices_prove_what_masses_alone_do_not() -> None:
    # bags of 10 for three stands of 14: 60 for 42, and yet every stand needs two or lacks 4
    needs, stock = [14, 14, 14], Stock([10, 10, 10, 10, 10])
    known = [stock.load_of([10, 10]), stock.load_of([10, 10]), stock.load_of([10])]
    found = priced(needs, stock, known, 3)
    assert found.bound > 3
    assert found.prices[0] > 0


def test_prices_that_are_not_settled_in_time_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bagprices, "_EXCHANGES", 0)
    with pytest.raises(TooMuch):
        with_nothing_hung([20, 25], Stock([5, 6, 7, 8, 9]), 10)
