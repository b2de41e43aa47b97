"""The forms: everything a file can say has a line, and what is shown is read back."""

from __future__ import annotations

from pathlib import Path

import pytest

from runbook.files.form import Field, field_to_edit, label_of, missing, read_field, shown_field, wrong_with
from runbook.files.form_editor import Thing, form_of, outline
from runbook.files.validate import members
from runbook.model.day import Day
from runbook.model.kit import Head, Kit, Stand
from runbook.model.setup import Setup
from runbook.model.units import Units

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
TEXTS = {path.name: path.read_text("utf-8") for path in sorted(DEMO.glob("*.toml"))}
THINGS = outline(TEXTS)


def thing_of(kind: str, title: str) -> Thing:
    return next(each for each in THINGS if (each.kind, each.title) == (kind, title))


def form(kind: str, title: str) -> dict[tuple[object, ...], Field]:
    return {field.path: field for field in form_of(TEXTS, thing_of(kind, title))}


def shapes_in(cls: type) -> list[type]:
    inner = [member.shape for member in members(cls) if member.shape]
    return [cls, *(each for shape in inner for each in shapes_in(shape))]


@pytest.mark.parametrize("cls", [Kit, Day, Setup])
def test_every_key_of_the_files_has_a_line(cls: type) -> None:
    lines: dict[type, set[str]] = {}
    for thing in THINGS:
        for field in form_of(TEXTS, thing):
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
    found = form("setup", "widow-answer")
    power = found["light", "A", "power"]
    assert (power.origin, power.source, power.value) == ("inherited", "widow-letter", "1/32+0.7")
    assert found[("title",)].origin == "own"
    assert found["subject", "facing_deg"].origin == "default"
    assert found["light", "A", "under_key_stops"].origin == "none"
    assert found["place_panel", "card"].source == ""
    assert found["light", "A"].source == "widow-letter"
    assert found[("like",)].value == "widow-letter"
    assert found[("drop",)].choices == ("A", "flat-2")


def test_ids_are_chosen_from_what_there_is() -> None:
    found = form("setup", "widow-letter")
    assert "roller" in found["light", "A", "stand"].choices
    assert found["light", "A", "modifier"].choices[0] == "bare"
    assert found["light", "A", "aim"].choices == ("face", "background", "flat-2")
    assert found["place_panel", "flat-2", "face_to"].choices == ("face", "A")
    assert found["subject", "looks_at"].choices == ("A",)
    assert found["view", "lens"].choices == ("50", "85", "105")
    assert set(form("day", "the day")[("order",)].choices) == {
        name.removesuffix(".toml") for name in TEXTS if name not in ("day.toml", "kit.toml")
    }


def test_the_unit_is_shown_as_the_day_asks() -> None:
    stand = form("stand", "S1")
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
    stand = form("stand", "S1")
    with pytest.raises(ValueError, match="mass is required"):
        read_field(stand["stand", "S1", "mass_kg"], " ", "metric")
    assert read_field(stand["stand", "S1", "arm_m"], "", "metric") is None


def test_what_is_missing_or_wrong_in_an_incomplete_thing_is_known() -> None:
    assert missing(Head, {"id": "E"})[:2] == ["energy_ws", "guide_number_m"]
    assert wrong_with(Stand, {"id": "S", "legs": 99}, "legs") == "99 is too much; it must be at most 12"
    assert wrong_with(Stand, {"id": "S", "legs": 3}, "legs") == ""
