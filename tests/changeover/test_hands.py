"""Hands from the figures: how many people a step needs, and why a stand is held."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.hands import hold_reason
from runbook.changeover.stand_sequence import at_moment, worst_at
from runbook.changeover.step_text import Scene
from runbook.changeover.steps import DEFAULT_S, Step
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.setup import HungCloth, Light
from runbook.model.units import Units
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_floor import KEY, RAIL, setup

BOOM = kit_of((True, False, False, False, False), (False,) * 5)
PLAIN = kit_of((False,) * 5, (False,) * 5)
HEAVY = kit_of((True, False, False, False, False), (False,) * 5, 3.0)


def all_of(kit: Kit, kind: str, /, **values: Any) -> Kit:
    """The kit with other values for all things of a kind."""
    return replace(kit, **{kind: tuple(replace(thing, **values) for thing in getattr(kit, kind))})  # type: ignore[arg-type]


def steps_of(
    kit: Kit, goal: Light, start: Light | None = None, units: Units = "metric"
) -> Mapping[tuple[str, str], Step]:
    """The steps from one light to another, by verb and kind."""
    before, after = floor_of(setup(start), kit) if start else EMPTY, setup(goal)
    steps = worded_changeover(before, floor_of(after, kit), Scene(kit, after, units), PLACE)
    return {(step.verb, step.kind): step for step in steps}


def test_whatever_is_done_to_a_boom_takes_two_and_a_time_of_its_own() -> None:
    steps = steps_of(BOOM, KEY)
    for key in (("place", "stand"), ("fit", "head"), ("fit", "counterweight"), ("raise", "stand")):
        assert steps[key].hands == 2
    assert steps["bag", "bag"].hands == steps["power", "head"].hands == 1
    assert all(step.why_hands for step in steps.values() if step.hands > 1)
    plain = steps_of(PLAIN, KEY)
    assert {step.hands for step in plain.values()} == {1}
    assert [each["place", "stand"].seconds for each in (plain, steps)] == [
        DEFAULT_S["place", "stand"],
        DEFAULT_S["place", "boom"],
    ]


def test_a_load_takes_as_many_as_the_handling_filter_asks_at_the_height_of_the_work() -> None:
    # HSE L23 filter, lower column: 13 kg up to the shoulder (1.40 m), 7 kg over it
    light = replace(KEY, height_m=2.4, accessories=(), through=())
    kit = all_of(PLAIN, "heads", mass_kg=8.0)
    high = all_of(kit, "stands", height_min_m=1.8)
    assert steps_of(kit, light)["fit", "head"].hands == 1
    fit = steps_of(high, light)["fit", "head"]
    assert (fit.hands, fit.why_hands) == (2, "8.0 kg, over the 7 kg one person lifts from 0.30 m up")
    imperial = steps_of(high, light, units="imperial")["fit", "head"]
    assert (imperial.hands, imperial.why_hands.startswith("17.6 lb, over")) == (2, True)


def test_what_rides_on_a_thing_is_lifted_with_it() -> None:
    # HSE L23 filter, lower column: 13 kg below the shoulder; three lift half of what each could
    kit = all_of(all_of(all_of(PLAIN, "stands", mass_kg=4.0), "modifiers", mass_kg=9.0), "accessories", mass_kg=4.5)
    light = replace(KEY, through=(), height_m=1.9, bags=())

    def hands(changed: Light, verb: str, kind: str, kit: Kit = kit) -> tuple[int, str]:
        step = steps_of(kit, changed, light)[verb, kind]
        return step.hands, step.why_hands

    moved = replace(light, angle_deg=100.0)
    assert hands(moved, "move", "stand") == (3, "19.5 kg, over the 13 kg one person lifts from 0.30 m up")
    # its head goes over to another stand with the box and the grid on it
    assert hands(replace(light, stand="S1"), "fit", "head")[1].startswith("15.5 kg, over the 13")
    assert hands(replace(light, head="B", stand="S1"), "fit", "modifier")[1].startswith("13.5 kg, over the 13")
    # what goes up with the section: the head with the box and the grid, not the stand's own foot
    raised = hands(replace(light, height_m=2.2), "raise", "stand")
    assert raised == (2, "15.5 kg, over the 15 kg one person raises by hand: use a wind-up stand")
    wheels = all_of(kit, "stands", kind="roller", foot_radius_m=1.5)
    assert hands(moved, "move", "stand", wheels) == (1, "")


# --- why a stand is held


def fitted(kit: Kit, stand: str = "S1", box: str = "M0", height_m: float = 1.9, bags: tuple[str, ...] = ()) -> Floor:
    """A floor with one light, bare of all but its box and bags, and no counterweight on."""
    light = replace(KEY, stand=stand, modifier=box, height_m=height_m, bags=bags, accessories=(), through=())
    light = replace(light, distance_m=2.0, leg_under_load=False)
    return floor_of(setup(light), kit)


NOW = fitted(HEAVY)


def test_a_stand_is_held_until_its_bags_or_its_modifier_are_on() -> None:
    # 4 kg of stand, 2 of head, 3 of box at 0.225 m: M 9, x 0.075, margin 0.175, z 1.3511 m
    for bags, until in (((), ""), (("B1",), " until B1 is on"), (("B2", "B1"), " until B1 and B2 are on")):
        reason = hold_reason("S1", NOW, fitted(HEAVY, bags=bags), HEAVY, PLACE)
        assert reason == f"S1 tips at 7.4° (limit 10°){until}"
    bare, goal = fitted(HEAVY, box="bare", height_m=2.3), fitted(HEAVY, box="M1")
    assert hold_reason("S1", bare, goal, HEAVY, PLACE).endswith("until M1 is on")
    light = kit_of((False,) * 5, (False,) * 5, 0.1)  # stands by itself, but above reach
    high, goal = fitted(light, height_m=2.0), fitted(light, height_m=2.0, bags=("B1",))
    assert hold_reason("S1", high, goal, light, PLACE) == "S1 is above reach without all its bags until B1 is on"


def test_a_boom_is_held_for_its_counterweight() -> None:
    boom = fitted(HEAVY, stand="S0")
    off = boom.put("stands", "S0", replace(boom.stands["S0"], weight_on=False))
    assert hold_reason("S0", off, boom, HEAVY, PLACE) == "S0 has its load on without its counterweight"


@pytest.mark.parametrize(("stand", "box", "place", "reason", "imperial"), [
    ({}, {"mass_kg": 6.0, "depth_m": 1.2}, PLACE, "falls over by itself", "falls over by itself"),
    (
        {"mass_kg": 7.0}, {"mass_kg": 5.0, "depth_m": 1.2}, Place(tilt_limit_deg=0.1),
        "has a safety factor of only 1.29 against tipping", "has a safety factor of only 1.29 against tipping",
    ),
    (
        {"load_max_kg": 4.0}, {"mass_kg": 2.9}, Place(tilt_limit_deg=5), "carries 4.9 kg of 4 kg allowed",
        "carries 10.8 lb of 8.8 lb allowed",
    ),
    (
        {}, {"mass_kg": 1.0}, Place(tilt_limit_deg=5, fan_ms=5), "stands only in gusts up to 3.3 m/s",
        "stands only in gusts up to 7.3 mph",
    ),
])  # fmt: skip
def test_a_hold_names_its_fault(stand, box, place, reason, imperial):
    kit = all_of(all_of(HEAVY, "stands", **stand), "modifiers", **box)
    assert hold_reason("S1", NOW, NOW, kit, place) == f"S1 {reason}"
    assert hold_reason("S1", NOW, NOW, kit, place, units="imperial") == f"S1 {imperial}"


def test_bags_in_two_places_are_judged_by_the_worse() -> None:
    now = at_moment(NOW, "S1")
    assert now is not None

    def lean(*places: str) -> float:
        bags = frozenset(zip(("B1", "B2"), places, strict=True))
        return worst_at(HEAVY, PLACE, "S1", replace(now, bags=bags)).lean_deg

    assert lean("column", "far legs") == min(lean("column", "column"), lean("far legs", "far legs"))


def test_a_rail_takes_two_at_its_ends_and_over_reach_and_a_third_holds_a_stand_that_tips() -> None:
    def hands(cloth: HungCloth, kit: Kit = PLAIN) -> dict[tuple[str, str], int]:
        goal = setup(hung_cloths=(cloth,))
        steps = worded_changeover(EMPTY, floor_of(goal, kit), Scene(kit, goal), PLACE)
        return {step.key[:2]: step.hands for step in steps}

    on_stands = hands(RAIL)
    assert [on_stands[key] for key in (("fit", "rail"), ("place", "cloth"), ("raise", "cloth"))] == [2, 1, 2]
    line = replace(RAIL, held_by=(), bags=())
    assert [hands(replace(line, hem_m=hem_m))["place", "cloth"] for hem_m in (0.0, 0.5)] == [2, 2]
    low = replace(PLAIN, cloths=tuple(replace(cloth, height_m=1.5) for cloth in PLAIN.cloths))
    assert hands(replace(line, hem_m=0.4), low)["place", "cloth"] == 1
    narrow = all_of(PLAIN, "stands", foot_radius_m=0.2, mass_kg=1.0)
    assert hands(replace(RAIL, bags=()), narrow)["fit", "rail"] == 3
