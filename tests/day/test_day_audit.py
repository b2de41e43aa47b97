"""What a check finds in the hours and the hands of a day."""

import datetime as dt
import re
from dataclasses import replace

from runbook.day.day_audit import audit_day
from runbook.model.day import Break, Crew, Plan, Problem
from runbook.stands.lifting import lift_problems
from tests.day import sets
from tests.day.days import demo, short
from tests.day.plans import with_crew, with_day


def problems(plan: Plan, code: str) -> list[Problem]:
    return [problem for problem in audit_day(plan) if problem.code == code]


def test_a_thing_or_a_step_too_heavy_for_the_crew_is_one_warning() -> None:
    assert problems(demo(), "too-few-hands") == []
    alone = with_crew(demo(), Crew("photo"))
    assert [problem.item for problem in lift_problems(alone)] == ["boom", "voile"]
    assert problems(alone, "too-few-hands") == []
    # stand and head are each light enough for one; moved together they are not
    plan = sets.plan(*(sets.setup(sets.light(side=side, height_m=1.0), setup_id=side) for side in ("left", "right")))
    heads = tuple(replace(head, mass_kg=6.0) for head in plan.kit.heads)
    stands = tuple(replace(stand, mass_kg=12.0) for stand in plan.kit.stands)
    heavy = with_crew(replace(plan, kit=replace(plan.kit, heads=heads, stands=stands)), Crew("photo"))
    assert not list(lift_problems(heavy))
    assert problems(heavy, "too-few-hands")[0].level == "warn"


def test_a_look_not_ready_when_the_set_is_lit_is_a_problem_that_the_call_advised_ends() -> None:
    plan = short("keeper-window")
    (wait,) = problems(plan, "look-late")
    assert (wait.level, wait.item) == ("note", "keeper")
    assert "takes 40 min" in wait.what and "36 min" in wait.what
    called = dt.time.fromisoformat(re.findall(r"at (\d\d:\d\d)", wait.do)[0])
    assert called == dt.time(7, 23)
    for better in ({"prep_min": 0}, {"call": called}):
        looks = tuple(replace(look, **better) for look in plan.day.looks)
        assert problems(with_day(plan, looks=looks), "look-late") == []


def test_a_talent_on_set_is_not_called_earlier() -> None:
    plan = short("keeper-window", "widow-letter")
    looks = tuple(replace(look, talent="T1", prep_min=60) for look in plan.day.looks)
    first, second = (problem.do for problem in problems(with_day(plan, looks=looks), "look-late"))
    assert re.search(r"\d\d:\d\d", first)
    assert "T1 is on set" in second and not re.search(r"\d\d:\d\d", second)


def test_a_day_that_ends_after_its_wrap_is_a_problem() -> None:
    (late,) = problems(with_day(demo(), wrap=dt.time(13)), "day-too-long")
    assert late.level == "warn"
    assert problems(demo(), "day-too-long") == []


def test_a_break_that_interrupts_a_setup_is_a_problem() -> None:
    narrow = Break("tea", 10, dt.time(8, 50), dt.time(8, 52))
    (cut,) = problems(with_day(short("keeper-window"), breaks=(narrow,)), "break-cuts-in")
    assert (cut.setup, cut.item) == ("keeper-window", "tea")
    assert problems(demo(), "break-cuts-in") == []
