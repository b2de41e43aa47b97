"""The bound that prices prove; that they are the best is checked against scipy's programme."""

from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stand import bagprices
from runbook.stand.bagprices import offers, priced
from runbook.stand.bagstock import Stock, TooMuch
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


@given(NEEDS, BAGS)
def test_no_sharing_beats_the_bound(needs: list[int], bags: list[int]) -> None:
    least, stock = least_missing(needs, bags), Stock(bags)
    known = [stock.load_of([]) for _ in needs]
    found = priced(needs, stock, offers(needs, stock, least), known, least)
    assert found.bound <= least + 1e-6


def test_prices_prove_what_masses_alone_do_not() -> None:
    # bags of 10 for three stands of 14: 60 for 42, and yet every stand needs two or lacks 4
    needs, stock = [14, 14, 14], Stock([10, 10, 10, 10, 10])
    known = [stock.load_of([10, 10]), stock.load_of([10, 10]), stock.load_of([10])]
    found = priced(needs, stock, offers(needs, stock, 3), known, 3)
    assert found.bound > 3
    assert found.prices[0] > 0


def test_more_loads_than_there_is_time_for_are_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bagprices, "_LOADS", 5)
    with pytest.raises(TooMuch):
        offers([20, 25], Stock([5, 6, 7, 8, 9]), 10)
