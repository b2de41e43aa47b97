"""What a person types at the set."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day.parse_input import (
    parse_break,
    parse_frames,
    parse_reading,
    parse_time,
    parse_wind,
    parse_words,
    reading_options,
)
from runbook.model.nominal_values import APERTURE_MARKS


@pytest.mark.parametrize(
    ("typed", "stops"),
    [
        ("5.6", 5.0), ("f/5.6", 5.0), ("F 5.6", 5.0), ("5,6", 5.0), ("5.6 3", 5.3), ("5.6 +0.3", 5.3),
        ("5.6+.3", 5.3), ("8 -0.2", 5.8), ("4", 4.0), ("6.3", 16 / 3), ("  2.8  ", 3.0),
    ],
)  # fmt: skip
def test_readings_as_a_meter_shows_them(typed: str, stops: float) -> None:
    assert parse_reading(typed) == pytest.approx(stops)


def test_a_number_between_the_marks_counts_as_it_is() -> None:
    assert parse_reading("6.7") == pytest.approx(5.5)  # a half-stop mark
    assert parse_reading("5.5") == pytest.approx(4.9189, abs=1e-3)  # 2 log2 5.5


@pytest.mark.parametrize(
    ("typed", "tenths", "aperture"),
    [
        ("8.3", 6.3, 6.106), ("8,3", 6.3, 6.106), ("11.3", 7.3, 6.996), ("5.63", 5.3, 4.986),
        ("2.3", 2.3, 2.403), ("1.3", 0.3, 0.757),
    ],
)  # fmt: skip
def test_a_number_that_may_be_a_mark_with_tenths_has_two_meanings(typed: str, tenths: float, aperture: float) -> None:
    meanings = [meaning.stops for meaning in reading_options(typed)]
    assert meanings == pytest.approx([tenths, aperture], abs=1e-3)
    with pytest.raises(ValueError, match="may be"):
        parse_reading(typed)
    assert parse_reading(f"f/{typed}") == pytest.approx(aperture, abs=1e-3)


@given(st.sampled_from(sorted(APERTURE_MARKS)))
def test_a_mark_has_one_meaning(mark: float) -> None:
    assert [meaning.stops for meaning in reading_options(f"{mark:g}")] == [APERTURE_MARKS[mark]]


@pytest.mark.parametrize("typed", ["", "five", "5.6 13", "0.1", "999", "5.55 3", "5.6 + 0.33"])
def test_an_invalid_reading_is_refused_with_an_example(typed: str) -> None:
    with pytest.raises(ValueError, match=r"reading|mark"):
        parse_reading(typed)


def test_frames() -> None:
    assert parse_frames(" 36 ") == 36
    assert parse_frames("-4") == -4
    for typed in ("", "0", "many", "123456"):
        with pytest.raises(ValueError, match=r"count|whole number"):
            parse_frames(typed)


def test_words_are_trimmed_and_never_empty() -> None:
    assert parse_words("  two   words ") == "two words"
    assert len(parse_words("x" * 900)) == 500
    with pytest.raises(ValueError, match="a few words"):
        parse_words("  \t ")


@pytest.mark.parametrize(
    ("typed", "gust"),
    [
        ("6", 6.0), ("6,5 m/s", 6.5), ("18 km/h", 5.0), ("10 mph", 4.4704), ("10kn", 5.1444), ("force 4", 7.9),
        ("Bft 0", 0.2), ("force 12", 32.7),
    ],
)  # fmt: skip
def test_a_wind_as_people_say_it(typed: str, gust: float) -> None:
    # 1 mph = 0.44704 m/s and 1 kn = 1852/3600 m/s, exact by definition; Beaufort's ends: WMO
    assert parse_wind(typed) == pytest.approx(gust, abs=1e-4)


def test_a_bare_number_is_in_miles_on_an_imperial_day() -> None:
    assert parse_wind("10", "imperial") == pytest.approx(4.4704)
    assert parse_wind("10 m/s", "imperial") == 10.0


@pytest.mark.parametrize("typed", ["", "breezy", "force 13", "force 4 kn", "6 stops", "900", "-3"])
def test_no_wind_at_all(typed: str) -> None:
    with pytest.raises(ValueError, match="force"):
        parse_wind(typed)


@pytest.mark.parametrize(("text", "due"), [("13:40", "13:40"), ("9.15", "09:15"), ("14", "14:00"), (" 7h05 ", "07:05")])
def test_a_time_of_day_is_read(text: str, due: str) -> None:
    assert parse_time(text) == due


@pytest.mark.parametrize("text", ["", "24:00", "13:60", "soon"])
def test_what_is_no_time_of_day_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="time of day"):
        parse_time(text)


def test_an_unplanned_break_is_read_with_its_minutes_and_reason() -> None:
    assert parse_break("20  fire alarm") == (20, "fire alarm")


@pytest.mark.parametrize("text", ["", "20", "fire alarm", "0 rain", "601 rain", "-5 rain"])
def test_an_unplanned_break_wants_minutes_and_a_reason(text: str) -> None:
    with pytest.raises(ValueError, match="minutes"):
        parse_break(text)
