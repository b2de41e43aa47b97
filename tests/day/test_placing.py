"""Things moved on the floor: where they are then, by the geometry of the setup itself."""

from dataclasses import replace
from math import dist, hypot
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day import placing
from runbook.day.placing import Place, farther, feathered, higher, parts_of, put_at, read_place, turned
from runbook.files.errors import Path
from runbook.model.setup import Setup
from tests.day.days import demo

SETUP = demo().setups["keeper-window"]
LIGHT: Path = ("light", "A")
PANEL: Path = ("place_panel", "flat-1")


def with_values(setup: Setup, values: dict[Path, Any]) -> Setup:
    """The setup with these values in its lights, panels and sections."""
    for path, value in values.items():
        new = replace(parts_of(setup)[path[:-1]], **{str(path[-1]): value})
        if path[0] == "light":
            setup = replace(setup, lights=tuple(new if each.head == path[1] else each for each in setup.lights))
        elif path[0] == "place_panel":
            setup = replace(setup, panels=tuple(new if each.panel == path[1] else each for each in setup.panels))
        else:
            setup = replace(setup, **{str(path[0]): new})
    return setup


def spot(setup: Setup, path: Path) -> tuple[float, float]:
    at = parts_of(setup)[path].point(setup.subject.face_height_m)
    return at.x, at.y


@pytest.mark.parametrize("path", [LIGHT, PANEL])
def test_seventy_two_turns_of_five_degrees_come_back(path: Path) -> None:
    setup, seen = SETUP, set()
    for _ in range(72):
        setup = with_values(setup, turned(setup, path, 5))
        seen.add((parts_of(setup)[path].side, parts_of(setup)[path].angle_deg))
        assert hypot(*spot(setup, path)) == pytest.approx(hypot(*spot(SETUP, path)))
    assert spot(setup, path) == pytest.approx(spot(SETUP, path), abs=1e-6)
    assert len(seen) in {72, 74}  # straight ahead and straight behind have two names


def test_a_turn_to_the_right_goes_camera_right_in_front_of_the_subject() -> None:
    at = with_values(SETUP, turned(SETUP, LIGHT, 5))
    assert (at.light["A"].side, at.light["A"].angle_deg) == ("left", 40)
    assert spot(at, LIGHT)[0] > spot(SETUP, LIGHT)[0]
    facing = replace(SETUP, subject=replace(SETUP.subject, looks_at=None, facing_deg=0.0))
    assert turned(facing, ("subject",), 5) == {("subject", "facing_side"): "right", ("subject", "facing_deg"): 5}


def test_a_thing_is_raised_where_it_stands() -> None:
    at = with_values(SETUP, higher(SETUP, LIGHT, 0.1))
    assert at.light["A"].height_m == pytest.approx(SETUP.light["A"].height_m + 0.1)
    assert dist(spot(at, LIGHT), spot(SETUP, LIGHT)) < 0.01  # tape is kept to the centimetre


def test_what_does_not_move_says_so() -> None:
    with pytest.raises(ValueError, match="camera"):
        turned(SETUP, ("view",), 5)
    with pytest.raises(ValueError, match="background"):
        higher(SETUP, ("background",), 0.1)
    with pytest.raises(ValueError, match="subject"):
        farther(SETUP, ("subject",), 0.1)
    looking = replace(SETUP, subject=replace(SETUP.subject, looks_at="A"))
    with pytest.raises(ValueError, match="looks at A"):
        turned(looking, ("subject",), 5)


@settings(max_examples=40, deadline=None)
@given(st.floats(-4, 4), st.floats(-4, 4), st.sampled_from([LIGHT, PANEL]))
def test_a_thing_is_put_where_the_mouse_is(x: float, y: float, path: Path) -> None:
    """To half a degree, and half of 5 cm of tape: near the foot of a steep tape that is more over the floor."""
    if hypot(x, y) < 0.5:
        return
    at = with_values(SETUP, put_at(SETUP, path, x, y))
    assert dist(spot(at, path), (x, y)) < 0.13


def test_camera_and_background_keep_their_line() -> None:
    at = with_values(SETUP, put_at(SETUP, ("view",), 2.0, 3.0) | put_at(SETUP, ("background",), 2.0, -1.5))
    assert hypot(3.0, at.view.height_m - at.subject.face_height_m) == pytest.approx(at.view.distance_m, abs=0.03)
    assert at.background is not None
    assert at.background.distance_m == 1.5


def test_feathering_goes_through_the_aim_to_the_other_side() -> None:
    setup, turns = replace(SETUP, lights=(replace(SETUP.light["A"], feather_deg=0.0, feather_to=None),)), []
    for by in (5, 5, -5, -5, -5):
        setup = with_values(setup, feathered(setup, "A", by))
        turns.append((setup.light["A"].feather_deg, setup.light["A"].feather_to))
    assert turns == [(5, "camera"), (10, "camera"), (5, "camera"), (0, "camera"), (5, "background")]
    ahead = replace(setup, lights=(replace(SETUP.light["A"], angle_deg=0.0, feather_deg=0.0, feather_to=None),))
    assert feathered(ahead, "A", 5)["light", "A", "feather_to"] == "left"


@pytest.mark.parametrize(("text", "place"), [
    ("", Place("left", 45, 1.5, 1.85)), ("r", Place("right", 45, 1.5, 1.85)),
    ("right 30° 2", Place("right", 30, 2.0, 1.85)), ("left 45 1.4 2.0", Place("left", 45, 1.4, 2.0)),
    ("left 45 1.4 m 200 cm", Place("left", 45, 1.4, 2.0)), ("left 45 4 ft 6 in 6ft", Place("left", 45, 1.3716, 1.8288)),
])  # fmt: skip
def test_a_place_is_typed(text: str, place: Place) -> None:
    assert read_place(text, Place("left", 45, 1.5, 1.85), "metric") == place


def test_a_place_reads_back_as_it_is_put_to_be_changed() -> None:
    usual = Place("left", 45, 1.4986, 1.8542)  # 4 ft 11 in, 6 ft 1 in
    for units in ("metric", "imperial"):
        read = read_place(placing.place_text(usual, units), usual, units)
        assert (read.distance_m, read.height_m) == pytest.approx((1.4986, 1.8542), abs=0.006)


def test_a_light_from_behind_gets_the_grid_that_fits_and_follows_the_key() -> None:
    kit = demo().kit
    place = placing.usual_place(SETUP, "rim")
    assert place.side != SETUP.light["A"].side
    (grid,) = (each for each in kit.accessories if each.kind == "grid" and "dish-42" in each.fits)
    table, _ = placing.new_light(kit, SETUP, "rim", ("D", "dish-42"), place)
    assert table["accessories"] == [grid.id]
    assert table["under_key_stops"] == 0
    alone = replace(SETUP, lights=())
    table, _ = placing.new_light(kit, alone, "rim", ("D", "dish-42"), place)
    assert table["aim_reading_f"] == SETUP.exposure.f


def test_nothing_in_use_is_offered() -> None:
    kit = demo().kit
    assert not {"A", "B"} & {*placing.free(kit, SETUP, "head")}
    assert SETUP.light["A"].modifier not in placing.modifiers_for(kit, SETUP, "key")
    assert SETUP.light["A"].stand not in placing.stands_for(kit, SETUP)
    assert placing.stands_for(kit, replace(SETUP, lights=()))[-1] == "boom"
