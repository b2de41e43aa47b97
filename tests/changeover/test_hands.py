"""A changeover worded_changeover: hands from the sums, seconds from the table, words that follow the floor."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, hypot, sqrt

from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, floor_of
from runbook.changeover.step_text import Scene
from runbook.changeover.steps import DEFAULT_S
from runbook.model.geometry import BODY_M
from runbook.model.kit import Kit
from runbook.model.setup import Background, Light, Subject
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_floor import KEY, setup

BOOM = kit_of((True, False, False, False, False), (False,) * 5)
PLAIN = kit_of((False,) * 5, (False,) * 5)


def test_whatever_is_done_to_a_boom_takes_two() -> None:
    goal = setup(KEY)
    steps = worded_changeover(EMPTY, floor_of(goal, BOOM), Scene(BOOM, goal), PLACE)
    hands = {(step.verb, step.kind): step.hands for step in steps}
    for verb, kind in [("place", "stand"), ("fit", "head"), ("fit", "counterweight")]:
        assert hands[verb, kind] == 2
    assert hands["raise", "stand"] == 2
    assert hands["bag", "bag"] == 1
    assert hands["power", "head"] == 1
    assert all(step.why_hands for step in steps if step.hands > 1)


def test_a_light_head_on_a_plain_stand_takes_one() -> None:
    goal = setup(KEY)
    steps = worded_changeover(EMPTY, floor_of(goal, PLAIN), Scene(PLAIN, goal), PLACE)
    assert {step.hands for step in steps} == {1}


def test_a_heavy_head_takes_two_by_the_handling_filter() -> None:
    # HSE L23 filter, lower column, hands up to the shoulder: 7 kg is its least figure there
    heavy = replace(PLAIN, heads=tuple(replace(head, mass_kg=14.0) for head in PLAIN.heads))
    goal = setup(KEY)
    steps = worded_changeover(EMPTY, floor_of(goal, heavy), Scene(heavy, goal), PLACE)
    (fit,) = [step for step in steps if (step.verb, step.kind) == ("fit", "head")]
    assert fit.hands >= 2
    assert "14.0 kg, over" in fit.why_hands
    pounds = worded_changeover(EMPTY, floor_of(goal, heavy), Scene(heavy, goal, "imperial"), PLACE)
    assert [step.hands for step in pounds] == [step.hands for step in steps]
    assert "30.9 lb, over" in pounds[fit.n - 1].why_hands


def test_work_on_a_stand_that_does_not_stand_by_itself_takes_a_second_pair_of_hands() -> None:
    # a 3 kg box half a metre deep needs its bag; taken off its old spot it is held
    kit = kit_of((False,) * 5, (False,) * 5, 3.0)
    light = replace(KEY, height_m=1.9, bags=("B0",))
    changed = replace(light, modifier="M1", bags=())
    start, goal = floor_of(setup(light), kit), setup(changed)
    steps = worded_changeover(start, floor_of(goal, kit), Scene(kit, goal), PLACE)
    held = [step for step in steps if "does not stand by itself" in step.why_hands]
    assert all(step.hands == 2 for step in held)
    assert all(step.verb in ("fit", "free", "raise", "lower") for step in held)


def test_seconds_are_the_table_s_and_a_boom_has_its_own() -> None:
    goal = setup(KEY)
    for kit, kind in ((PLAIN, "stand"), (BOOM, "boom")):
        steps = worded_changeover(EMPTY, floor_of(goal, kit), Scene(kit, goal), PLACE)
        (place,) = [step for step in steps if (step.verb, step.kind) == ("place", "stand")]
        assert place.seconds == DEFAULT_S["place", kind]


def test_a_load_is_lifted_as_high_as_its_stand_is_worked_on() -> None:
    # HSE L23 filter, lower column: 13 kg up to the shoulder (1.40 m), 7 kg over it
    kit = replace(PLAIN, heads=tuple(replace(head, mass_kg=8.0) for head in PLAIN.heads))
    high = replace(kit, stands=tuple(replace(stand, height_min_m=1.8) for stand in kit.stands))
    light = replace(KEY, height_m=2.4, accessories=(), through=())

    def fit(kit: Kit) -> tuple[int, str]:
        goal = setup(light)
        steps = worded_changeover(EMPTY, floor_of(goal, kit), Scene(kit, goal), PLACE)
        (step,) = [step for step in steps if (step.verb, step.kind) == ("fit", "head")]
        return step.hands, step.why_hands

    assert fit(kit) == (1, "")
    assert fit(high) == (2, "8.0 kg, over the 7 kg one person lifts from 0.30 m up")


def test_what_rides_on_a_thing_is_lifted_with_it() -> None:
    # HSE L23 filter, lower column: 13 kg below the shoulder; three lift half of what each could
    kit = replace(
        PLAIN,
        stands=tuple(replace(stand, mass_kg=4.0) for stand in PLAIN.stands),
        modifiers=tuple(replace(box, mass_kg=9.0) for box in PLAIN.modifiers),
        accessories=tuple(replace(grid, mass_kg=4.5) for grid in PLAIN.accessories),
    )
    light = replace(KEY, through=(), height_m=1.9, bags=())
    there = setup(light)

    def hands(changed: Light, verb: str, kind: str, kit: Kit = kit) -> tuple[int, str]:
        goal = setup(changed)
        steps = worded_changeover(floor_of(there, kit), floor_of(goal, kit), Scene(kit, goal), PLACE)
        (step,) = [step for step in steps if (step.verb, step.kind) == (verb, kind)]
        return step.hands, step.why_hands

    moved = hands(replace(light, angle_deg=100.0), "move", "stand")
    assert moved == (3, "19.5 kg, over the 13 kg one person lifts from 0.30 m up")
    # its head goes over to another stand with the box and the grid on it
    assert hands(replace(light, stand="S1"), "fit", "head")[1].startswith("15.5 kg, over the 13")
    other = replace(light, head="B", stand="S1")
    assert hands(other, "fit", "modifier")[1].startswith("13.5 kg, over the 13")
    # what goes up with the section: the head with the box and the grid, not the stand's own foot
    raised = hands(replace(light, height_m=2.2), "raise", "stand")
    assert raised == (2, "15.5 kg, over the 15 kg one person raises by hand: use a wind-up stand")
    steady = tuple(replace(each, kind="roller", foot_radius_m=1.5) for each in kit.stands)
    wheels = replace(kit, stands=steady)
    assert hands(replace(light, angle_deg=100.0), "move", "stand", wheels) == (1, "")


def test_a_head_that_turns_on_its_spot_says_where_its_column_goes() -> None:
    deep = replace(
        PLAIN, modifiers=tuple(replace(box, depth_m={"M0": 0.5, "M1": 0.1}.get(box.id, 0.0)) for box in PLAIN.modifiers)
    )
    key = replace(KEY, accessories=(), through=(), side="left", angle_deg=90.0, height_m=1.55)
    across = replace(key, aim="background")
    kits = {"stands": deep, "booms": replace(deep, stands=BOOM.stands)}

    def said(before: Light, after: Light, kit: str = "stands") -> str:
        first, goal = (
            replace(setup(light), background=Background(1.25), subject=Subject(1.55)) for light in (before, after)
        )
        floors = (floor_of(each, kits[kit]) for each in (first, goal))
        steps = worded_changeover(*floors, Scene(kits[kit], goal), PLACE)
        return next(step.text for step in steps if step.verb == "aim")

    # the front stays 1.25 m to the left of the mark; the background is as far behind the face, so
    # the head turns 45 degrees and its column swings out to the side and towards the camera
    back_m = (0.5 + BODY_M / 2) / sqrt(2)
    away_m, at_deg = hypot(1.25 + back_m, back_m), degrees(atan2(1.25 + back_m, back_m))
    column = f"column {away_m:.2f} m from the mark (tape 1.25 m, left 90°)"
    turned = "Aim A at the background, level"
    assert said(key, across) == f"{turned}; then move S0 to camera-left {at_deg:.0f}°, {column}"
    assert said(across, key).startswith("Aim A at the face, level; then move S0 to camera-left 90°, ")
    # nothing to say of a hand's breadth, of a stand that goes elsewhere as it is, or of a boom
    bare = replace(key, modifier="bare")
    assert said(bare, replace(bare, aim="background")) == turned
    assert "then" not in said(key, replace(across, angle_deg=60.0))
    assert said(key, across, "booms") == turned


def test_a_box_of_another_depth_moves_its_column_and_says_by_how_much() -> None:
    deep = replace(
        PLAIN,
        modifiers=tuple(
            replace(box, depth_m={"M0": 0.45, "M1": 0.15, "M2": 0.40}.get(box.id, 0.0)) for box in PLAIN.modifiers
        ),
    )
    key = replace(KEY, accessories=(), through=())

    def said(before: Light, after: Light, kit: Kit = deep) -> list[str]:
        goal = setup(after)
        steps = worded_changeover(floor_of(setup(before), kit), floor_of(goal, kit), Scene(kit, goal), PLACE)
        return [step.text for step in steps if step.kind == "modifier"]

    flatter = replace(key, modifier="M1")
    again = "so that the tape to its front is 1.25 m again"
    assert said(key, flatter)[-1] == f"Fit M1 on A; then move S0 in 0.3 m, {again}"
    assert said(flatter, key)[-1] == f"Fit M0 on A; then move S0 back 0.3 m, {again}"
    assert said(key, replace(key, modifier="bare")) == [f"Take M0 off A; then move S0 in 0.45 m, {again}"]
    # nobody tapes a hand's breadth; a stand that goes elsewhere has figures of its own there
    assert said(key, replace(key, modifier="M2"))[-1] == "Fit M2 on A"
    assert said(key, replace(flatter, angle_deg=60.0))[-1] == "Fit M1 on A"
    booms = replace(deep, stands=BOOM.stands)
    assert said(key, flatter, booms)[-1] == "Fit M1 on A"
