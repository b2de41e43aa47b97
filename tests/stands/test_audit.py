from __future__ import annotations

from dataclasses import replace

import pytest

from runbook.model.day import Crew, Place, Problem
from runbook.model.kit import Kit, Panel
from runbook.model.setup import PanelPlace, Setup
from runbook.stands.audit import audit_stands
from tests.stands.rigs import PLACE, a_boom, a_box, a_head, a_kit, a_light, a_plan, a_setup, a_stand, bags

BAGGED = a_setup(a_light(bags=("B1",)))
BOOM = a_setup(a_light(stand="boom", bags=("B1",)))
PAIR = (Crew("one"), Crew("two"))
ONE = (Crew("one"),)


def problems(
    setup: Setup = BAGGED, kit: Kit | None = None, place: Place = PLACE, crew: tuple[Crew, ...] = PAIR
) -> dict[str, Problem]:
    plan = a_plan(setup, kit=kit or a_kit(), place=place, crew=crew)
    return {problem.code: problem for problem in audit_stands(plan)}


def test_a_sound_day_has_no_problems() -> None:
    assert problems() == {}


def test_an_unbagged_stand_stops_with_the_bag_to_hang() -> None:
    problem = problems(a_setup(a_light()))["stand-tips"]
    assert (problem.level, problem.setup, problem.item) == ("stop", "one", "S1")
    assert problem.what == "tips at 8.9° of lean, 10° required; a push of 0.7 kgf at the load is enough"
    assert problem.do == "hang B1 (7 kg) at the column (0.8 kg needed), or lower it to 1.77 m"


def test_a_thin_factor_warns() -> None:
    # 12 kg held at 0.26 m against 5 kg 0.44 m past the edge: between 1.3 and 1.5
    kit = a_kit(
        stands=(a_stand(mass_kg=2.0, load_max_kg=20),),
        heads=(a_head(1.0),),
        modifiers=(a_box(5.0, 1.2),),
        bags=bags(6.0),
    )
    problem = problems(BAGGED, kit, replace(PLACE, tilt_limit_deg=1.0))["stand-barely-stands"]
    assert (problem.level, problem.what) == ("warn", "what holds it is 1.38 times what tips it, 1.5 required")


def test_too_few_bags_in_the_kit() -> None:
    problem = problems(BAGGED, a_kit(bags=bags(0.5)))["bags-too-few"]
    assert (problem.level, problem.what) == (
        "stop",
        "bags in the kit are 0.3 kg short: 0.3 kg on S1, with B1 (0.5 kg) to S1",
    )
    assert "bags-too-few" not in problems(a_setup(a_light()))


def test_bags_on_panels_are_taken() -> None:
    kit = a_kit(bags=bags(7.0), panels=(Panel("flat", 1.2, 2.4, 0.85, mass_kg=9.0),))
    flat = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=("B1",))
    assert "bags-too-few" in problems(a_setup(a_light(), panels=(flat,)), kit)


def test_an_overloaded_stand_stops() -> None:
    problem = problems(kit=a_kit(stands=(a_stand(load_max_kg=3.0),)))["stand-overloaded"]
    assert (problem.level, problem.what) == ("stop", "carries 3.3 kg of 3 kg allowed")


@pytest.mark.parametrize(
    ("boom", "code", "level", "do"),
    [
        ({"counterweight_kg": 6.0}, "counterweight-small", "stop", "hang 7.4 kg at 0.8 m"),
        (
            {"counterweight_kg": 9.0},
            "counterweight-large",
            "warn",
            "hang 7.4 kg at 0.8 m, or slide the 9 kg in to 0.66 m",
        ),
        (
            {"arm_m": 0.3, "arm_back_m": 2.0, "arm_mass_kg": 3.0},
            "counterweight-large",
            "warn",
            "shorten the back of the arm: it is heavier than the head side",
        ),
        (
            {"arm_m": None},
            "boom-without-arm",
            "stop",
            "measure arm_m (pivot to head) and arm_back_m (pivot to counterweight) for the kit",
        ),
    ],
)
def test_a_boom_that_does_not_balance(boom: dict[str, object], code: str, level: str, do: str) -> None:
    problem = problems(BOOM, a_kit(stands=(a_boom(**boom),)))[code]
    assert (problem.level, problem.do) == (level, do)


def test_a_stand_that_does_not_come_down_to_reach_warns() -> None:
    assert "over-reach" in problems(kit=a_kit(stands=(a_stand(height_min_m=2.0),)))
    assert "over-reach" not in problems(a_setup(a_light(height_m=2.4, bags=("B1", "B2"))))


@pytest.mark.parametrize(
    ("gust", "expected"),
    # the limit of this stand with its bag is 4.7 m/s
    [(2.7, None), (3.0, ("note", "wind-watch")), (4.0, ("warn", "wind-act")), (5.0, ("stop", "wind-past-limit"))],
)
def test_wind_by_its_steps(gust: float, expected: tuple[str, str] | None) -> None:
    levels = [(problem.level, code) for code, problem in problems(place=Place(indoors=False, gust_ms=gust)).items()]
    assert levels == ([expected] if expected else [])


def test_a_wind_finding_names_its_source() -> None:
    assert problems(place=Place(wind_ms=5.0))["wind-past-limit"].what.startswith("draught of 5.0 m/s")
    assert problems(place=Place(fan_ms=5.0))["wind-past-limit"].what == (
        "fan of 5.0 m/s (gentle breeze); limit 4.6, tips at 5.7 m/s"
    )


def panel_problems(gust: float, *hung: str, **panel: object) -> dict[str, Problem]:
    """The problems of a V-flat of 9 kg on feet of 0.25 m, its middle 1.2 m up, in a gust."""
    values = {"width_m": 1.2, "height_m": 2.4, "mass_kg": 9.0, "foot_radius_m": 0.25} | panel
    flat = Panel("flat", **values, reflectance=0.85)  # type: ignore[arg-type]
    setup = a_setup(a_light(bags=("B1",)), panels=(PanelPlace("flat", "left", 80, 0.8, 1.2, bags=hung),))
    kit, place = a_kit(panels=(flat,), bags=bags(7.0, 5.0)), Place(indoors=gust == 0, gust_ms=gust or None)
    audit = audit_stands(a_plan(setup, kit=kit, place=place, crew=PAIR))
    return {problem.code: problem for problem in audit if problem.item == "flat"}


def test_a_panel_has_the_limits_of_a_stand() -> None:
    # 14 kg on 0.25 m of feet: tips at 3.68 m/s, its limit is 3.00; watch at 1.80, act at 2.40
    steps = {1.7: set(), 1.9: {"wind-watch"}, 2.5: {"wind-act"}, 3.1: {"wind-past-limit"}}
    assert {gust: set(panel_problems(gust, "B2")) for gust in steps} == steps
    assert panel_problems(3.1, "B2")["wind-past-limit"].level == "stop"


def test_a_panel_on_narrow_feet_needs_a_bag() -> None:
    assert panel_problems(0.0, foot_radius_m=0.15)["panel-tips"].level == "stop"
    assert panel_problems(0.0, "B2", foot_radius_m=0.15) == {}


@pytest.mark.parametrize("gust", [0.0, 5.0])
@pytest.mark.parametrize(("key", "value"), [("foot_radius_m", None), ("mass_kg", 0.0)])
def test_a_panel_whose_feet_or_mass_are_unknown_warns_once_a_day(gust: float, key: str, value: float | None) -> None:
    problem = panel_problems(gust, "B2", **{key: value})["panel-feet-unknown"]
    assert (problem.level, problem.setup) == ("warn", None)
    assert key in problem.do


def test_legs_turned_otherwise_than_the_checklist_says_warn() -> None:
    # legs of 0.35 m, 0.6 kg of head and a 3.5 kg box 0.75 m deep at 1.71 m; 5 kg at the far legs
    kit = a_kit(
        stands=(a_stand(foot_radius_m=0.35, mass_kg=2.5),),
        heads=(a_head(0.6),),
        modifiers=(a_box(3.5, 0.75),),
        bags=bags(5.0),
    )

    def of_light(**more: object) -> Problem | None:
        return problems(a_setup(a_light(height_m=1.71, bags=("B1",), **more)), kit).get("far-legs-turn")

    problem = of_light(bags_at="far legs")
    assert problem is not None
    assert problem.level == "warn"
    assert problem.what == (
        "tips at 11.1° with one leg straight away from the load, but at 5.4° with one leg under the load"
    )
    assert problem.do.startswith("turn it with one leg straight away from the load")
    assert of_light(bags_at="far legs", leg_under_load=True) is None
    assert of_light() is None


def test_stands_that_share_bags_have_them_by_name() -> None:
    kit = a_kit(
        stands=(a_stand(), a_stand(id="S2")),
        heads=(a_head(), replace(a_head(), id="B")),
        modifiers=(a_box(), replace(a_box(), id="octa-2")),
        bags=bags(7.0, 5.0),
    )
    other = a_light(head="B", stand="S2", modifier="octa-2")
    plan = a_plan(a_setup(a_light(), other), kit=kit, crew=PAIR)
    both = {(problem.item, problem.do.split(" at ")[0]) for problem in audit_stands(plan) if problem.level == "stop"}
    assert both == {("S1", "hang B2 (5 kg)"), ("S2", "hang B1 (7 kg)")}
    # both bags on one stand: they are shared again
    piled = problems(a_setup(a_light(bags=("B1", "B2")), other), kit)
    assert piled["bags-shared-anew"].do.count("kg)") == 2
    scarce = problems(a_setup(a_light(), other), replace(kit, bags=bags(7.0)))["bags-too-few"]
    assert "B1 (7 kg) to S" in scarce.what


def test_like_lifts_share_one_warning_and_a_measured_handle_ends_it() -> None:
    heavy, setup = bags(13.0, 13.0, 13.0), a_setup(a_light(bags=("B1", "B2", "B3")))
    problem = problems(setup, a_kit(bags=heavy))["lift-alone"]
    assert problem.item == "B1"
    assert problem.what == (
        "B1, B2, B3: 13.0 kg, over the 7 kg one person lifts from 0.10 m up; needs 4 people, the crew is 2"
    )
    assert "grip_m" in problem.do
    handled = a_kit(bags=tuple(replace(bag, grip_m=0.3) for bag in heavy))
    assert "lift-alone" not in problems(setup, handled, crew=ONE)


def test_a_boom_is_no_lift_for_one() -> None:
    kit = a_kit(stands=(a_boom(counterweight_kg=7.4),), bags=bags(9.0))
    assert problems(BOOM, kit, crew=())["lift-alone"].item in ("boom", "B1")
    assert problems(BOOM, kit) == {}


def test_a_head_over_the_filter_is_a_lift_for_two() -> None:
    # HSE L23 filter, women's column, hands from the shin to the shoulder: 13 kg
    heavy = a_kit(heads=(a_head(14.0),), stands=(a_stand(load_max_kg=20.0),))
    assert problems(kit=heavy, crew=ONE)["lift-alone"].item == "A"
    assert "lift-alone" not in problems(kit=heavy)
    # 8 kg is under the 13 kg of the shoulder's zone, over the 7 kg above it (HSE L23, lower column)
    low, tall = (a_kit(heads=(a_head(8.0),), stands=(a_stand(load_max_kg=20.0, height_min_m=m),)) for m in (1.05, 1.8))
    assert "lift-alone" not in problems(kit=low, crew=ONE)
    assert "lift-alone" in problems(kit=tall, crew=ONE)


def test_mains_on_one_circuit() -> None:
    kit = a_kit(heads=(a_head(mains=True, modelling_w=650),))
    assert "circuit_a" in problems(kit=kit)["circuit-unknown"].do
    assert problems(kit=kit, place=replace(PLACE, circuit_a=16.0)) == {}
    assert problems(kit=kit, place=replace(PLACE, circuit_a=3.0))["circuit-overloaded"].level == "stop"


@pytest.mark.parametrize(
    ("head", "codes"),
    [
        ({}, {"battery-unknown"}),
        ({"battery_wh": 100.0, "spare_batteries": 9}, set()),
        ({"battery_wh": 120.0, "spare_batteries": 2}, {"battery-needs-approval"}),
        ({"battery_wh": 120.0, "spare_batteries": 3}, {"battery-needs-approval", "battery-spares"}),
        ({"battery_wh": 161.0}, {"battery-refused"}),
        ({"mains": True}, {"circuit-unknown"}),
    ],
)
def test_batteries_that_fly(head: dict[str, object], codes: set[str]) -> None:
    assert set(problems(kit=a_kit(heads=(a_head(**head),)), place=replace(PLACE, travel_by_air=True))) == codes
