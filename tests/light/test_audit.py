import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.light.audit import audit_light
from runbook.light.prediction import HeadLight, predict
from runbook.model.day import Plan, Problem
from runbook.model.setup import Background, Exposure, Setup

WELL = Exposure(5.6, "1/160")  # what the well set key lights the face for


def problem_of(plan: Plan, code: str) -> Problem:
    (only,) = [problem for problem in audit_light(plan) if problem.code == code]
    return only


def codes(plan: Plan) -> set[str]:
    return {problem.code for problem in audit_light(plan)}


def well_set(studio: Any, **more: Any) -> Any:
    """A key that reads f/5.6 within a third at the power it is set to."""
    return studio.light(below="10/3", aim_reading_f=5.6, **more)


def head_of(plan: Plan, setup: Setup) -> HeadLight:
    return predict(plan, setup).heads[0]


def number(pattern: str, text: str) -> float:
    match = re.search(pattern, text)
    assert match, text
    return float(match[1])


def test_a_setup_that_works_has_no_problem(studio: Any) -> None:
    assert audit_light(studio.plan(studio.setup(well_set(studio), exposure=WELL), lux=1.0)) == ()


def test_too_bright_at_the_least_power_stops_with_numbers_that_work(studio: Any) -> None:
    light = studio.light(below=4, aim_reading_f=2.0, distance_m=1.0)
    setup = studio.setup(light, exposure=Exposure(2.0, "1/160"))
    plan = studio.plan(setup, kit=studio.kit(heads=(studio.head("A", power_min="1/16"),)), lux=1.0)
    problem = problem_of(plan, "dial-too-low")
    assert (problem.level, problem.setup, problem.item) == ("stop", "one", "A")
    assert "1/16" in problem.what
    moved = studio.setup(replace(light, distance_m=number(r"back to ([\d.]+) m", problem.do)))
    after = head_of(studio.plan(moved, kit=plan.kit), moved)
    assert after.dial is not None and after.dial.in_range
    assert after.reads_stops == pytest.approx(2.0, abs=0.05)
    nd = number(r"([\d.]+) stops of ND", problem.do)
    assert head_of(plan, setup).reads_stops == pytest.approx(2.0 + nd, abs=0.06)


def test_too_dim_at_full_names_a_distance_and_an_iso(studio: Any) -> None:
    light = studio.light(below=0, aim_reading_f=22.0, distance_m=3.0)
    problem = problem_of(studio.plan(studio.setup(light), lux=1.0), "dial-too-high")
    assert "ND" not in problem.do
    nearer = studio.setup(replace(light, distance_m=number(r"in to ([\d.]+) m", problem.do)))
    assert head_of(studio.plan(nearer), nearer).reads_stops == pytest.approx(9, abs=0.05)
    faster = studio.setup(light, exposure=Exposure(4.0, "1/160", number(r"ISO (\d+)", problem.do)))
    assert (head_of(studio.plan(faster), faster).reads_stops or 0) >= 9
    # 1.9 m over the face it can come no nearer than that
    high = studio.setup(replace(light, height_m=3.2))
    assert "move it" not in problem_of(studio.plan(high, lux=1.0), "dial-too-high").do


@pytest.mark.parametrize(("f", "near_m", "code"), [(2.0, 1.0, "dial-too-low"), (22.0, 3.0, "dial-too-high")])
def test_the_tape_in_feet_and_inches_works_too(studio: Any, f: float, near_m: float, code: str) -> None:
    light = studio.light(below=4 if f == 2.0 else 0, aim_reading_f=f, distance_m=near_m)
    plan = studio.plan(studio.setup(light), kit=studio.kit(heads=(studio.head("A", power_min="1/16"),)), lux=1.0)
    problem = problem_of(replace(plan, day=replace(plan.day, units="imperial")), code)
    feet, inches = (number(rf"(?:back|in) to {group} in,", problem.do) for group in (r"(\d+) ft \d+", r"\d+ ft (\d+)"))
    moved = studio.setup(replace(light, distance_m=0.3048 * (feet + inches / 12)))
    dial = head_of(studio.plan(moved, kit=plan.kit), moved).dial
    assert dial is not None and dial.in_range


@pytest.mark.parametrize(("below", "code"), [(2, "reading-over"), (5, "reading-under")])
def test_off_the_asked_reading_the_remedy_is_the_power_to_dial(studio: Any, below: int, code: str) -> None:
    setup = studio.setup(studio.light(below=below, aim_reading_f=5.6))
    problem, dial = problem_of(studio.plan(setup, lux=1.0), code), head_of(studio.plan(setup), setup).dial
    assert dial is not None
    assert (problem.level, problem.do) == ("warn", f"set A to {dial.power}")


@pytest.mark.parametrize("below", ["9/3", "10/3", "11/3"])
def test_a_third_off_is_near_enough(studio: Any, below: str) -> None:
    plan = studio.plan(studio.setup(studio.light(below=below, aim_reading_f=5.6)))
    off = (head_of(plan, plan.order[0]).reads_stops or 0) - 5
    assert ("reading-over" in codes(plan), "reading-under" in codes(plan)) == (off > 1 / 3, off < -1 / 3)


def test_a_head_asked_to_read_where_it_does_not_shine(studio: Any) -> None:
    light = studio.light(aim="background", angle_deg=170.0, distance_m=0.8, height_m=1.25, aim_reading_f=4.0)
    assert problem_of(studio.plan(studio.setup(light)), "light-misses-face").item == "A"


def test_an_assumed_spread_is_noted_for_heads_that_fire(studio: Any) -> None:
    bare = studio.light(modifier="bare")
    assert problem_of(studio.plan(studio.setup(bare)), "spread-assumed").level == "note"
    assert "spread-assumed" not in codes(studio.plan(studio.setup(replace(bare, power=studio.power(None)))))


def test_flare_and_in_frame_name_the_thing(studio: Any) -> None:
    rim = studio.light(role="rim", angle_deg=180.0, height_m=1.5)
    place = studio.place(angle_deg=120.0, distance_m=0.5)
    problems = audit_light(studio.plan(studio.setup(rim, panels=(place,)), lux=1.0))
    assert {("flare", "A"), ("in-frame", "A"), ("in-frame", "flat-1")} <= {(p.code, p.item) for p in problems}


@pytest.mark.parametrize(
    ("scatter", "side", "noted"), [(1.0, "right", True), (0.3, "right", False), (1.0, "left", False)]
)
def test_a_panel_that_only_a_hung_cloth_lights_is_noted(studio: Any, scatter: float, side: str, noted: bool) -> None:
    """Not one that the head lights too, straight through a thin cloth, nor one with its back to the cloth."""
    kit = studio.kit(cloths=(replace(studio.kit().cloth["voile"], scatter=scatter),))
    key = studio.light(side="left", angle_deg=60.0, distance_m=2.5, aim_reading_f=4.0)
    hung, place = studio.hang(angle_deg=60.0, distance_m=1.3), studio.place(side=side, angle_deg=90.0)
    plan = studio.plan(studio.setup(key, hung_cloths=(hung,), panels=(place,)), kit=kit)
    assert ("second-bounce" in codes(plan)) == noted


def test_cloths_in_front_of_the_face_and_before_the_background_are_told(studio: Any) -> None:
    before, behind = studio.hang(angle_deg=0.0), studio.hang(angle_deg=180.0, distance_m=1.0)
    setup = studio.setup(well_set(studio), background=Background(2.0, 0.9), hung_cloths=(before,))
    assert problem_of(studio.plan(setup), "in-frame").item == "voile"
    hidden = replace(setup, hung_cloths=(behind,))
    assert problem_of(studio.plan(hidden), "background-hidden").item == "voile"
    assert not {"background-hidden", "in-frame"} & codes(studio.plan(replace(hidden, background=Background(2.0))))


@pytest.mark.parametrize(("lux", "problem"), [
    (20_000.0, ("stop", "ambient-over")),
    (1000.0, ("warn", "ambient-shows")),
    (300.0, ("note", "ambient-shows")),
    (50.0, None),
])  # fmt: skip
def test_ambient_not_buried(studio: Any, lux: float, problem: tuple[str, str] | None) -> None:
    plan = studio.plan(studio.setup(well_set(studio)), lux=lux)
    of_room = [(p.level, p.code) for p in audit_light(plan) if p.code.startswith("ambient")]
    assert of_room == ([problem] if problem else [])


def test_ambient_over_the_aperture_is_given_as_over_it(studio: Any) -> None:
    """4,000 lux at f/4, 1/30, ISO 200: N² = t·ISO·lux/250 is 2.6 stops over f/4."""
    setup = studio.setup(well_set(studio), exposure=Exposure(4.0, "1/30", 200))
    plan = studio.plan(setup, lux=4000.0)
    assert predict(plan, setup).ambient_under_stops == pytest.approx(-2.644, abs=1e-3)
    problem = problem_of(plan, "ambient-over")
    assert "2.6 stops over" in problem.what
    assert "close down 4.0 stops of it" in problem.do  # the lens ends at f/16


@settings(max_examples=50, deadline=None)
@given(st.floats(0.5, 5000), st.sampled_from(["1/15", "1/60", "1/160"]), st.sampled_from([100, 800]))
def test_no_remedy_asks_for_a_room_without_light(studio: Any, lux: float, shutter: str, iso: int) -> None:
    setup = studio.setup(well_set(studio), exposure=Exposure(2.0, shutter, iso))
    for problem in audit_light(studio.plan(setup, lux=lux)):
        if problem.code.startswith("ambient"):
            assert number(r"to ([\d.e-]+) lux", problem.do) > 0


def test_the_remedies_for_ambient_bury_it(studio: Any) -> None:
    setup = studio.setup(well_set(studio), exposure=Exposure(4.0, "1/60", 400))
    plan = studio.plan(setup, lux=300.0)
    do, under = problem_of(plan, "ambient-shows").do, predict(plan, setup).ambient_under_stops
    assert under is not None
    darker = studio.plan(setup, lux=number(r"to (\d+) lux", do))
    assert predict(darker, setup).ambient_under_stops == pytest.approx(5, abs=0.1)
    assert number(r"close down ([\d.]+) stops", do) == pytest.approx(5 - under, abs=0.06)
    assert "1/200 for 1.7 stops" in do
    assert "ISO 100" in do
    half = studio.plan(setup, lux=30.0)  # 0.6 stop to go: no need to go down all the way
    assert "ISO 250 for 0.7 stops" in problem_of(half, "ambient-shows").do


def test_a_room_shot_without_flash_is_not_warned_of_its_light(studio: Any) -> None:
    assert codes(studio.plan(studio.setup(), lux=1000.0)) == set()


@pytest.mark.parametrize(("below", "code"), [("7/3", "whole-over"), ("15/3", "whole-under")])
def test_the_whole_off_the_aperture_warns(studio: Any, below: str, code: str) -> None:
    """The dome turned to the camera, more than 0.3 stop off, whether anything is asked or not."""
    setup = studio.setup(studio.light(below=below), exposure=Exposure(5.6, "1/160"))
    plan = studio.plan(setup, lux=1.0)
    assert abs(predict(plan, setup).whole_over_stops or 0) > 0.3
    assert problem_of(plan, code).level == "warn"


def test_a_set_lit_off_a_flat_only_is_warned_of_too(studio: Any) -> None:
    key = studio.light(modifier="dish", aim="flat-1", angle_deg=50.0, below=2)
    setup = studio.setup(key, panels=(studio.place(angle_deg=30.0, distance_m=1.8),), exposure=WELL)
    plan = studio.plan(setup, lux=1.0)
    assert (predict(plan, setup).whole_over_stops or 0) < -1
    assert "whole-under" in codes(plan)


def test_the_remedy_for_the_whole_goes_with_the_dials_shown(studio: Any) -> None:
    """A key a stop too bright: dialled as asked the whole is right, and nothing more is to do."""
    setup = studio.setup(studio.light(below="7/3", aim_reading_f=5.6), exposure=WELL)
    plan = studio.plan(setup, lux=1.0)
    light, problem = predict(plan, setup), problem_of(plan, "whole-over")
    dial = light.heads[0].dial
    assert dial is not None
    assert problem.do.startswith(f"set A to {dial.power} as asked: then ")
    assert "lens" not in problem.do
    after = predict(plan, replace(setup, lights=(replace(setup.lights[0], power=dial.power),)))
    assert after.whole_stops == pytest.approx(light.whole_as_asked_stops)
    assert abs(after.whole_over_stops or 1) <= 0.3


def test_recycling_slower_than_the_shoot(studio: Any) -> None:
    setup = studio.setup(studio.light(below=0), frames=120, shoot_min=2.0)
    problem = problem_of(studio.plan(setup, lux=1.0), "recycle-slow")
    assert "1.8 s" in problem.what
    assert "every 1.0 s" in problem.what
    assert "allow 4 min" in problem.do  # 120 frames of 1.8 s are 3.6 minutes
    assert "set 1/2 " in problem.do  # 0.95 s: the highest power that keeps up
    assert "1.0 stops" in problem.do


def test_batteries_are_changed_in_time_and_enough(studio: Any) -> None:
    def plan(spares: int, of: float = 100.0) -> Plan:
        head = studio.head("A", flashes_full=of, spare_batteries=spares)
        light = studio.light(below=1)
        setups = [studio.setup(light, setup_id=name, frames=120, shoot_min=60.0) for name in ("one", "two", "three")]
        return studio.plan(*setups, kit=studio.kit(heads=(head,)), lux=1.0)

    changes = [p for p in audit_light(plan(2)) if p.code == "battery-change"]
    assert [(p.level, p.setup) for p in changes] == [("note", "two"), ("note", "three")]
    assert "battery-short" not in codes(plan(2))
    short = problem_of(plan(1), "battery-short")
    assert short.level == "warn"
    assert "bring 1 more" in short.do
    overruns = [p.setup for p in audit_light(plan(9, of=30.0)) if p.code == "battery-overrun"]
    assert overruns == ["one", "two", "three"]
