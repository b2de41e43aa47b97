"""What a step is called across the set."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.step_text import Scene, blocks, change_text, step_text, stops_text
from runbook.changeover.steps import Step, apply
from runbook.model.power import OFF, Power
from runbook.model.setup import Light, PanelPlace, Setup, Subject
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_floor import KEY, KIT, setup

FLATS = (PanelPlace("P1", "left", 0.0, 1.0, 1.25),)


def called(start: Floor, goal: Setup | None) -> list[str]:
    """The texts of a changeover."""
    scene = Scene(KIT, goal)
    end = floor_of(goal, KIT) if goal else EMPTY
    texts, now = [], start
    for step in changeover(start, end, KIT, PLACE):
        texts.append(step_text(step, now, scene))
        now = apply(now, step)
    return texts


def test_a_quarter_to_an_eighth_is_one_stop_down() -> None:
    # common practice, no source: a quarter to an eighth is one stop
    old, new = Power(Fraction(2)), Power(Fraction(3))
    dial = KIT.head["A"].dial
    assert change_text(dial, old, new) == " (1 stop, 3 clicks down)"
    assert change_text(dial, new, old) == " (1 stop, 3 clicks up)"
    assert change_text(dial, OFF, new) == change_text(dial, None, new) == ""


@pytest.mark.parametrize(
    ("stops", "words"),
    [
        ("1", "1 stop"),
        ("-2", "2 stops"),
        ("1/3", "1/3 stop"),
        ("2/3", "2/3 stop"),
        ("4/3", "1 1/3 stops"),
        ("7/10", "0.7 stops"),
        ("9", "9 stops"),
    ],
)
def test_stops_are_worded_in_numbers(stops: str, words: str) -> None:
    assert stops_text(Fraction(stops)) == words


def test_a_power_change_alone_is_a_power_and_a_test() -> None:
    start = floor_of(setup(KEY), KIT)
    assert called(start, setup(replace(KEY, power=Power(Fraction(2))))) == [
        "Set A from 1/8 to 1/4 (1 stop, 3 clicks up)",
        "Test flash: meter, then check the frame",
    ]


def test_a_load_in_reads_from_the_stand_up() -> None:
    assert called(EMPTY, setup(KEY)) == [
        "Place S0 at camera-left 90°, column 1.55 m from the mark (tape 1.25 m)",
        "Hang B0 (7 kg) on S0",
        "Fit A on S0",
        "Fit M0 on A",
        "Fit G0 on M0",
        "Hang V in front of A",
        "Aim A at the face, 37° down",
        "Raise S0 to 2.0 m",
        "Set A to 1/8",
        "Switch A on: it will fire",
        "Camera: fit the 85 mm lens",
        "Camera: move to 2.5 m from the face, 1.5 m high, portrait",
        "Camera: set f/4, 1/160, ISO 100",
        "Bring the talent to the mark, looking at the camera, face at 1.25 m",
        "Test flash: meter, then check the frame",
    ]


def test_a_wrap_sends_the_talent_off_first_and_keeps_the_bag_until_the_head_is_off() -> None:
    texts = called(floor_of(setup(KEY), KIT), None)
    assert texts[0] == "Send the talent off set"
    assert texts.index("Take A off S0 and put it in its case") < texts.index("Take B0 off S0")
    assert texts.index("Take B0 off S0") < texts.index("Take S0 off set")


def test_a_high_stand_is_walked_over_in_one_hold() -> None:
    near = replace(KEY, distance_m=1.5)
    start = floor_of(setup(KEY), KIT)
    steps = changeover(start, floor_of(setup(near), KIT), KIT, PLACE)
    chain = [(step.verb, step.grip) for step in steps if step.held == "S0"]
    assert chain == [("unbag", "take"), ("move", "take"), ("bag", "leave")]


def test_exposure_and_face() -> None:
    start = floor_of(setup(KEY), KIT)
    closed = setup(KEY, subject=Subject(1.25, looks_at="A"))
    assert called(start, closed)[0] == "Pose the talent: looking at A, face at 1.25 m"


def test_steps_of_one_thing_fold_into_a_block_with_a_title() -> None:
    goal = setup(KEY)
    steps = changeover(EMPTY, floor_of(goal, KIT), KIT, PLACE)
    scene = Scene(KIT, goal)
    now, said = EMPTY, list[Step]()
    for step in steps:
        said.append(replace(step, text=step_text(step, now, scene)))
        now = apply(now, step)
    first, *rest = blocks(said, scene)
    assert first.title == ("A: on S0, M0, G0, V, left 90°, 1.25 m, up to 2.0 m, 1/8, B0")
    assert [block.thing for block in rest] == ["camera", "subject", "set"]
    assert sum(len(block.steps) for block in (first, *rest)) == len(steps)


def test_feet_and_pounds_where_the_day_asks_for_them() -> None:
    goal = setup(KEY)
    scene = Scene(KIT, goal, "imperial")
    place = changeover(EMPTY, floor_of(goal, KIT), KIT, PLACE)[0]
    said = "Place S0 at camera-left 90°, column 5 ft 1 in from the mark (tape 4 ft 1 in)"
    assert step_text(place, EMPTY, scene) == said


def test_a_stand_goes_where_its_column_belongs_and_not_to_the_end_of_the_tape() -> None:
    def placed(light: Light, start: Light | None = None) -> str:
        before = EMPTY if start is None else floor_of(setup(start, panels=FLATS), KIT)
        texts = called(before, setup(light, panels=FLATS))
        return next(text for text in texts if text.startswith((f"Move {light.stand} ", f"Place {light.stand} ")))

    # by hand: 1.25 m of tape over 0.75 m up is 1 m on the floor; the box is 0.45 m deep, and the
    # middle of the head's body 0.1 m behind it
    assert placed(replace(KEY, leg_under_load=True)) == (
        "Place S0 at camera-left 90°, column 1.55 m from the mark, one leg under the load (tape 1.25 m)"
    )
    # 0.75 m of tape, level: the head alone is 0.1 m behind it
    bare = replace(KEY, modifier="bare", accessories=(), height_m=1.25)
    near = replace(bare, angle_deg=180.0, distance_m=0.75)
    assert placed(near, bare) == ("Move S0 to directly behind the subject, column 0.85 m from the mark (tape 0.75 m)")
    # 2.01 m of tape over 0.2 m up is 2 m on the floor: the column is where the figures say
    far = replace(bare, distance_m=2.01, height_m=1.45)
    assert placed(replace(far, distance_m=2.0)) == "Place S0 at camera-left 90°, 2.0 m"
    # at a flat 1 m before the face: from 1 m side-on the head looks forward, its column is behind
    at_flat = replace(KEY, aim="P1")
    assert placed(at_flat) == ("Place S0 at camera-left 106°, column 1.44 m from the mark (tape 1.25 m, left 90°)")


def test_a_booms_step_names_what_its_tape_is_of() -> None:
    kit = kit_of((True, False, False, False, True), (False,) * 5)
    goal = setup(KEY)
    first = changeover(EMPTY, floor_of(goal, kit), kit, PLACE)[0]
    assert step_text(first, EMPTY, Scene(kit, goal)) == "Place S0 at camera-left 90°, head at 1.25 m"
    imperial = Scene(kit, goal, "imperial")
    assert step_text(first, EMPTY, imperial) == "Place S0 at camera-left 90°, head at 4 ft 1 in"


def test_a_panel_held_up_is_tilted_and_one_on_the_floor_stands_upright() -> None:
    def called_for(height_m: float, *, lamp_m: float, lamp_was_m: float | None = None) -> list[str]:
        def lit(up_m: float) -> Setup:
            lamp = replace(KEY, through=(), height_m=up_m)
            return setup(lamp, panels=(PanelPlace("P0", "right", 80.0, 1.0, height_m, "A"),))

        start = EMPTY if lamp_was_m is None else floor_of(lit(lamp_was_m), KIT)
        return [text for text in called(start, lit(lamp_m)) if "P0" in text]

    # KIT's panels are 2.4 m tall: at 1.2 m the lower edge is on the floor
    assert called_for(1.2, lamp_m=2.4) == ["Place P0 at camera-right 80°, 1.0 m, facing A"]
    assert called_for(1.2, lamp_m=1.2, lamp_was_m=2.4) == ["Turn P0 to face A"]
    # the lamp is 0.49 m left of under the face, the panel 0.94 m right: 0.8 m up in 1.42 m is 29°
    up = called_for(1.6, lamp_m=2.4)
    assert up == ["Place P0 at camera-right 80°, 1.0 m, facing A, tilted 30° up"]
    assert called_for(1.6, lamp_m=1.6, lamp_was_m=2.4) == ["Turn P0 to face A"]
    assert called_for(1.6, lamp_m=1.4, lamp_was_m=2.4) == ["Turn P0 to face A, tilted 5° down"]


def test_steps_name_the_far_leg_and_the_turn_that_goes_with_it() -> None:
    light = replace(KEY, bags=("B0", "B1"), bags_at="far legs", leg_under_load=False)
    straight = called(EMPTY, setup(light))
    assert any("one leg straight away from the load" in text for text in straight if "S0" in text)
    bags = [text for text in straight if text.startswith("Hang B")]
    assert all(text.endswith("on the leg straight away from the load") for text in bags)
    # with a leg under the load two legs are far: a bag on each
    shared = called(EMPTY, setup(replace(light, leg_under_load=True)))
    assert any(", one leg under the load" in text for text in shared)
    bags = [text for text in shared if text.startswith("Hang B")]
    assert {text.split(", ")[1].split(" of ")[0] for text in bags} == {"on one", "on the other"}
