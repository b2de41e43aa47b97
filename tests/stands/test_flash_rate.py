from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stands.flash_rate import flash_level, flashes_in_a_second
from tests.stands.rigs import numbers


@pytest.mark.parametrize(("count", "level"), [(0, "fine"), (3, "fine"), (4, "warn"), (5, "ask everyone")])
def test_levels(count: int, level: str) -> None:
    assert flash_level(count) == level


@given(numbers(0.5, 12))
def test_the_rate_and_the_times_agree(rate: float) -> None:
    times = [n / rate for n in range(40)]
    assert flashes_in_a_second(rate) == sum(at < 1 - 1e-9 for at in times)
