"""The forms: everything a file can say has a line, and what is shown is read back."""

import datetime as dt
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from runbook.files import form
from runbook.files.form import Field, field_to_edit, label_of, missing, read_field, shown_field, wrong_with
from runbook.files.form_editor import Thing, form_of, outline
from runbook.files.validate import members
from runbook.model.day import Day
from runbook.model.kit import Head, Kit, Stand
from runbook.model.power import Dial, stops_below
from runbook.model.setup import Setup
from runbook.model.units import KG_PER_POUND, M_PER_INCH, Units, length, mass
from tests.files.demo import TEXTS

THINGS = outline(TEXTS)


def thing_of(kind: str, title: str) -> Thing:
    return next(each for each in THINGS if (each.kind, each.title) == (kind, title))


def form_by_path(kind: str, title: str) -> dict[tuple[object, ...], Field]:
    return {field.path: field for field in form_of(TEXTS, thing_of(kind, title))}


def shapes_in(cls: type) -> list[type]:
    inner = [member.shape for member in members(cls) if member.shape]
    return [cls, *(each for shape in inner for each in shapes_in(shape))]


@pytest.mark.parametrize("cls", [Kit, Day, Setup])
def test_every_key_of_the_files_has_a_line(cls: type) -> None:
    lines: dict[type, set[str]] = {}
    name = next(name for name in TEXTS if name not in ("day.toml", "kit.toml"))
    texts = TEXTS | {name: f'{TEXTS[name]}\n[[hang]]\ncloth = "voile"\n'}
    for thing in THINGS:
        for field in form_of(texts, thing):
            if field.kind != "heading":
                way = [part for part in field.path[:-1] if isinstance(part, str)]
                inside = thing.shape
                for part in way[:1] if thing.path in ((), None) else []:
                    member = next(each for each in members(inside) if each.key == part)
                    inside = member.shape or inside
                lines.setdefault(inside, set()).add(field.key)
    for shape in shapes_in(cls):
        keys = {member.key for member in members(shape) if not member.shape}
        assert keys <= lines.get(shape, set()), shape


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_a_value_to_edit_reads_back_unchanged(units: Units) -> None:
    for thing in THINGS:
        for field in form_of(TEXTS, thing):
            if field.kind == "heading" or field.value in (None, "", []):
                continue
            back = read_field(field, field_to_edit(field, units), units)
            if isinstance(field.value, float):
                assert back == pytest.approx(field.value, abs=5e-4), field
            else:
                assert back == field.value, field
            assert shown_field(field, units)


def test_lines_show_where_their_values_come_from() -> None:
    found = form_by_path("setup", "widow-answer")
    power = found["light", "A", "power"]
    assert (power.origin, power.source, power.value) == ("inherited", "widow-letter", "1/32+0.7")
    assert found[("title",)].origin == "own"
    assert found["subject", "facing_deg"].origin == "default"
    assert found["light", "A", "under_key_stops"].origin == "none"
    assert found["place_panel", "card"].source == ""
    assert found["light", "A"].source == "widow-letter"
    assert found[("like",)].value == "widow-letter"
    assert found[("drop",)].choices == ("A", "vee")


def test_ids_are_chosen_from_what_there_is() -> None:
    found = form_by_path("setup", "widow-letter")
    assert "roller" in found["light", "A", "stand"].choices
    assert found["light", "A", "modifier"].choices[0] == "bare"
    assert found["light", "A", "aim"].choices == ("face", "background", "vee")
    assert found["place_panel", "vee", "face_to"].choices == ("face", "A")
    assert found["subject", "looks_at"].choices == ("A",)
    assert found["view", "lens"].choices == ("50", "85", "105")
    assert set(form_by_path("day", "the day")[("order",)].choices) == {
        name.removesuffix(".toml") for name in TEXTS if name not in ("day.toml", "kit.toml")
    }


def test_the_unit_is_shown_as_the_day_asks() -> None:
    stand = form_by_path("stand", "S1")
    height = stand["stand", "S1", "height_max_m"]
    assert shown_field(height, "metric") == "2.8 m"
    assert shown_field(height, "imperial") == "9 ft 2 in"
    assert shown_field(stand["stand", "S1", "mass_kg"], "imperial") == "6.8 lb"
    assert read_field(height, "9'", "metric") == pytest.approx(2.7432)


def test_names_of_keys_lose_their_units_and_no_more() -> None:
    for key, label in (
        ("distance_m", "distance"), ("height_min_m", "height min"), ("shoot_min", "shoot"),
        ("power_min", "least power"), ("sensor_mm", "sensor"), ("mired_shift", "mired shift"),
        ("recycle_min_s", "recycle min"), ("iso_min", "least ISO"), ("f_min", "widest aperture"),
    ):  # fmt: skip
        assert label_of(key) == label


def test_a_key_that_must_be_there_cannot_be_left_empty() -> None:
    stand = form_by_path("stand", "S1")
    with pytest.raises(ValueError, match="mass is required"):
        read_field(stand["stand", "S1", "mass_kg"], " ", "metric")
    assert read_field(stand["stand", "S1", "arm_m"], "", "metric") is None


def test_what_is_missing_or_wrong_in_an_incomplete_thing_is_known() -> None:
    assert missing(Head, {"id": "E"})[:2] == ["energy_ws", "guide_number_m"]
    assert wrong_with(Stand, {"id": "S", "legs": 99}, "legs") == "99 is too much; it must be at most 12"
    assert wrong_with(Stand, {"id": "S", "legs": 3}, "legs") == ""


# -- what is typed ------------------------------------------------------------------------------

UNITS = st.sampled_from(["metric", "imperial"])
THIRDS = Dial(Fraction(1, 3), stops_below("1/128", Fraction(1, 3)))


def test_a_bare_number_is_in_the_units_of_the_day() -> None:
    assert form.read_length("5", "metric") == 5
    assert form.read_length("5", "imperial") == pytest.approx(5 * 12 * M_PER_INCH, abs=5e-5)
    assert form.read_mass("15", "metric") == 15
    assert form.read_mass("15", "imperial") == pytest.approx(15 * KG_PER_POUND, abs=5e-4)
    assert form.read_length("1.4 m", "imperial") == 1.4


@given(st.floats(0.01, 100), UNITS)
@example(0.3048 * 5 - 1e-9, "imperial")
def test_a_length_shown_is_read_back_as_near_as_it_was_shown(metres: float, units: Units) -> None:
    half = 0.005 if units == "metric" else M_PER_INCH / 2
    assert abs(form.read_length(length(metres, units), units) - metres) <= half + 5e-5
    exact = form.read_length(form.length_to_edit(metres, units), units)
    assert exact == metres if units == "metric" else abs(exact - metres) < 1e-4


@given(st.floats(0.05, 500), UNITS)
def test_a_mass_shown_is_read_back_as_near_as_it_was_shown(kilos: float, units: Units) -> None:
    half = 0.05 if units == "metric" else 0.05 * KG_PER_POUND
    assert abs(form.read_mass(mass(kilos, units), units) - kilos) <= half + 5e-4 + 1e-9
    exact = form.read_mass(form.mass_to_edit(kilos, units), units)
    assert exact == kilos if units == "metric" else abs(exact - kilos) < 1e-3


@given(st.integers(0, 300), UNITS)
def test_whole_inches_come_back_as_they_went(inches: int, units: Units) -> None:
    metres = form.read_length(f"{inches} in", units)
    feet, rest = divmod(inches, 12)
    assert length(metres, "imperial") == (f"{feet} ft {rest} in" if feet else f"{rest} in")
    assert form.read_length(f"{feet} ft {rest} in") == metres


@pytest.mark.parametrize(("read", "text", "value"), [
    (form.read_time, "8", dt.time(8)), (form.read_time, "08.30", dt.time(8, 30)),
    (form.read_time, "1430", dt.time(14, 30)), (form.read_time, "6 pm", dt.time(18)),
    (form.read_time, "12 am", dt.time(0)), (form.read_time, "8:00:15", dt.time(8, 0, 15)),
    (form.read_date, "2026-12-04", dt.date(2026, 12, 4)), (form.read_aperture, "f/5.6", 5.6),
    (form.read_aperture, "F 5,6", 5.6), (form.read_shutter, "1/160 s", "1/160"),
    (form.read_shutter, "2", "2"), (form.read_yes, "Yes", True),
    (form.read_yes, "false", False), (form.read_whole, " 36 ", 36),
    (form.read_id, "octa-90 ", "octa-90"), (form.read_pair, "36 x 24", [36.0, 24.0]),
    (form.read_pair, "36,5 24", [36.5, 24.0]),
    *((form.read_length, text, 1.3716) for text in ("4 ft 6 in", "4'6\"", "4' 6", "4′6″", "54 in", "4.5 feet")),
    (form.read_length, "4ft", 1.2192), *((form.read_length, text, 1.4) for text in (
        "1.4 m", "1,4", "1.4", "140 cm", "1400mm",
    )), (form.read_length, ".5", 0.5), (form.read_length, " 2 M ", 2.0),
    (form.read_mass, "15 lb", 6.804), (form.read_mass, "15lbs", 6.804), (form.read_mass, "7 kg", 7.0),
    (form.read_mass, "6,8", 6.8), (form.read_mass, "900 g", 0.9), (form.read_mass, "2 lb 4 oz", 1.021),
])  # fmt: skip
def test_other_values_are_read(read: Callable[[str], Any], text: str, value: Any) -> None:
    assert read(text) == value


@pytest.mark.parametrize(("read", "text", "do"), [
    (form.read_length, "four", "1.4 m or 4 ft 6 in"), (form.read_length, "", "nothing"),
    (form.read_length, "4 kg", "1.4 m"), (form.read_length, "4 ft -6 in", "1.4 m"),
    (lambda text: form.read_length(text, "imperial"), "1.5.5", "4 ft 6 in"),
    (form.read_mass, "4 m", "7 kg or 15 lb"), (form.read_mass, "4 kg 3", "7 kg"),
    (form.read_time, "25:00", "14:30"), (form.read_time, "8:61", "14:30"),
    (form.read_date, "4.12.2026", "2026-12-04"), (form.read_aperture, "0", "f/5.6"),
    (form.read_shutter, "fast", "1/160"), (form.read_yes, "maybe", "yes or no"),
    (form.read_whole, "1.5", "36"), (form.read_id, "a b", "letters"),
    (form.read_pair, "3", "36 x 24"), (form.read_number, "x", "number"),
])  # fmt: skip
def test_what_is_wrong_is_answered_with_what_would_be_right(read: Callable[[str], Any], text: str, do: str) -> None:
    with pytest.raises(ValueError, match=do):
        read(text)


def test_a_number_may_bear_its_unit() -> None:
    assert form.read_number("45°", "deg") == form.read_number("45 deg", "deg") == 45
    assert form.read_number("25 min", "min") == 25
    with pytest.raises(ValueError, match=r"1\.5 min"):
        form.read_number("25 s", "min")


def test_a_power_is_read_on_its_own_dial() -> None:
    assert form.read_power(" 1/8 +0,3", THIRDS) == "1/8+0.3"
    assert form.read_power("Solve", THIRDS) == "solve"
    with pytest.raises(ValueError, match="nearest click"):
        form.read_power("1/8+0.4", THIRDS)
    with pytest.raises(ValueError, match="least"):
        form.read_power("1/256", THIRDS)


def test_ids_are_taken_from_what_there_is() -> None:
    there = ("B1", "B2", "B10")
    assert form.read_ids("B1, b2 B10", there, "bag") == ["B1", "B2", "B10"]
    assert form.read_ids("", there, "bag") == []
    assert form.read_choice("por", ("portrait", "landscape")) == "portrait"
    with pytest.raises(ValueError, match="not a bag; there are B1, B10, B2"):
        form.read_ids("B3", there, "bag")
    with pytest.raises(ValueError, match="not a bag"):
        form.read_choice("B", there, "bag")
