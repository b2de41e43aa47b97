import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light.stops import DARK, add_light, f_number, meter_text, stops_of

stops = st.floats(-20, 20)


@pytest.mark.parametrize(("reading", "shown"), [
    (5.3, "f/5.6 +0.3"), (5.0, "f/5.6"), (5.97, "f/8"), (4.96, "f/5.6"), (4.94, "f/4 +0.9"), (-1.5, "f/0.5 +0.5"),
    (-2.5, "under f/0.5"), (14.6, "f/128 +0.6"), (DARK, "no light"),
])  # fmt: skip
def test_a_reading_is_shown_as_a_meter_shows_it(reading: float, shown: str) -> None:
    assert meter_text(reading) == shown


def test_no_light_adds_nothing() -> None:
    assert add_light([]) == DARK
    assert add_light([DARK, 3.0, DARK]) == 3.0
    assert stops_of(0) == DARK


@given(st.lists(stops, min_size=1, max_size=6), stops)
def test_more_light_is_never_less(readings: list[float], more: float) -> None:
    total = add_light(readings)
    assert total >= max(readings) - 1e-12
    assert add_light([*readings, more]) >= total - 1e-12
    assert add_light(reversed(readings)) == pytest.approx(total, abs=1e-9)


@given(st.lists(stops, min_size=1, max_size=6), stops)
def test_all_a_stop_up_is_the_sum_a_stop_up(readings: list[float], up: float) -> None:
    lifted = add_light(reading + up for reading in readings)
    assert lifted == pytest.approx(add_light(readings) + up, abs=1e-9)


def test_light_far_below_the_brightest_does_not_vanish_into_an_error() -> None:
    assert add_light([2000.0, -2000.0]) == 2000.0


@given(stops)
def test_stops_and_f_numbers_go_there_and_back(reading: float) -> None:
    assert stops_of(f_number(reading) ** 2) == pytest.approx(reading, abs=1e-9)
