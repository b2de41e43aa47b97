"""Marks and the exact values they stand for, and what is not a marked aperture."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.nominal_values import aperture_mark, aperture_stops, iso_stops, shutter_stops


@given(st.floats(-2, 14))
def test_a_reading_is_a_full_mark_and_less_than_a_stop(stops: float) -> None:
    mark, over = aperture_mark(stops)
    assert -1e-9 <= over < 1 or mark == "128"
    assert aperture_stops(float(mark)) + over == pytest.approx(stops)


def test_what_is_off_the_scale_counts_as_it_is_written() -> None:
    assert shutter_stops("1/180") == pytest.approx(log2(180))
    assert shutter_stops(" 1/160s ") == pytest.approx(7 + 1 / 3)
    assert aperture_stops(1.9) == pytest.approx(2 * log2(1.9))
    assert iso_stops(110) == pytest.approx(log2(1.1))
    assert iso_stops(125.5) == pytest.approx(log2(1.255))


@pytest.mark.parametrize("text", ["", "fast", "1/0", "0", "-1", "1/", "/60", "nan", "inf", "1/inf", "1/160/2", "1e999"])
def test_what_is_no_shutter_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a shutter time; write it like 1/160, 1/4 or 2"):
        shutter_stops(text)


@pytest.mark.parametrize("number", [0, -4, float("nan")])
def test_apertures_and_speeds_are_above_zero(number: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        aperture_stops(number)
    with pytest.raises(ValueError, match="above zero"):
        iso_stops(number)
