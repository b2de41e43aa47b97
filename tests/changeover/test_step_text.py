"""The wording of steps and blocks."""

from dataclasses import replace
from fractions import Fraction
from math import atan2, degrees, hypot, sqrt

import pytest

from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.step_text import Scene, blocks, stops_text
from runbook.model.geometry import BODY_M
from runbook.model.kit import Kit
from runbook.model.power import OFF, Power
from runbook.model.setup import Background, Light, PanelPlace, Setup, Subject
from runbook.model.units import Units
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_floor import KEY, KIT, RAIL, held, setup

BOOMS = kit_of((True, False, False, False, True), (False,) * 5)
BARE = replace(KEY, modifier="bare", accessories=(), through=(), height_m=1.25)


def texts(start: Floor | Setup, goal: Setup | None, kit: Kit = KIT, units: Units = "metric") -> list[str]:
    """The texts of a changeover."""
    before = floor_of(start, kit) if isinstance(start, Setup) else start
    after = floor_of(goal, kit) if goal else EMPTY
    return [step.text for step in worded_changeover(before, after, Scene(kit, goal, units), PLACE)]


QUARTER, EIGHTH = Power(Fraction(2)), Power(Fraction(3))


def test_a_change_of_power_gives_stops_and_clicks() -> None:
    for stops, words in (
        ("1", "1 stop"), ("-2", "2 stops"), ("1/3", "1/3 stop"), ("4/3", "1 1/3 stops"), ("7/10", "0.7 stops")
    ):  # fmt: skip
        assert stops_text(Fraction(stops)) == words
    # common practice, no source: a quarter to an eighth is one stop
    for old, new, step in (
        (QUARTER, EIGHTH, "from 1/4 to 1/8 (1 stop, 3 clicks down)"),
        (EIGHTH, QUARTER, "from 1/8 to 1/4 (1 stop, 3 clicks up)"),
        (OFF, EIGHTH, "to 1/8 (was off)"),
        (EIGHTH, OFF, "to off"),
    ):
        words = texts(setup(replace(KEY, power=old)), setup(replace(KEY, power=new)))
        assert f"Set A {step}" in words
        assert words[-1] == "Test flash: meter, then check the frame"


def test_a_wrap_sends_the_talent_off_first_and_keeps_the_bag_until_the_head_is_off() -> None:
    words = texts(setup(KEY), None)
    off = ["Send the talent off set", "Take A off S0 and put it in its case", "Take B0 off S0", "Take S0 off set"]
    assert words[0] == off[0]
    assert [text for text in words if text in off] == off


@pytest.mark.parametrize(("start", "goal", "kit", "first"), [
    (setup(KEY), setup(KEY, subject=Subject(1.25, looks_at="A")), KIT, "Pose the talent: looking at A, face at 1.25 m"),
    (EMPTY, setup(KEY), BOOMS, "Place S0 at camera-left 90°, head at 1.25 m"),  # a boom goes where its head is
])  # fmt: skip
def test_the_first_step_of_a_changeover(start: Setup | Floor, goal: Setup, kit: Kit, first: str) -> None:
    assert texts(start, goal, kit)[0] == first


def test_a_load_in_reads_from_the_stand_up_and_folds_into_blocks() -> None:
    goal = setup(KEY)
    steps = worded_changeover(EMPTY, floor_of(goal, KIT), Scene(KIT, goal), PLACE)
    assert [step.text for step in steps] == [
        "Place S0 at camera-left 90°, column 1.55 m from the mark (tape 1.25 m)", "Hang B0 (7 kg) on S0", "Fit A on S0",
        "Fit M0 on A", "Fit G0 on M0", "Hang V in front of A", "Aim A at the face, 37° down", "Raise S0 to 2.0 m",
        "Set A to 1/8", "Switch A on: it will fire", "Camera: fit the 85 mm lens",
        "Camera: move to 2.5 m from the face, 1.5 m high, portrait", "Camera: set f/4, 1/160, ISO 100",
        "Bring the talent to the mark, looking at the camera, face at 1.25 m",
        "Test flash: meter, then check the frame",
    ]  # fmt: skip
    first, *rest = blocks(steps, Scene(KIT, goal))
    assert first.title == "A: on S0, M0, G0, V, left 90°, 1.25 m, up to 2.0 m, 1/8, B0"
    assert [block.thing for block in rest] == ["camera", "subject", "set"]
    assert sum(len(block.steps) for block in (first, *rest)) == len(steps)
    back = worded_changeover(floor_of(goal, KIT), EMPTY, Scene(KIT, None), PLACE)
    (part,) = blocks([step for step in back if step.verb in ("disarm", "unbag")], Scene(KIT, None))
    assert part.title == "A: switch off, take B0 off S0"
    imperial = texts(EMPTY, goal, units="imperial")
    assert imperial[0] == "Place S0 at camera-left 90°, column 5 ft 1 in from the mark (tape 4 ft 1 in)"


@pytest.mark.parametrize(("start", "goal", "text"), [
    # by hand: 1.25 m of tape over 0.75 m up is 1 m on the floor; the box is 0.45 m deep, and the
    # middle of the head's body 0.1 m behind it
    (
        None,
        replace(KEY, leg_under_load=True),
        "Place S0 at camera-left 90°, column 1.55 m from the mark, one leg under the load (tape 1.25 m)",
    ),
    # 0.75 m of tape, level: the head alone is 0.1 m behind it
    (
        BARE,
        replace(BARE, angle_deg=180.0, distance_m=0.75),
        "Move S0 to directly behind the subject, column 0.85 m from the mark (tape 0.75 m)",
    ),
    # 2.01 m of tape over 0.2 m up is 2 m on the floor: the column is where the figures say
    (None, replace(BARE, distance_m=2.0, height_m=1.45), "Place S0 at camera-left 90°, 2.0 m"),
    # at a flat 1 m before the face: from 1 m side-on the head looks forward, its column is behind
    (None, replace(KEY, aim="P1"), "Place S0 at camera-left 106°, column 1.44 m from the mark (tape 1.25 m, left 90°)"),
])  # fmt: skip
def test_a_stand_goes_where_its_column_belongs_and_not_to_the_end_of_the_tape(start, goal, text):
    flats = (PanelPlace("P1", "left", 0.0, 1.0, 1.25),)
    before = EMPTY if start is None else setup(start, panels=flats)
    assert text in texts(before, setup(goal, panels=flats))


@pytest.mark.parametrize(("height_m", "lamp_was_m", "lamp_m", "text"), [
    # KIT's panels are 2.4 m tall: at 1.2 m the lower edge is on the floor, and they stand upright
    (1.2, None, 2.4, "Place P0 at camera-right 80°, 1.0 m, facing A"),
    (1.2, 2.4, 1.2, "Turn P0 to face A"),
    # the lamp is 0.49 m left of under the face, the panel 0.94 m right: 0.8 m up in 1.42 m is 29°
    (1.6, None, 2.4, "Place P0 at camera-right 80°, 1.0 m, facing A, tilted 30° up"),
    (1.6, 2.4, 1.6, "Turn P0 to face A"),
    (1.6, 2.4, 1.4, "Turn P0 to face A, tilted 5° down"),
])  # fmt: skip
def test_a_panel_held_up_is_tilted(height_m: float, lamp_was_m: float | None, lamp_m: float, text: str) -> None:
    def lit(up_m: float) -> Setup:
        lamp = replace(KEY, through=(), height_m=up_m)
        return setup(lamp, panels=(PanelPlace("P0", "right", 80.0, 1.0, height_m, "A"),))

    words = texts(EMPTY if lamp_was_m is None else lit(lamp_was_m), lit(lamp_m))
    assert [each for each in words if "P0" in each] == [text]


@pytest.mark.parametrize(("leg_under_load", "turn", "legs"), [
    (False, "one leg straight away from the load", {"on the leg straight away from the load"}),
    (True, "one leg under the load", {"on one", "on the other"}),  # two legs are far: a bag on each
])  # fmt: skip
def test_steps_name_the_far_leg_and_the_turn_that_goes_with_it(leg_under_load: bool, turn: str, legs: set[str]) -> None:
    light = replace(KEY, bags=("B0", "B1"), bags_at="far legs", leg_under_load=leg_under_load)
    place, *rest = texts(EMPTY, setup(light))
    assert turn in place
    assert {text.split(", ")[1].split(" of ")[0] for text in rest if text.startswith("Hang B")} == legs


# --- the column of a stand that keeps its place

DEPTHS = {"M0": 0.5, "M1": 0.1, "M2": 0.45}
DEEP = replace(KIT, modifiers=tuple(replace(box, depth_m=DEPTHS.get(box.id, 0.0)) for box in KIT.modifiers))
LEVEL = replace(KEY, accessories=(), through=(), height_m=1.55)
ACROSS = replace(LEVEL, aim="background")


def load_texts(before: Light, after: Light, kit: Kit = DEEP) -> list[str]:
    """The steps that change the load of a light, a metre and a quarter to the left of a face as high."""
    first, goal = (setup(light, background=Background(1.25), subject=Subject(1.55)) for light in (before, after))
    return [text for text in texts(first, goal, kit) if text.startswith(("Aim", "Fit M", "Take M"))]


def test_a_head_that_turns_on_its_spot_says_where_its_column_goes() -> None:
    # the front stays 1.25 m to the left of the mark; the background is as far behind the face, so
    # the head turns 45 degrees and its column swings out to the side and towards the camera
    back_m = (0.5 + BODY_M / 2) / sqrt(2)
    away_m, at_deg = hypot(1.25 + back_m, back_m), degrees(atan2(1.25 + back_m, back_m))
    column = f"camera-left {at_deg:.0f}°, column {away_m:.2f} m from the mark (tape 1.25 m, left 90°)"
    assert load_texts(LEVEL, ACROSS) == [f"Aim A at the background, level; then move S0 to {column}"]
    assert load_texts(ACROSS, LEVEL)[0].startswith("Aim A at the face, level; then move S0 to camera-left 90°, ")


def test_a_feathered_head_is_aimed_then_turned() -> None:
    (aim,) = load_texts(LEVEL, replace(LEVEL, feather_deg=20.0, feather_to="camera"))
    assert aim.startswith("Aim A at the face, level, then turn it 20° to the camera; then move S0 to ")
    (back,) = load_texts(replace(LEVEL, feather_deg=20.0, feather_to="background"), LEVEL)
    assert back.startswith("Aim A at the face, level; then move S0 to camera-left 90°, ")


def test_a_modifier_of_another_depth_says_where_its_column_goes() -> None:
    flat, deep = "camera-left 90°, column 1.45 m", "camera-left 90°, column 1.85 m"
    (*_, fit) = [text for text in load_texts(LEVEL, replace(LEVEL, modifier="M1")) if text.startswith("Fit")]
    assert fit == f"Fit M1 on A; then move S0 to {flat} from the mark (tape 1.25 m)"
    (fit, *_) = [text for text in load_texts(replace(LEVEL, modifier="M1"), LEVEL) if text.startswith("Fit")]
    assert fit == f"Fit M0 on A; then move S0 to {deep} from the mark (tape 1.25 m)"
    bare = load_texts(LEVEL, replace(LEVEL, modifier="bare"))
    assert bare[0] == "Take M0 off A; then move S0 to camera-left 90°, column 1.35 m from the mark (tape 1.25 m)"


@pytest.mark.parametrize(("before", "after", "kit"), [
    (LEVEL, replace(LEVEL, modifier="M2"), DEEP),  # a hand's breadth
    (replace(LEVEL, modifier="bare"), replace(ACROSS, modifier="bare"), DEEP),
    (LEVEL, replace(ACROSS, angle_deg=60.0), DEEP),  # it goes elsewhere as it is
    (LEVEL, ACROSS, replace(DEEP, stands=BOOMS.stands)),
])  # fmt: skip
def test_a_column_that_stays_or_goes_elsewhere_is_not_named(before: Light, after: Light, kit: Kit) -> None:
    assert not any("then" in text for text in load_texts(before, after, kit))


WINGED = replace(KIT, panels=tuple(replace(panel, wings=2) for panel in KIT.panels))


def test_a_pair_of_wings_is_opened_turned_and_closed() -> None:
    def stands(**more: object) -> Setup:
        place = PanelPlace("P0", "right", 80.0, 1.0, 1.2)
        return setup(replace(KEY, through=()), panels=(replace(place, **more),))  # type: ignore[arg-type]

    def words(start: Floor | Setup, goal: Setup) -> list[str]:
        return [each for each in texts(start, goal, WINGED) if "P0" in each]

    wide = stands(open_deg=120.0)
    assert words(EMPTY, stands()) == ["Place P0 at camera-right 80°, 1.0 m, open to 90°"]
    assert words(stands(), wide) == ["Open P0 to 120°"]
    assert words(wide, stands(open_deg=0.0)) == ["Close P0"]
    assert words(wide, stands(open_deg=120.0, face_to="A")) == ["Turn P0 to face A, open to 120°"]
    assert words(wide, stands(open_deg=120.0, distance_m=1.5)) == ["Move P0 to camera-right 80°, 1.5 m, open to 120°"]


def test_a_reflector_that_catches_a_head_is_told_so_with_its_tilt() -> None:
    # low under the chin: the face is 0.75 m above it, the lamp 1.5 m
    low = PanelPlace("P0", "left", 20.0, 0.9, 0.5, catches="A")
    goal = setup(replace(KEY, through=()), panels=(low,))
    (text,) = [each for each in texts(EMPTY, goal) if "P0" in each]
    assert text.startswith("Place P0 at camera-left 20°, 0.9 m, catching A, tilted ")
    assert text.endswith("° up")
    tilted = setup(replace(KEY, through=()), panels=(replace(low, catches=None, tilt_deg=-20.0, height_m=1.25),))
    (text,) = [each for each in texts(EMPTY, tilted) if "P0" in each]
    assert text == "Place P0 at camera-left 20°, 0.9 m, tilted 20° down"


@pytest.mark.parametrize(("before", "after", "words"), [
    (None, held("S1", catches="A"), [
        # A is straight across the face, 0.4 m higher than the panel; the column is in line, 5 cm past the tape
        "Place S1 at camera-right 90°, 1.25 m",
        "Fit P0 on S1, catching A, tilted 5° down", "Raise S1 to 1.6 m"]),
    (None, held("S4"), [
        "Place S4 at camera-right 90°, panel at 1.25 m", "Fit P0 on S4, facing the subject, tilted 15° down",
        "Fit the 5 kg counterweight on S4", "Raise S4 to 1.6 m"]),
    (held("S1"), held("S1", face_to="A", angle_deg=90.0), [
        "Turn P0 on S1, facing A, tilted 10° up"]),
    (None, held("first"), [
        "first: take P0 and hold it at camera-right 90°, 1.25 m, its middle 1.6 m up, facing the subject, "
        "tilted 15° down"]),
    (held("first"), None, ["first: put P0 down off set"]),
    (held("S1"), None, ["Lower S1 to 1.0 m", "Take P0 off S1", "Take S1 off set"]),
])  # fmt: skip
def test_a_held_panel_in_words(before: PanelPlace | None, after: PanelPlace | None, words: list[str]) -> None:
    start, goal = (setup(KEY, panels=(place,) if place else ()) for place in (before, after))
    assert [text for text in texts(start, goal) if not text.startswith("Test")] == words


def test_a_head_is_aimed_at_where_a_person_is_to_hold_a_panel() -> None:
    words = texts(EMPTY, setup(replace(KEY, aim="P0"), panels=(held("first"),)))
    (aim,) = (text for text in words if text.startswith("Aim"))
    assert aim.startswith("Aim A at where first is to hold P0 (camera-right 90°, 1.25 m), ")
    assert words.index(aim) < next(n for n, text in enumerate(words) if text.startswith("first: take P0"))


def test_a_cloth_is_hung_from_the_building_or_on_a_rail_that_its_stands_raise_together() -> None:
    words = texts(EMPTY, setup(hung_cloths=(RAIL,)))
    assert words[:1] == ["Place S1 at camera-left 69°, column 2.14 m from the mark"]
    assert words[words.index("Put one end of the rail of V on S2") + 1 :][:2] == [
        "Hang V on its rail between S1 and S2",
        "Raise S1 and S2 together to 2.25 m, the rail of V level",
    ]
    line = setup(hung_cloths=(replace(RAIL, held_by=(), bags=()),))
    assert texts(EMPTY, line)[0] == "Hang V at camera-left 90°, 2.0 m, its rail at 2.25 m"
    assert "Take V down" in texts(line, None)
