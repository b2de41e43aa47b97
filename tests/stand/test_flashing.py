from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.stand.flashing import flash_level, most_at_rate, most_in_a_second
from tests.stand.rigs import numbers

TIMES = st.lists(numbers(0, 5), max_size=20)


@given(TIMES)
def test_the_window_slides(times: list[float]) -> None:
    # thousandths of a second keep the half-open end exact
    ticks = [round(at * 1000) for at in times]
    slow = max((sum(start <= at < start + 1000 for at in ticks) for start in ticks), default=0)
    assert most_in_a_second([tick / 1000 for tick in ticks]) == slow


@given(TIMES, TIMES)
def test_another_unit_never_makes_fewer(one: list[float], two: list[float]) -> None:
    assert most_in_a_second(one + two) >= most_in_a_second(one)


@pytest.mark.parametrize(
    ("count", "level"), [(0, "fine"), (3, "fine"), (4, "warn"), (5, "ask everyone")]
)
def test_levels(count: int, level: str) -> None:
    assert flash_level(count) == level


@given(numbers(0.5, 12))
def test_the_rate_and_the_times_agree(rate: float) -> None:
    times = [n / rate for n in range(40)]
    assert most_at_rate(rate) == most_in_a_second(times)
