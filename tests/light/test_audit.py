from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.light.audit import audit_light, head_ways_out
from runbook.light.prediction import predict
from runbook.model.day import Plan
from runbook.model.problems import Problem
from runbook.model.setup import Exposure


def found(plan: Plan, code: str) -> Problem:
    (only,) = [problem for problem in audit_light(plan) if problem.code == code]
    return only


def codes(plan: Plan) -> set[str]:
    return {problem.code for problem in audit_light(plan)}


def well_set(studio: Any, **more: Any) -> Any:
    """A key that reads f/5.6 within a third at the power it is set to."""
    return studio.light(below="10/3", aim_reading_f=5.6, **more)


WELL = Exposure(5.6, "1/160")  # what the well set key lights the face for


def test_nothing_is_said_of_a_setup_that_works(studio: Any) -> None:
    assert audit_light(studio.plan(studio.setup(well_set(studio), exposure=WELL), lux=1.0)) == ()


def test_too_bright_at_the_least_power_stops_with_numbers_that_work(studio: Any) -> None:
    head = studio.head("A", power_min="1/16")
    light = studio.light(below=4, aim_reading_f=2.0, distance_m=1.0)
    setup = studio.setup(light, exposure=Exposure(2.0, "1/160"))
    plan = studio.plan(setup, kit=studio.kit(heads=(head,)), lux=1.0)
    problem = found(plan, "dial-too-low")
    assert (problem.level, problem.setup, problem.item) == ("stop", "one", "A")
    assert "1/16" in problem.what
    back = re.search(r"back to ([\d.]+) m", problem.do)
    nd = re.search(r"([\d.]+) stops of ND", problem.do)
    assert back and nd
    moved = studio.setup(replace(light, distance_m=float(back[1])))
    after = predict(studio.plan(moved, kit=plan.kit), moved).heads[0]
    assert after.dial is not None
    assert after.dial.in_range
    assert after.reads_stops == pytest.approx(2.0, abs=0.05)
    before = predict(plan, setup).heads[0]
    assert before.reads_stops == pytest.approx(2.0 + float(nd[1]), abs=0.06)


def test_too_dim_at_full_says_how_near_or_what_iso(studio: Any) -> None:
    light = studio.light(below=0, aim_reading_f=22.0, distance_m=3.0)
    setup = studio.setup(light)
    plan = studio.plan(setup, lux=1.0)
    problem = found(plan, "dial-too-high")
    assert "in to" in problem.do
    ways = head_ways_out(plan, setup, predict(plan, setup).heads[0])
    assert ways is not None and ways.distance_m is not None and ways.iso is not None
    assert ways.nd_stops is None
    assert f"ISO {ways.iso}" in problem.do
    nearer = studio.setup(replace(light, distance_m=ways.distance_m))
    assert predict(studio.plan(nearer), nearer).heads[0].reads_stops == pytest.approx(9)
    faster = studio.setup(light, exposure=Exposure(4.0, "1/160", float(ways.iso)))
    assert (predict(studio.plan(faster), faster).heads[0].reads_stops or 0) >= 9


@pytest.mark.parametrize(("f", "near_m", "code"), [(2.0, 1.0, "dial-too-low"), (22.0, 3.0, "dial-too-high")])
def test_the_tape_in_feet_and_inches_works_too(studio: Any, f: float, near_m: float, code: str) -> None:
    head = studio.head("A", power_min="1/16")
    light = studio.light(below=4 if f == 2.0 else 0, aim_reading_f=f, distance_m=near_m)
    plan = studio.plan(studio.setup(light), kit=studio.kit(heads=(head,)), lux=1.0)
    problem = found(replace(plan, day=replace(plan.day, units="imperial")), code)
    tape = re.search(r"(?:back|in) to (\d+) ft (\d+) in,", problem.do)
    assert tape
    there = replace(light, distance_m=0.3048 * (int(tape[1]) + int(tape[2]) / 12))
    moved = studio.setup(there)
    dial = predict(studio.plan(moved, kit=plan.kit), moved).heads[0].dial
    assert dial is not None
    assert dial.in_range


@pytest.mark.parametrize(("below", "code"), [(2, "reading-over"), (5, "reading-under")])
def test_off_the_asked_reading_says_what_to_dial(studio: Any, below: int, code: str) -> None:
    setup = studio.setup(studio.light(below=below, aim_reading_f=5.6))
    problem = found(studio.plan(setup, lux=1.0), code)
    dialled = predict(studio.plan(setup), setup).heads[0].dial
    assert dialled is not None
    assert (problem.level, problem.do) == ("warn", f"set A to {dialled.power}")


def test_a_third_off_is_near_enough(studio: Any) -> None:
    for below in ("9/3", "10/3", "11/3"):
        setup = studio.setup(studio.light(below=below, aim_reading_f=5.6))
        head = predict(studio.plan(setup), setup).heads[0]
        assert head.reads_stops is not None
        assert ("reading-over" in codes(studio.plan(setup))) == (head.reads_stops - 5 > 1 / 3)
        assert ("reading-under" in codes(studio.plan(setup))) == (head.reads_stops - 5 < -1 / 3)


def test_a_head_asked_to_read_where_it_does_not_shine(studio: Any) -> None:
    light = studio.light(aim="background", angle_deg=170.0, distance_m=0.8, height_m=1.25, aim_reading_f=4.0)
    assert found(studio.plan(studio.setup(light)), "light-misses-face").item == "A"


def test_a_head_that_is_off_is_not_asked_anything(studio: Any) -> None:
    setup = studio.setup(studio.light(below=None, aim_reading_f=4.0))
    assert audit_light(studio.plan(setup)) == ()


def test_a_spread_that_nobody_gave_is_noted(studio: Any) -> None:
    bare = studio.light("B", 6, modifier="bare", role="rim", angle_deg=100.0)
    problem = found(studio.plan(studio.setup(well_set(studio), bare), lux=1.0), "spread-assumed")
    assert (problem.level, problem.item) == ("note", "B")
    off = replace(bare, power=studio.power(None))
    assert "spread-assumed" not in codes(studio.plan(studio.setup(well_set(studio), off), lux=1.0))


def test_flare_and_in_frame_name_the_thing(studio: Any) -> None:
    rim = studio.light(role="rim", angle_deg=180.0, height_m=1.5)
    place = studio.place(angle_deg=0.0, distance_m=0.5)
    problems = audit_light(studio.plan(studio.setup(rim, panels=(place,)), lux=1.0))
    assert {(p.code, p.item) for p in problems} == {("flare", "A"), ("in-frame", "A"), ("in-frame", "flat-1")}


@pytest.mark.parametrize(
    ("lux", "problem"),
    [
        (20_000.0, ("stop", "ambient-over")),
        (1000.0, ("warn", "ambient-shows")),
        (300.0, ("note", "ambient-shows")),
        (50.0, None),
    ],
)
def test_ambient_not_buried(studio: Any, lux: float, problem: tuple[str, str] | None) -> None:
    plan = studio.plan(studio.setup(well_set(studio)), lux=lux)
    of_room = [(p.level, p.code) for p in audit_light(plan) if p.code.startswith("ambient")]
    assert of_room == ([problem] if problem else [])


def test_ambient_over_the_aperture_stops_and_says_how_far_over(studio: Any) -> None:
    """4,000 lux at f/4, 1/30, ISO 200: N² = t·ISO·lux/250 is 2.6 stops over f/4."""
    setup = studio.setup(well_set(studio), exposure=Exposure(4.0, "1/30", 200))
    plan = studio.plan(setup, lux=4000.0)
    assert predict(plan, setup).ambient_under_stops == pytest.approx(-2.644, abs=1e-3)
    problem = found(plan, "ambient-over")
    assert problem.level == "stop"
    assert "2.6 stops over" in problem.what
    assert "under" not in problem.what
    assert "close down 4.0 stops of it" in problem.do  # the lens ends at f/16


@settings(max_examples=50, deadline=None)
@given(st.floats(0.5, 5000), st.sampled_from(["1/15", "1/60", "1/160"]), st.sampled_from([100, 800]))
def test_no_remedy_asks_for_a_room_without_light(studio: Any, lux: float, shutter: str, iso: int) -> None:
    setup = studio.setup(well_set(studio), exposure=Exposure(2.0, shutter, iso))
    for problem in audit_light(studio.plan(setup, lux=lux)):
        if problem.code.startswith("ambient"):
            darker = re.search(r"to ([\d.e-]+) lux", problem.do)
            assert darker and float(darker[1]) > 0


@pytest.mark.parametrize(("below", "code"), [("7/3", "whole-over"), ("15/3", "whole-under")])
def test_the_whole_off_the_aperture_warns(studio: Any, below: str, code: str) -> None:
    """The dome turned to the camera, more than 0.3 stop off, whether anything is asked or not."""
    setup = studio.setup(studio.light(below=below), exposure=Exposure(5.6, "1/160"))
    plan = studio.plan(setup, lux=1.0)
    assert abs(predict(plan, setup).whole_over_stops or 0) > 0.3
    assert found(plan, code).level == "warn"


def test_a_set_lit_off_a_flat_only_is_not_passed_in_silence(studio: Any) -> None:
    key = studio.light(modifier="dish", aim="flat-1", angle_deg=50.0, below=2)
    flat = studio.place(angle_deg=30.0, distance_m=1.8)
    setup = studio.setup(key, panels=(flat,), exposure=Exposure(5.6, "1/160"))
    plan = studio.plan(setup, lux=1.0)
    assert (predict(plan, setup).whole_over_stops or 0) < -1
    assert "whole-under" in codes(plan)


def test_the_remedy_for_the_whole_goes_with_the_dials_shown(studio: Any) -> None:
    """A key a stop too bright: dialled as asked the whole is right, and nothing more is to do."""
    setup = studio.setup(studio.light(below="7/3", aim_reading_f=5.6), exposure=WELL)
    plan = studio.plan(setup, lux=1.0)
    light = predict(plan, setup)
    (key,) = light.heads
    assert key.dial is not None
    problem = found(plan, "whole-over")
    assert problem.do.startswith(f"set A to {key.dial.power} as asked: then ")
    assert "lens" not in problem.do
    dialled = replace(setup, lights=(replace(setup.lights[0], power=key.dial.power),))
    after = predict(plan, dialled).whole_over_stops
    assert after == pytest.approx(light.whole_as_asked_over_stops)
    assert after is not None and abs(after) <= 0.3


def test_the_remedies_for_ambient_bury_it(studio: Any) -> None:
    setup = studio.setup(well_set(studio), exposure=Exposure(4.0, "1/60", 400))
    plan = studio.plan(setup, lux=300.0)
    problem = found(plan, "ambient-shows")
    under = predict(plan, setup).ambient_under_stops
    assert under is not None
    darker = re.search(r"to (\d+) lux", problem.do)
    close = re.search(r"close down ([\d.]+) stops", problem.do)
    assert darker and close
    after = predict(studio.plan(setup, lux=float(darker[1])), setup).ambient_under_stops
    assert after == pytest.approx(5, abs=0.1)
    assert float(close[1]) == pytest.approx(5 - under, abs=0.06)
    assert "1/200 for 1.7 stops" in problem.do
    assert "ISO 100" in problem.do
    half = studio.plan(setup, lux=30.0)  # 0.6 stop to go: no need to go down all the way
    assert "ISO 250 for 0.7 stops" in found(half, "ambient-shows").do


def test_a_room_shot_without_flash_is_not_warned_of_its_light(studio: Any) -> None:
    assert codes(studio.plan(studio.setup(), lux=1000.0)) == set()


def test_recycling_slower_than_the_shoot(studio: Any) -> None:
    setup = studio.setup(studio.light(below=0), frames=120, shoot_min=2.0)
    problem = found(studio.plan(setup, lux=1.0), "recycle-slow")
    assert "1.8 s" in problem.what
    assert "every 1.0 s" in problem.what
    assert "allow 4 min" in problem.do  # 120 frames of 1.8 s are 3.6 minutes
    assert "set 1/2 " in problem.do  # 0.95 s: the highest power that keeps up
    assert "1.0 stops" in problem.do


def test_batteries_say_when_and_whether_there_are_enough(studio: Any) -> None:
    def plan(spares: int) -> Plan:
        head = studio.head("A", flashes_full=100.0, spare_batteries=spares)
        light = studio.light(below=1)
        setups = [studio.setup(light, setup_id=name, frames=120, shoot_min=60.0) for name in ("one", "two", "three")]
        return studio.plan(*setups, kit=studio.kit(heads=(head,)), lux=1.0)

    changes = [p for p in audit_light(plan(2)) if p.code == "battery-change"]
    assert [(p.level, p.setup) for p in changes] == [("note", "two"), ("note", "three")]
    assert "battery-short" not in codes(plan(2))
    short = found(plan(1), "battery-short")
    assert short.level == "warn"
    assert "bring 1 more" in short.do


def test_a_setup_one_charge_cannot_last(studio: Any) -> None:
    head = studio.head("A", flashes_full=30.0, spare_batteries=5)
    plan = studio.plan(studio.setup(studio.light(below=0)), kit=studio.kit(heads=(head,)))
    assert found(plan, "battery-overrun").setup == "one"


def test_predictions_already_made_are_used(studio: Any) -> None:
    setup = studio.setup(studio.light(below=2, aim_reading_f=5.6))
    plan = studio.plan(setup, lux=1.0)
    well = studio.setup(well_set(studio), exposure=WELL)
    given = {"one": predict(studio.plan(well), well)}
    assert audit_light(plan)
    assert audit_light(plan, predictions=given) == ()
