"""Loads of bags, against all subsets of the bags."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from runbook.stand.bagstock import Stock, missing
from tests.stand.bags_tried import BAGS


@given(BAGS, st.integers(1, 80), st.integers(0, 30), st.integers(0, 30))
def test_the_loads_that_fit_are_all_that_do(
    bags: list[int], need: int, under: int, over: int
) -> None:
    stock = Stock(bags)
    low, high = need - under, need + over
    found = stock.fitting(stock.all, need, low, high)
    told = [tuple(stock.bags_of(load.packed)) for load in found]
    assert all(load.mass == sum(load_bags) for load, load_bags in zip(found, told, strict=True))
    wanted = {
        tuple(sorted(some, reverse=True))
        for size in range(len(bags) + 1)
        for some in combinations(bags, size)
        if low <= sum(some) <= high and (not some or sum(some) - min(some) < need)
    }
    assert len(told) == len(set(told))
    assert set(told) == wanted


@given(BAGS, st.data())
def test_what_hangs_elsewhere_is_in_no_load(bags: list[int], data: st.DataObject) -> None:
    stock = Stock(bags)
    gone = data.draw(st.lists(st.sampled_from(range(len(bags))), unique=True))
    left = [bag for n, bag in enumerate(bags) if n not in gone]
    free = stock.all - stock.load_of([bags[n] for n in gone]).packed
    need = sum(bags)
    masses = sorted(load.mass for load in stock.fitting(free, need, 0, need))
    some = {
        tuple(sorted(each)) for size in range(len(left) + 1) for each in combinations(left, size)
    }
    assert masses == sorted(sum(each) for each in some)
    for low in (0, need // 3, need // 2):
        assert stock.reaches(free, low, low + 3) == any(low <= sum(x) <= low + 3 for x in some)


@given(BAGS, st.data())
def test_no_bag_up_to_a_load_is_heavier_than_its_heaviest(
    bags: list[int], data: st.DataObject
) -> None:
    stock = Stock(bags)
    mine = data.draw(st.lists(st.sampled_from(range(len(bags))), unique=True))
    load = [bags[n] for n in mine]
    left = stock.bags_of(stock.all & stock.up_to(stock.load_of(load)))
    assert sorted(left) == sorted(bag for bag in bags if bag <= max(load, default=0))


def test_missing_is_what_stands_lack_and_never_made_good_by_another() -> None:
    assert missing([10, 10], [[7, 5], [4]]) == 6
