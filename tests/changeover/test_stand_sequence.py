"""One stand through a changeover: the order of its steps, and when hands are on it."""

from dataclasses import replace

from runbook.changeover.changeover import changeover, worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.stand_sequence import must_be_held
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


def test_a_stand_within_reach_is_held_while_its_bag_is_off_only_where_it_needs_it() -> None:
    # the figures decide, not the height: 3 kg in front of the column lean it past the limit
    assert grips(at(LOW, LIGHT), at(OVER, LIGHT), LIGHT) == []
    held = [("unbag", "bag", "take"), ("move", "stand", "take"), ("bag", "bag", "leave")]
    assert grips(at(LOW, HEAVY), at(OVER, HEAVY), HEAVY) == held
    goal = setup(OVER)
    steps = worded_changeover(at(LOW, HEAVY), floor_of(goal, HEAVY), Scene(HEAVY, goal), PLACE)
    # whoever holds it does not unbag, move or bag it too
    assert {step.hands for step in steps if step.held == "S0"} == {2}
    assert all("tips at" in step.why_hands for step in steps if step.held == "S0")


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


def test_of_two_stands_that_swap_bags_one_is_held_and_the_other_never_goes_without() -> None:
    one = replace(KEY, through=())
    other = replace(one, head="B", stand="S1", modifier="M1", accessories=(), side="right")
    start = floor_of(setup(replace(one, bags=("B0",)), replace(other, bags=("B1",))), LIGHT)
    one, other = replace(one, bags=("B1",)), replace(other, bags=("B0",))
    steps = changeover(start, floor_of(setup(one, other), LIGHT), LIGHT, PLACE)
    assert [(step.verb, step.item, step.on, step.grip) for step in steps if step.kind == "bag"] == [
        ("unbag", "B0", "S0", "take"),
        ("bag", "B0", "S1", None),
        ("unbag", "B1", "S1", None),
        ("bag", "B1", "S0", "leave"),
    ]
    # of two, better the one that moves anyway
    over = floor_of(setup(one, replace(other, angle_deg=100.0)), LIGHT)
    assert {step.held for step in changeover(start, over, LIGHT, PLACE) if step.grip} == {"S1"}


def test_a_stand_up_high_keeps_the_bags_it_had() -> None:
    # a 1 kg box at 2.3 m stands without its bag by the figures; above reach it keeps it all the same
    high = replace(KEY, height_m=2.3, distance_m=2.0, bags=("B0",), through=())
    swapped = replace(high, bags=("B1",))
    steps = changeover(at(high, LIGHT), at(swapped, LIGHT), LIGHT, PLACE)
    assert [step.verb for step in steps if step.kind == "bag"] == ["bag", "unbag"]
    bare = replace(at(high, LIGHT), bags={})
    assert must_be_held("S0", bare, at(high, LIGHT), LIGHT, PLACE, before=at(high, LIGHT))


def test_a_stand_that_is_not_safe_at_the_start_is_in_hands_from_its_first_step_on() -> None:
    bare = replace(LOW, bags=())
    assert grips(at(bare, HEAVY), at(replace(bare, angle_deg=60.0), HEAVY), HEAVY)[0] == ("move", "stand", "take")
    assert grips(at(bare, HEAVY), at(LOW, HEAVY), HEAVY)[0] == ("bag", "bag", "leave")
