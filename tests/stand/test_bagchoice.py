"""Loads chosen by their price, against trying everything."""

from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stand.bagchoice import choose
from runbook.stand.bagprices import offers, priced
from runbook.stand.bagstock import Stock, TooMuch
from runbook.stand.bagtrades import Trades
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


@given(NEEDS, BAGS)
def test_there_are_loads_where_there_is_a_sharing_and_none_where_not(
    needs: list[int], bags: list[int]
) -> None:
    least, stock = least_missing(needs, bags), Stock(bags)
    aim = least + 2  # prices good for more than is looked for
    known = [stock.load_of([]) for _ in needs]
    found = priced(needs, stock, offers(needs, stock, aim), known, aim)
    loads = choose(needs, Trades(stock), found, least, 10_000)
    assert loads is not None
    lacks = [max(0, need - load.mass) for need, load in zip(needs, loads, strict=True)]
    assert sum(lacks) == least
    hung = [bag for load in loads for bag in stock.bags_of(load.packed)]
    assert all(hung.count(bag) <= bags.count(bag) for bag in hung)
    assert least == 0 or choose(needs, Trades(stock), found, least - 1, 10_000) is None


def test_it_stops_after_as_many_tries_as_it_may() -> None:
    needs, stock = [20, 20], Stock([10, 10, 10, 10])
    known = [stock.load_of([]) for _ in needs]
    found = priced(needs, stock, offers(needs, stock, 0), known, 0)
    with pytest.raises(TooMuch):
        choose(needs, Trades(stock), found, 0, 0)
    assert choose(needs, Trades(stock), found, 0, 10) is not None
