"""Lengths, masses and the rest as people type them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from runbook.files import parse_input
from runbook.model.power import Dial, stops_below
from runbook.model.units import KG_PER_POUND, M_PER_INCH, Units, length, mass

UNITS = st.sampled_from(["metric", "imperial"])
THIRDS = Dial(Fraction(1, 3), stops_below("1/128", Fraction(1, 3)))


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("4 ft 6 in", 1.3716), ("4'6\"", 1.3716), ("4' 6", 1.3716), ("4′6″", 1.3716), ("54 in", 1.3716),
        ("4.5 feet", 1.3716), ("4ft", 1.2192), ("1.4 m", 1.4), ("1,4", 1.4), ("1.4", 1.4), (".5", 0.5),
        ("140 cm", 1.4), ("1400mm", 1.4), (" 2 M ", 2.0),
    ],
)  # fmt: skip
def test_a_length_is_read_either_way(text: str, metres: float) -> None:
    assert parse_input.read_length(text) == pytest.approx(metres, abs=1e-9)


def test_a_bare_number_is_in_the_units_of_the_day() -> None:
    assert parse_input.read_length("5", "metric") == 5
    assert parse_input.read_length("5", "imperial") == pytest.approx(5 * 12 * M_PER_INCH, abs=5e-5)
    assert parse_input.read_mass("15", "metric") == 15
    assert parse_input.read_mass("15", "imperial") == pytest.approx(15 * KG_PER_POUND, abs=5e-4)
    assert parse_input.read_length("1.4 m", "imperial") == 1.4


@given(st.floats(0.01, 100), UNITS)
@example(0.3048 * 5 - 1e-9, "imperial")
def test_a_length_shown_is_read_back_as_near_as_it_was_shown(metres: float, units: Units) -> None:
    half = 0.005 if units == "metric" else M_PER_INCH / 2
    assert abs(parse_input.read_length(length(metres, units), units) - metres) <= half + 5e-5
    exact = parse_input.read_length(parse_input.length_to_edit(metres, units), units)
    assert exact == metres if units == "metric" else abs(exact - metres) < 1e-4


@given(st.floats(0.05, 500), UNITS)
def test_a_mass_shown_is_read_back_as_near_as_it_was_shown(kilos: float, units: Units) -> None:
    half = 0.05 if units == "metric" else 0.05 * KG_PER_POUND
    assert abs(parse_input.read_mass(mass(kilos, units), units) - kilos) <= half + 5e-4 + 1e-9
    exact = parse_input.read_mass(parse_input.mass_to_edit(kilos, units), units)
    assert exact == kilos if units == "metric" else abs(exact - kilos) < 1e-3


@given(st.integers(0, 300), UNITS)
def test_whole_inches_come_back_as_they_went(inches: int, units: Units) -> None:
    metres = parse_input.read_length(f"{inches} in", units)
    feet, rest = divmod(inches, 12)
    assert length(metres, "imperial") == (f"{feet} ft {rest} in" if feet else f"{rest} in")
    assert parse_input.read_length(f"{feet} ft {rest} in") == metres


@pytest.mark.parametrize(
    ("text", "kilos"),
    [("15 lb", 6.804), ("15lbs", 6.804), ("7 kg", 7.0), ("6,8", 6.8), ("900 g", 0.9), ("2 lb 4 oz", 1.021)],
)
def test_a_mass_is_read_either_way(text: str, kilos: float) -> None:
    assert parse_input.read_mass(text) == kilos


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (parse_input.read_time, "8", dt.time(8)), (parse_input.read_time, "08.30", dt.time(8, 30)),
        (parse_input.read_time, "1430", dt.time(14, 30)), (parse_input.read_time, "6 pm", dt.time(18)),
        (parse_input.read_time, "12 am", dt.time(0)), (parse_input.read_time, "8:00:15", dt.time(8, 0, 15)),
        (parse_input.read_date, "2026-12-04", dt.date(2026, 12, 4)), (parse_input.read_aperture, "f/5.6", 5.6),
        (parse_input.read_aperture, "F 5,6", 5.6), (parse_input.read_shutter, "1/160 s", "1/160"),
        (parse_input.read_shutter, "2", "2"), (parse_input.read_yes, "Yes", True),
        (parse_input.read_yes, "false", False), (parse_input.read_whole, " 36 ", 36),
        (parse_input.read_id, "octa-90 ", "octa-90"), (parse_input.read_pair, "36 x 24", [36.0, 24.0]),
        (parse_input.read_pair, "36,5 24", [36.5, 24.0]),
    ],
)  # fmt: skip
def test_other_values_are_read(read: Callable[[str], Any], text: str, value: Any) -> None:
    assert read(text) == value


@pytest.mark.parametrize(
    ("read", "text", "do"),
    [
        (parse_input.read_length, "four", "1.4 m or 4 ft 6 in"), (parse_input.read_length, "", "nothing"),
        (parse_input.read_length, "4 kg", "1.4 m"), (parse_input.read_length, "4 ft -6 in", "1.4 m"),
        (lambda text: parse_input.read_length(text, "imperial"), "1.5.5", "4 ft 6 in"),
        (parse_input.read_mass, "4 m", "7 kg or 15 lb"), (parse_input.read_mass, "4 kg 3", "7 kg"),
        (parse_input.read_time, "25:00", "14:30"), (parse_input.read_time, "8:61", "14:30"),
        (parse_input.read_date, "4.12.2026", "2026-12-04"), (parse_input.read_aperture, "0", "f/5.6"),
        (parse_input.read_shutter, "fast", "1/160"), (parse_input.read_yes, "maybe", "yes or no"),
        (parse_input.read_whole, "1.5", "36"), (parse_input.read_id, "a b", "letters"),
        (parse_input.read_pair, "3", "36 x 24"), (parse_input.read_number, "x", "number"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_answered_with_what_would_be_right(read: Callable[[str], Any], text: str, do: str) -> None:
    with pytest.raises(ValueError, match=do):
        read(text)


def test_a_number_may_bear_its_unit() -> None:
    assert parse_input.read_number("45°", "deg") == parse_input.read_number("45 deg", "deg") == 45
    assert parse_input.read_number("25 min", "min") == 25
    with pytest.raises(ValueError, match=r"1\.5 min"):
        parse_input.read_number("25 s", "min")


def test_a_power_is_read_on_its_own_dial() -> None:
    assert parse_input.read_power(" 1/8 +0,3", THIRDS) == "1/8+0.3"
    with pytest.raises(ValueError, match="nearest click"):
        parse_input.read_power("1/8+0.4", THIRDS)
    with pytest.raises(ValueError, match="least"):
        parse_input.read_power("1/256", THIRDS)


def test_ids_are_taken_from_what_there_is() -> None:
    there = ("B1", "B2", "B10")
    assert parse_input.read_ids("B1, b2 B10", there, "bag") == ["B1", "B2", "B10"]
    assert parse_input.read_ids("", there, "bag") == []
    assert parse_input.read_choice("por", ("portrait", "landscape")) == "portrait"
    with pytest.raises(ValueError, match="no bag; there are B1, B10, B2"):
        parse_input.read_ids("B3", there, "bag")
    with pytest.raises(ValueError, match="no bag"):
        parse_input.read_choice("B", there, "bag")
