"""The walk over the stands, against trying everything."""

from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stand.bagstock import Stock, TooMuch, missing
from runbook.stand.bagwalk import Walk
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


@given(NEEDS, BAGS)
def test_it_finds_what_there_is_and_rules_out_what_there_is_not(
    needs: list[int], bags: list[int]
) -> None:
    least = least_missing(needs, bags)
    walk = Walk(needs, Stock(bags))
    walk.left = 100_000
    found = walk.with_missing(least)
    assert found is not None
    assert missing(needs, found) == least
    hung = sorted(bag for load in found for bag in load)
    assert all(hung.count(bag) <= bags.count(bag) for bag in hung)
    assert least == 0 or walk.with_missing(least - 1) is None


def test_it_stops_when_it_has_looked_at_as_much_as_it_may() -> None:
    walk = Walk([28, 30, 31], Stock([7, 9, 11, 13, 15, 17, 19]))
    walk.left = 1
    with pytest.raises(TooMuch):
        walk.with_missing(0)
    walk.left = 100_000
    assert walk.with_missing(10) is not None
