"""What loads of each mass are worth, against all subsets of the bags."""

from __future__ import annotations

from itertools import combinations
from math import inf

from hypothesis import given
from hypothesis import strategies as st

from runbook.stand.bagstock import Stock
from runbook.stand.bagtable import Table
from tests.stand.bags_tried import BAGS


@given(BAGS, st.data())
def test_a_load_of_each_mass_is_the_cheapest(bags: list[int], data: st.DataObject) -> None:
    stock = Stock(bags)
    some = st.integers(0, 12)
    prices = [data.draw(some) / 4 for _ in stock.kinds]
    most = data.draw(st.integers(0, sum(bags)))
    table = Table(stock, prices, most)
    worth = dict.fromkeys(range(most + 1), inf)
    for size in range(len(bags) + 1):
        for load in combinations(bags, size):
            if (mass := sum(load)) in worth:
                price = sum(prices[stock.kinds.index(bag)] for bag in load)
                worth[mass] = min(worth[mass], price)
    low = data.draw(st.integers(0, most))
    need = data.draw(st.integers(low, sum(bags) + 10))
    costs = [max(0, need - mass) + worth[mass] for mass in range(low, most + 1)]
    assert table.costs(need, low, most) == costs
    for mass, least in worth.items():
        if least < inf:
            kinds = table.cheapest(mass)
            assert sum(stock.kinds[kind] for kind in kinds) == mass
            assert sum(prices[kind] for kind in kinds) == least
            assert list(kinds) == sorted(kinds)
            assert all(kinds.count(kind) <= stock.counts[kind] for kind in kinds)
