"""Which loads a trade betters, against every trade there is; and that the others are enough."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.stand.bagstock import Stock
from runbook.stand.bagtrades import bettered_by
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


@given(BAGS, st.integers(1, 80), st.data())
def test_a_load_is_better_traded_for_what_brings_it_nearer_or_makes_it_smaller(
    bags: list[int], need: int, data: st.DataObject
) -> None:
    mine = data.draw(st.lists(st.sampled_from(bags), max_size=4))
    kept = data.draw(st.sampled_from([0, *mine]))
    may_go = list(mine)
    if kept:
        may_go.remove(kept)
    better = set()
    for size in range(len(may_go) + 1):
        for some in combinations(may_go, size):
            for other in set(range(1, 200)) - set(mine):
                before, after = sum(mine), sum(mine) - sum(some) + other
                nearer = before < after <= need or need <= after < before
                if nearer or (before == after and size > 1):
                    better.add(other)
    told = bettered_by(need, mine, kept)
    assert {mass for mass in range(1, 200) if told >> mass & 1} == better


@settings(max_examples=50)
@given(NEEDS, BAGS)
def test_the_loads_that_no_trade_betters_are_enough(needs: list[int], bags: list[int]) -> None:
    need, *others = needs
    stock = Stock(bags)
    lying = stock.lying(stock.all)
    least = [
        max(0, need - load.mass) + least_missing(others, stock.bags_of(stock.all - load.packed))
        for load in stock.fitting(stock.all, need, 0, sum(bags))
        if not bettered_by(need, stock.bags_of(load.packed)) & lying
    ]
    assert min(least) == least_missing(needs, bags)
