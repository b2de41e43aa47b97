"""A sharing made better by swaps: no worse than before, and no swap left that helps."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.stand import bagswaps
from runbook.stand.bagstock import missing
from runbook.stand.bagswaps import bettered
from tests.stand.bags_tried import BAGS, NEEDS


@given(NEEDS, BAGS, st.data())
def test_no_move_and_no_change_of_places_betters_it(
    needs: list[int], bags: list[int], data: st.DataObject
) -> None:
    places = [data.draw(st.integers(0, len(needs))) for _ in bags]
    lying = [
        [bag for bag, at in zip(bags, places, strict=True) if at == n]
        for n in range(len(needs) + 1)
    ]
    found = bettered(needs, lying[:-1], lying[-1], 0)
    least = missing(needs, found)
    assert least <= missing(needs, lying[:-1])
    spare = list(bags)
    for load in found:
        for bag in load:
            spare.remove(bag)  # every bag hangs once
    everywhere, wants = [*found, spare], [*needs, 0]
    for one, other in permutations(range(len(everywhere)), 2):
        for bag in everywhere[one]:
            for back in (*everywhere[other], 0):
                new = [list(load) for load in everywhere]
                new[one].remove(bag)
                new[other].append(bag)
                if back:
                    new[other].remove(back)
                    new[one].append(back)
                assert missing(wants, new) >= least


def test_another_beginning_betters_what_no_swap_does() -> None:
    needs, bags = [110, 28], [15, 7, 24, 6, 22, 35, 29]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bagswaps, "_PAIRS", 0)
        assert missing(needs, bettered(needs, [bags, []], [], 0)) == 1
    assert missing(needs, bettered(needs, [bags, []], [], 0)) == 0
