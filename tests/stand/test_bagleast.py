"""The least, found and proven from any sharing to begin with, whichever way gets there."""

from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stand import bagleast
from runbook.stand.bagleast import least
from runbook.stand.bagstock import missing
from tests.stand.bags_tried import BAGS, NEEDS, least_missing


@given(NEEDS, BAGS)
def test_from_nothing_to_the_least(needs: list[int], bags: list[int]) -> None:
    loads, proven = least(needs, bags, [[] for _ in needs], 0)
    assert proven
    assert missing(needs, loads) == least_missing(needs, bags)


@given(NEEDS, BAGS)
def test_prices_get_there_from_nothing_and_nothing_is_proven_by_doing_nothing(
    needs: list[int], bags: list[int]
) -> None:
    nothing: list[list[int]] = [[] for _ in needs]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bagleast, "_FIRST_WALK", 0)
        loads, proven = least(needs, bags, nothing, 0)
        assert proven
        assert missing(needs, loads) == least_missing(needs, bags)
        patch.setattr(bagleast, "_ENOUGH", 0)
        loads, proven = least(needs, bags, nothing, 0)
        assert not proven or missing(needs, loads) == least_missing(needs, bags)
