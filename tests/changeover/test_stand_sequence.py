"""One stand through a changeover: the order of its steps, and when hands are on it."""

from __future__ import annotations

from dataclasses import replace

from runbook.changeover.changeover import changeover, worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.stand_sequence import at_moment, must_be_held
from runbook.changeover.step_text import Scene
from runbook.model.kit import Kit
from runbook.model.setup import Light
from runbook.stands.statics import counterweight_needed_kg, rig_of
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_floor import KEY, setup

LIGHT = kit_of((False,) * 5, (False,) * 5, 1.0)
HEAVY = kit_of((False,) * 5, (False,) * 5, 3.0)
BOOM = kit_of((True, False, False, False, False), (False,) * 5)


def grips(start: Floor, goal: Floor, kit: Kit) -> list[tuple[str, str, str | None]]:
    """Verb, kind and grip of the steps that take hold of S0 or let it go."""
    steps = changeover(start, goal, kit, PLACE)
    return [(step.verb, step.kind, step.grip) for step in steps if step.held == "S0"]


def at(light: Light, kit: Kit) -> Floor:
    return floor_of(setup(light), kit)


LOW = replace(KEY, height_m=1.9, distance_m=1.5, bags=("B0",), leg_under_load=False)
OVER = replace(LOW, angle_deg=60.0)


def test_a_stand_within_reach_that_stands_by_itself_is_moved_without_a_hold() -> None:
    assert grips(at(LOW, LIGHT), at(OVER, LIGHT), LIGHT) == []


def test_a_stand_within_reach_that_needs_its_bag_is_held_while_it_is_off() -> None:
    # the sums decide, not the height: 3 kg in front of the column lean it past the limit
    assert grips(at(LOW, HEAVY), at(OVER, HEAVY), HEAVY) == [
        ("unbag", "bag", "take"),
        ("move", "stand", "take"),
        ("bag", "bag", "leave"),
    ]


def test_a_boom_is_held_from_its_head_s_going_on_to_its_weight_s() -> None:
    boom = replace(KEY, through=())
    needed = counterweight_needed_kg(rig_of(BOOM, boom))
    assert needed is not None

    def weighted(kg: float) -> Kit:
        stand = replace(BOOM.stand["S0"], counterweight_kg=kg, load_max_kg=40.0)
        return replace(BOOM, stands=(stand, *BOOM.stands[1:]))

    kit = weighted(needed)
    found = grips(EMPTY, at(boom, kit), kit)
    assert found[0] == ("fit", "head", "take")
    assert found[-1] == ("fit", "counterweight", "leave")
    # out of balance it is never let go
    light = weighted(needed / 2)
    assert all(grip != "leave" for _, _, grip in grips(EMPTY, at(boom, light), light))


def test_two_stands_that_wait_for_each_other_s_bags_swap_them_in_hands() -> None:
    one = replace(KEY, through=())
    other = replace(one, head="B", stand="S1", modifier="M1", accessories=(), side="right")
    start = setup(replace(one, bags=("B0",)), replace(other, bags=("B1",)))
    goal = setup(replace(one, bags=("B1",)), replace(other, bags=("B0",)))
    steps = changeover(floor_of(start, LIGHT), floor_of(goal, LIGHT), LIGHT, PLACE)
    bags = [(step.verb, step.item, step.on, step.grip) for step in steps if step.kind == "bag"]
    assert bags == [  # one is enough in hands; the other never goes without
        ("unbag", "B0", "S0", "take"),
        ("bag", "B0", "S1", None),
        ("unbag", "B1", "S1", None),
        ("bag", "B1", "S0", "leave"),
    ]


def test_of_two_that_swap_bags_the_one_that_moves_is_held() -> None:
    one = replace(KEY, through=())
    other = replace(one, head="B", stand="S1", modifier="M1", accessories=(), side="right")
    start = setup(replace(one, bags=("B0",)), replace(other, bags=("B1",)))
    over = replace(other, bags=("B0",), angle_deg=100.0)
    goal = setup(replace(one, bags=("B1",)), over)
    steps = changeover(floor_of(start, LIGHT), floor_of(goal, LIGHT), LIGHT, PLACE)
    assert {step.held for step in steps if step.grip} == {"S1"}


def test_a_moment_names_all_that_the_sums_need() -> None:
    floor = at(LOW, LIGHT)
    now = at_moment(floor, "S0")
    assert now is not None
    assert (now.head, now.modifier, now.accessories) == ("A", "M0", frozenset({"G0"}))
    assert now.bags == {("B0", "column")}
    assert at_moment(floor, "S3") is None


def test_a_stand_up_high_keeps_the_bags_it_had() -> None:
    # a 1 kg box at 2.3 m stands without its bag by the sums; above reach it keeps it all the same
    high = replace(KEY, height_m=2.3, distance_m=2.0, bags=("B0",), through=())
    swapped = replace(high, bags=("B1",))
    steps = changeover(at(high, LIGHT), at(swapped, LIGHT), LIGHT, PLACE)
    assert [step.verb for step in steps if step.kind == "bag"] == ["bag", "unbag"]
    bare = replace(at(high, LIGHT), bags={})
    assert must_be_held("S0", bare, at(high, LIGHT), LIGHT, PLACE, before=at(high, LIGHT))


def test_a_stand_that_is_not_safe_at_the_start_is_in_hands_from_its_first_step_on() -> None:
    bare = replace(LOW, bags=())
    first = next(
        step
        for step in changeover(at(bare, HEAVY), at(replace(bare, angle_deg=60.0), HEAVY), HEAVY, PLACE)
        if step.item == "S0"
    )
    assert (first.grip, first.held) == ("take", "S0")
    goal = setup(replace(bare, bags=("B0",)))
    (bag,) = [
        step
        for step in worded_changeover(at(bare, HEAVY), floor_of(goal, HEAVY), Scene(HEAVY, goal), PLACE)
        if step.kind == "bag"
    ]
    assert (bag.grip, bag.held, bag.hands) == ("leave", "S0", 2)


def test_whoever_holds_a_top_heavy_stand_does_not_unbag_move_or_bag_it_too() -> None:
    goal = setup(OVER)
    steps = worded_changeover(at(LOW, HEAVY), floor_of(goal, HEAVY), Scene(HEAVY, goal), PLACE)
    hands = {(step.verb, step.kind): step.hands for step in steps if step.held == "S0"}
    assert hands == {("unbag", "bag"): 2, ("move", "stand"): 2, ("bag", "bag"): 2}
    assert all("tips at" in step.why_hands for step in steps if step.held == "S0")
