from __future__ import annotations

from dataclasses import replace

import pytest

from runbook.model.day import Crew, Place
from runbook.model.kit import Kit, Panel
from runbook.model.power import OFF
from runbook.model.problems import Problem
from runbook.model.setup import PanelPlace, Setup
from runbook.stands.audit import audit_stands
from tests.stands.rigs import PLACE, a_boom, a_box, a_head, a_kit, a_light, a_plan, a_setup, a_stand, bags

BAGGED = a_setup(a_light(bags=("B1",)))
PAIR = (Crew("one"), Crew("two"))


def found(
    setup: Setup = BAGGED, kit: Kit | None = None, place: Place = PLACE, crew: tuple[Crew, ...] = PAIR
) -> dict[str, Problem]:
    plan = a_plan(setup, kit=kit or a_kit(), place=place, crew=crew)
    return {problem.code: problem for problem in audit_stands(plan)}


def test_a_sound_day_has_nothing_to_say() -> None:
    assert found() == {}


def test_an_unbagged_stand_stops_and_says_what_to_hang() -> None:
    problem = found(a_setup(a_light()))["stand-tips"]
    assert (problem.level, problem.setup, problem.item) == ("stop", "one", "S1")
    assert problem.do == "hang B1 (7 kg) at the column (0.8 kg needed), or lower it to 1.77 m"


def test_a_thin_factor_warns() -> None:
    # 12 kg held at 0.26 m against 5 kg 0.44 m past the edge: between 1.3 and 1.5
    kit = a_kit(
        stands=(a_stand(mass_kg=2.0, load_max_kg=20),),
        heads=(a_head(1.0),),
        modifiers=(a_box(5.0, 1.2),),
        bags=bags(6.0),
    )
    place = replace(PLACE, tilt_limit_deg=1.0)
    problem = found(a_setup(a_light(bags=("B1",))), kit, place)["stand-barely-stands"]
    assert problem.level == "warn"
    assert "1.38 times" in problem.what


def test_too_few_bags_in_the_kit() -> None:
    kit = a_kit(bags=bags(0.5))
    problem = found(a_setup(a_light(bags=("B1",))), kit)["bags-too-few"]
    assert problem.level == "stop"
    assert "0.3 kg on S1" in problem.what
    assert "bags-too-few" not in found(a_setup(a_light()))


def test_bags_on_panels_are_not_to_be_had() -> None:
    kit = a_kit(bags=bags(7.0), panels=(Panel("flat", 1.2, 2.4, 0.85, mass_kg=9.0),))
    flat = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=("B1",))
    assert "bags-too-few" in found(a_setup(a_light(), panels=(flat,)), kit)


def test_an_overloaded_stand() -> None:
    assert found(kit=a_kit(stands=(a_stand(load_max_kg=3.0),)))["stand-overloaded"].level == "stop"


@pytest.mark.parametrize(
    ("weight", "code", "level", "do"),
    [
        (6.0, "counterweight-small", "stop", "hang 7.4 kg at 0.8 m"),
        (9.0, "counterweight-large", "warn", "hang 7.4 kg at 0.8 m, or slide the 9 kg in to 0.66 m"),
    ],
)
def test_a_counterweight_that_does_not_balance(weight: float, code: str, level: str, do: str) -> None:
    kit = a_kit(stands=(a_boom(counterweight_kg=weight),))
    problem = found(a_setup(a_light(stand="boom", bags=("B1",))), kit)[code]
    assert (problem.level, problem.do) == (level, do)


def test_a_counterweight_that_overloads_its_stand_is_not_advised() -> None:
    # 7.2 kg of head, box and arm: 11.4 kg at 0.75 m balance 8.55 kg m, 18.6 kg in all
    boom = a_boom(arm_m=1.5, arm_back_m=0.75, arm_mass_kg=2.0, counterweight_kg=5.0, load_max_kg=14.0)
    kit = a_kit(stands=(boom,), heads=(a_head(3.2),), modifiers=(a_box(2.0),))
    problem = found(a_setup(a_light(stand="boom", bags=("B1", "B2"))), kit)["counterweight-small"]
    assert problem.what == "counterweight 5 kg, needs 11.4 kg"
    assert "heavier stand or a shorter arm" in problem.do
    assert "18.6 kg of 14 kg" in problem.do
    assert "hang" not in problem.do


def test_a_boom_heavier_at_the_back() -> None:
    kit = a_kit(stands=(a_boom(arm_m=0.3, arm_back_m=2.0, arm_mass_kg=3.0),))
    problem = found(a_setup(a_light(stand="boom", bags=("B1",))), kit)["counterweight-large"]
    assert problem.do.startswith("shorten the back")


def test_a_boom_without_an_arm_is_no_traceback() -> None:
    kit = a_kit(stands=(a_boom(arm_m=None),))
    assert "arm_m" in found(a_setup(a_light(stand="boom")), kit)["boom-without-arm"].do


def test_a_stand_that_does_not_come_down_to_reach() -> None:
    kit = a_kit(stands=(a_stand(height_min_m=2.0),))
    assert "step" in found(kit=kit)["over-reach"].do
    assert "over-reach" not in found(a_setup(a_light(height_m=2.4, bags=("B1", "B2"))))


def test_wind_by_its_steps() -> None:
    def level(gust: float) -> set[tuple[str, str]]:
        place = Place(indoors=False, gust_ms=gust)
        return {(problem.level, code) for code, problem in found(place=place).items()}

    # the limit of this stand with its bag is 4.7 m/s
    assert level(2.7) == set()
    assert level(3.0) == {("note", "wind-watch")}
    assert level(4.0) == {("warn", "wind-act")}
    assert level(5.0) == {("stop", "wind-past-limit")}
    assert "a draught of" in found(place=Place(wind_ms=5.0))["wind-past-limit"].what
    assert "a fan of" in found(place=Place(fan_ms=5.0))["wind-past-limit"].what


def of_panel(gust: float, *hung: str, **panel: object) -> dict[str, Problem]:
    """The problems of a V-flat of 9 kg on feet of 0.25 m, its middle 1.2 m up, in a gust."""
    values = {"width_m": 1.2, "height_m": 2.4, "mass_kg": 9.0, "foot_radius_m": 0.25} | panel
    flat = Panel("flat", **values, reflectance=0.85)  # type: ignore[arg-type]
    placed = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=hung)
    setup = a_setup(a_light(bags=("B1",)), panels=(placed,))
    kit = a_kit(panels=(flat,), bags=bags(7.0, 5.0))
    place = Place(indoors=gust == 0, gust_ms=gust or None)
    audit = audit_stands(a_plan(setup, kit=kit, place=place, crew=PAIR))
    return {each.code: each for each in audit if each.item == "flat"}


def test_a_panel_has_the_limits_of_a_stand() -> None:
    # 14 kg on 0.25 m of feet: tips at 3.68 m/s, its limit is 3.00; watch at 1.80, act at 2.40
    steps = {1.7: set(), 1.9: {"wind-watch"}, 2.5: {"wind-act"}, 3.1: {"wind-past-limit"}}
    assert {gust: set(of_panel(gust, "B2")) for gust in steps} == steps
    assert of_panel(3.1, "B2")["wind-past-limit"].level == "stop"


def test_a_panel_on_narrow_feet_is_to_be_bagged() -> None:
    problem = of_panel(0.0, foot_radius_m=0.15)["panel-tips"]
    assert problem.level == "stop"
    assert "in total on its feet" in problem.do
    assert of_panel(0.0, "B2", foot_radius_m=0.15) == {}


def test_a_panel_whose_feet_nobody_measured_is_warned_of_once_a_day() -> None:
    for gust in (0.0, 5.0):
        for missing in ({"foot_radius_m": None}, {"mass_kg": 0.0}):
            problem = of_panel(gust, "B2", **missing)["panel-feet-unknown"]
            assert (problem.level, problem.setup) == ("warn", None)
            assert next(iter(missing)) in problem.do


# legs of 0.35 m, 0.6 kg of head and a 3.5 kg box 0.75 m deep at 1.71 m; 5 kg at the far legs
TURNED = a_kit(
    stands=(a_stand(foot_radius_m=0.35, mass_kg=2.5),),
    heads=(a_head(0.6),),
    modifiers=(a_box(3.5, 0.75),),
    bags=bags(5.0),
)


def test_a_turn_other_than_the_checklists_is_warned_of() -> None:
    setup = a_setup(a_light(height_m=1.71, bags=("B1",), bags_at="far legs"))
    problem = found(setup, TURNED)["far-legs-turn"]
    assert problem.level == "warn"
    assert "11.1 deg" in problem.what
    assert problem.what.endswith("5.4")
    assert problem.do.startswith("turn it with one leg straight away from the load")
    leg = a_setup(a_light(height_m=1.71, bags=("B1",), bags_at="far legs", leg_under_load=True))
    assert "far-legs-turn" not in found(leg, TURNED)
    column = a_setup(a_light(height_m=1.71, bags=("B1",)))
    assert "far-legs-turn" not in found(column, TURNED)


def test_stands_that_share_are_told_who_gets_which_bag() -> None:
    kit = a_kit(
        stands=(a_stand(), a_stand(id="S2")),
        heads=(a_head(), replace(a_head(), id="B")),
        modifiers=(a_box(), replace(a_box(), id="octa-2")),
        bags=bags(7.0, 5.0),
    )
    other = a_light(head="B", stand="S2", modifier="octa-2")
    both = [each for each in _problems(a_setup(a_light(), other), kit) if each.level == "stop"]
    assert {(each.item, each.do.split(" at ")[0]) for each in both} == {
        ("S1", "hang B2 (5 kg)"),
        ("S2", "hang B1 (7 kg)"),
    }
    # one hangs twice on one stand: they are shared anew, and that is said
    piled = found(a_setup(a_light(bags=("B1", "B2")), other), kit)
    assert piled["bags-shared-anew"].do.count("kg)") == 2
    scarce = found(a_setup(a_light(), other), replace(kit, bags=bags(7.0)))["bags-too-few"]
    assert "B1 (7 kg) to S" in scarce.what


def _problems(setup: Setup, kit: Kit) -> tuple[Problem, ...]:
    return audit_stands(a_plan(setup, kit=kit, place=PLACE, crew=PAIR))


def test_lifts_alike_are_warned_of_once_and_a_measured_handle_ends_it() -> None:
    heavy = a_kit(bags=bags(13.0, 13.0, 13.0))
    setup = a_setup(a_light(bags=("B1", "B2", "B3")))
    lifts = [each for each in _problems(setup, heavy) if each.code == "lift-alone"]
    (problem,) = lifts
    assert problem.item == "B1"
    assert problem.what.startswith("B1, B2, B3: 13.0 kg")
    assert "0.10 m" in problem.what
    assert "grip_m" in problem.do
    handled = a_kit(bags=tuple(replace(bag, grip_m=0.3) for bag in heavy.bags))
    alone = a_plan(setup, kit=handled, crew=(Crew("one"),))
    assert not [each for each in audit_stands(alone) if each.code == "lift-alone"]


def test_a_heavy_lift_alone() -> None:
    boom = a_setup(a_light(stand="boom", bags=("B1",)))
    kit = a_kit(stands=(a_boom(counterweight_kg=7.4),), bags=bags(9.0))
    alone = found(boom, kit, crew=())
    assert alone["lift-alone"].item in ("boom", "B1")
    assert found(boom, kit) == {}


def test_a_head_over_the_filter_is_a_lift_for_two() -> None:
    # HSE L23 filter, women's column, hands from the shin to the shoulder: 13 kg
    heavy = a_kit(heads=(a_head(14.0),), stands=(a_stand(load_max_kg=20.0),))
    alone = found(kit=heavy, crew=(Crew("one"),))["lift-alone"]
    assert alone.item == "A"
    assert "14.0 kg is over the 13 kg" in alone.what
    assert "lift-alone" not in found(kit=heavy)
    # 8 kg is under the 13 kg of the shoulder's zone, over the 7 kg above it (HSE L23, lower column)
    tall = a_stand(load_max_kg=20.0, height_min_m=1.8)
    assert "lift-alone" not in found(kit=a_kit(heads=(a_head(8.0),)), crew=(Crew("one"),))
    high = found(kit=a_kit(heads=(a_head(8.0),), stands=(tall,)), crew=(Crew("one"),))
    assert "8.0 kg is over the 7 kg" in high["lift-alone"].what


def test_mains_on_one_circuit() -> None:
    kit = a_kit(heads=(a_head(mains=True, modelling_w=650),))
    assert "circuit_a" in found(kit=kit)["circuit-unknown"].do
    assert found(kit=kit, place=replace(PLACE, circuit_a=16.0)) == {}
    small = replace(PLACE, circuit_a=3.0)
    assert found(kit=kit, place=small)["circuit-overloaded"].level == "stop"


def test_batteries_that_fly() -> None:
    air = replace(PLACE, travel_by_air=True)

    def codes(**head: object) -> set[str]:
        return set(found(kit=a_kit(heads=(a_head(**head),)), place=air))

    assert codes() == {"battery-unknown"}
    assert codes(battery_wh=100.0, spare_batteries=9) == set()
    assert codes(battery_wh=120.0, spare_batteries=2) == {"battery-needs-approval"}
    assert codes(battery_wh=120.0, spare_batteries=3) == {"battery-needs-approval", "battery-spares"}
    assert codes(battery_wh=161.0) == {"battery-refused"}
    assert codes(mains=True) == {"circuit-unknown"}


def test_bursts() -> None:
    def said(rate: float) -> dict[str, Problem]:
        return found(a_setup(a_light(bags=("B1",)), burst_per_s=rate))

    def burst(rate: float) -> set[str]:
        return set(said(rate))

    assert burst(3.0) == set()
    assert burst(3.5) == {"flashes-fast"}
    assert burst(4.0) == {"flashes-fast"}
    assert burst(4.5) == burst(5.0) == {"flashes-very-fast"}
    fast, faster = said(4.0)["flashes-fast"], said(5.0)["flashes-very-fast"]
    assert fast.what == "4 flashes in a second: more than the 3 allowed on screens (borrowed)"
    assert faster.what == ("5 flashes in a second: more than the 4 allowed in clubs, and the 3 on screens (borrowed)")
    assert fast.do == "slow the burst, or ask everyone present about light-triggered seizures first"
    assert faster.do.startswith("slow the burst, or do not fire it yet: ask everyone present")
    assert found(a_setup(a_light(bags=("B1",), power=OFF), burst_per_s=9.0)) == {}
