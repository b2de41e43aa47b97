"""Sharing bags against independent programmes, linear and integer (HiGHS, through scipy)."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from runbook.stand.bagprices import priced
from runbook.stand.bagshare import share_bags
from runbook.stand.bagstock import Load, Stock

KINDS = st.sampled_from([45, 68, 70, 90])  # tenths of a kilogram


def least_short(needs: list[int], bags: list[int]) -> int:
    """Least total shortfall: each bag on one stand at most, shortfall >= need - bags, >= 0.

    In whole tenths of a kilogram: the solver stumbles over its own tolerances with fractions.
    """
    stands, hung = len(needs), len(needs) * len(bags)
    cost = np.concatenate([np.zeros(hung), np.ones(stands)])
    once = np.zeros((len(bags), hung + stands))
    held = np.zeros((stands, hung + stands))
    for n in range(len(bags)):
        for stand in range(stands):
            once[n, n * stands + stand] = 1
            held[stand, n * stands + stand] = bags[n]
    held[:, hung:] = np.eye(stands)
    found = milp(
        cost,
        constraints=[LinearConstraint(once, ub=1), LinearConstraint(held, lb=needs)],
        integrality=np.ones(hung + stands),
        bounds=Bounds(0, np.concatenate([np.ones(hung), np.full(stands, sum(needs))])),
        options={"mip_rel_gap": 0.0},
    )
    assert found.success, found.message
    return round(found.fun)


@settings(max_examples=15, deadline=None)
@given(st.data())
def test_no_programme_shares_them_better(data: st.DataObject) -> None:
    bags = data.draw(st.lists(KINDS, min_size=6, max_size=10))
    stands = data.draw(st.integers(3, 5))
    # needs near what the bags weigh: the hard middle, where some are wanting and some are over
    parts = data.draw(st.lists(st.integers(5, 20), min_size=stands, max_size=stands))
    needs = [round(part / sum(parts) * sum(bags)) for part in parts]
    sharing = share_bags([need / 10 for need in needs], [bag / 10 for bag in bags])
    assert sharing.proven
    assert abs(10 * sharing.total_short_kg - least_short(needs, bags)) < 1e-3


def least_cost(needs: list[int], offered: list[list[Load]], counts: list[int]) -> float | None:
    """Least lacking when every stand takes one load in parts; None where it cannot be."""
    taken = [(stand, load) for stand, mine in enumerate(offered) for load in mine]
    one = np.zeros((len(offered), len(taken)))
    used = np.zeros((len(counts), len(taken)))
    for column, (stand, load) in enumerate(taken):
        one[stand, column] = 1
        for kind in load.kinds:
            used[kind, column] += 1
    cost = [max(0, needs[stand] - load.mass) for stand, load in taken]
    found = linprog(cost, A_ub=used, b_ub=counts, A_eq=one, b_eq=np.ones(len(offered)))
    return float(found.fun) if found.success else None


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_the_prices_are_the_best_there_are(data: st.DataObject) -> None:
    bags = data.draw(st.lists(KINDS | st.integers(30, 120), min_size=6, max_size=14))
    stands = data.draw(st.integers(2, 7))
    parts = data.draw(st.lists(st.integers(5, 20), min_size=stands, max_size=stands))
    needs = [round(part / sum(parts) * sum(bags)) for part in parts]
    stock = Stock(bags)
    missing = sum(needs) // 4
    found = priced(needs, stock, [stock.load_of([]) for _ in needs], missing)
    assert min(found.prices) >= 0
    waste = missing - sum(needs) + sum(bags)
    any_load = [stock.fitting(stock.all, need, 0, need + sum(bags)) for need in needs]
    fitting = [
        [x for x in mine if need - missing <= x.mass <= need + waste]
        for need, mine in zip(needs, any_load, strict=True)
    ]
    # prices of any loads, and what more the windows of their masses prove
    least = least_cost(needs, any_load, stock.counts)
    most = least_cost(needs, fitting, stock.counts)
    assert least is not None
    if least > missing:
        assert found.bound > missing  # any prices that rule it out will do
    else:
        assert found.bound >= least - 1e-6
        assert most is None or found.bound <= max(most, missing + 1) + 1e-6
