"""What a check finds in the hours, the hands and the heads of a day."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

from runbook.day.changeovers import changeover_of
from runbook.day.day_audit import audit_day, power_for
from runbook.model.day import Break, Crew, Plan, Problem
from runbook.model.power import Power
from runbook.model.setup import Setup
from runbook.stands.lifting import lift_problems
from tests.day import sets
from tests.day.days import demo, short


def problems(plan: Plan, code: str) -> list[Problem]:
    return [problem for problem in audit_day(plan) if problem.code == code]


def with_day(plan: Plan, **more: object) -> Plan:
    return replace(plan, day=replace(plan.day, **more))  # type: ignore[arg-type]


def test_a_thing_too_heavy_for_the_crew_is_one_warning() -> None:
    assert problems(demo(), "too-few-hands") == []
    alone = with_day(demo(), crew=(Crew("photo"),))
    assert [each.item for each in lift_problems(alone)] == ["boom"]
    assert problems(alone, "too-few-hands") == []


def test_a_step_for_more_people_than_its_thing_is_a_warning() -> None:
    # stand and head are each light enough for one; moved together they are not
    plan = sets.plan(*(sets.setup(sets.light(side=side, height_m=1.0), setup_id=side) for side in ("left", "right")))
    heads = tuple(replace(head, mass_kg=6.0) for head in plan.kit.heads)
    stands = tuple(replace(stand, mass_kg=12.0) for stand in plan.kit.stands)
    heavy = replace(plan, kit=replace(plan.kit, heads=heads, stands=stands))
    assert not list(lift_problems(with_day(heavy, crew=(Crew("photo"),))))
    warned = problems(with_day(heavy, crew=(Crew("photo"),)), "too-few-hands")
    assert warned
    assert warned[0].level == "warn"


def test_a_look_not_ready_when_the_set_is_lit_is_a_problem() -> None:
    (wait,) = problems(short("keeper-window"), "look-late")
    assert (wait.level, wait.item) == ("note", "keeper")
    assert "takes 40 min" in wait.what and "36 min" in wait.what and "07:23" in wait.do
    looks = tuple(replace(look, prep_min=0) for look in demo().day.looks)
    assert problems(with_day(short("keeper-window"), looks=looks), "look-late") == []


def _with_talent(plan: Plan, talent: str) -> Plan:
    """Every look of the day is worn by one talent, and takes an hour."""
    looks = tuple(replace(look, talent=talent, prep_min=60) for look in plan.day.looks)
    return with_day(plan, looks=looks)


def test_the_call_advised_ends_the_wait() -> None:
    plan = short("keeper-window", "widow-letter")
    (wait,) = [problem for problem in problems(plan, "look-late") if problem.setup == "keeper-window"]
    called = re.search(r"at (\d\d):(\d\d)", wait.do)
    assert called is not None
    call = dt.time(int(called[1]), int(called[2]))
    looks = tuple(replace(look, call=call) if look.id == wait.item else look for look in plan.day.looks)
    assert not [
        problem for problem in problems(with_day(plan, looks=looks), "look-late") if problem.setup == "keeper-window"
    ]


def test_a_talent_on_set_is_not_called_earlier() -> None:
    plan = _with_talent(short("keeper-window", "widow-letter"), "T1")
    waits = {problem.setup: problem for problem in problems(plan, "look-late")}
    assert re.search(r"\d\d:\d\d", waits["keeper-window"].do)
    second = waits["widow-letter"]
    assert "T1 is on set" in second.do
    assert not re.search(r"\d\d:\d\d", second.do)


def test_a_day_that_ends_after_its_wrap_is_a_problem() -> None:
    (late,) = problems(with_day(demo(), wrap=dt.time(13)), "day-too-long")
    assert late.level == "warn"
    assert problems(demo(), "day-too-long") == []


def test_a_break_that_interrupts_a_setup_is_a_problem() -> None:
    narrow = Break("tea", 10, dt.time(8, 50), dt.time(8, 52))
    (cut,) = problems(with_day(short("keeper-window"), breaks=(narrow,)), "break-cuts-in")
    assert (cut.setup, cut.item) == ("keeper-window", "tea")
    assert problems(demo(), "break-cuts-in") == []


def crossed() -> Plan:
    """Two alike heads that change stands between two setups for no reason."""
    rim = {"side": "right", "angle_deg": 120.0, "modifier": "strip", "role": "rim"}
    one = sets.setup(sets.light("A", "S1"), sets.light("B", "S2", **rim), setup_id="one")
    two = sets.setup(sets.light("B", "S1"), sets.light("A", "S2", **rim), setup_id="two")
    return sets.plan(one, two)


def test_alike_heads_that_cross_over_are_swapped_and_save_what_the_note_names() -> None:
    plan = crossed()
    two = plan.setups["two"]
    swapped = {"B": "A", "A": "B"}
    better = replace(two, lights=tuple(replace(light, head=swapped[light.head]) for light in two.lights))

    def total(setup: Setup) -> float:
        ways = changeover_of(plan, plan.setups["one"], setup), changeover_of(plan, setup, None)
        return sum(way.total_s for way in ways)

    (note,) = problems(plan, "trade-heads")
    assert (note.level, note.setup, note.item) == ("note", "two", "A")
    assert total(two) - total(better) > 30
    assert f"saves {total(two) - total(better):.0f} s" in note.what
    assert note.what.endswith("A as key at 1/8, B as rim at 1/8")


def test_only_a_head_that_gives_the_same_light_replaces_another() -> None:
    plan = crossed()
    light = plan.setups["two"].lights[0]
    assert power_for(plan, light, "A") == light.power
    assert light.power.below_full is not None

    def with_head(**more: object) -> Plan:
        heads = tuple(replace(head, **more) if head.id == "A" else head for head in plan.kit.heads)
        return replace(plan, kit=replace(plan.kit, heads=heads))

    weak = power_for(with_head(guide_number_m=52.0 / 2**0.5), light, "A")
    assert weak == Power(light.power.below_full - 1)  # a stop weaker, so a stop up
    assert power_for(with_head(guide_number_m=50.0), light, "A") is None  # between two clicks
    assert power_for(with_head(guide_number_m=10.0), light, "A") is None  # over full
    assert power_for(with_head(mains=True), light, "A") is None
    assert power_for(with_head(mass_kg=60.0), light, "A") is None
    assert problems(with_head(mains=True), "trade-heads") == []
