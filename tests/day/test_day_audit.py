"""What a check finds in the hours, the hands and the heads of a day."""

import datetime as dt
import re
from dataclasses import replace
from typing import Any

import pytest

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


def test_a_thing_or_a_step_too_heavy_for_the_crew_is_one_warning() -> None:
    assert problems(demo(), "too-few-hands") == []
    alone = with_day(demo(), crew=(Crew("photo"),))
    assert [problem.item for problem in lift_problems(alone)] == ["boom", "voile"]
    assert problems(alone, "too-few-hands") == []
    # stand and head are each light enough for one; moved together they are not
    plan = sets.plan(*(sets.setup(sets.light(side=side, height_m=1.0), setup_id=side) for side in ("left", "right")))
    heads = tuple(replace(head, mass_kg=6.0) for head in plan.kit.heads)
    stands = tuple(replace(stand, mass_kg=12.0) for stand in plan.kit.stands)
    heavy = with_day(replace(plan, kit=replace(plan.kit, heads=heads, stands=stands)), crew=(Crew("photo"),))
    assert not list(lift_problems(heavy))
    assert problems(heavy, "too-few-hands")[0].level == "warn"


def test_a_look_not_ready_when_the_set_is_lit_is_a_problem() -> None:
    (wait,) = problems(short("keeper-window"), "look-late")
    assert (wait.level, wait.item) == ("note", "keeper")
    assert "takes 40 min" in wait.what and "36 min" in wait.what and "07:23" in wait.do
    looks = tuple(replace(look, prep_min=0) for look in demo().day.looks)
    assert problems(with_day(short("keeper-window"), looks=looks), "look-late") == []


def test_the_call_advised_ends_the_wait() -> None:
    plan = short("keeper-window")
    (wait,) = problems(plan, "look-late")
    called = re.search(r"at (\d\d:\d\d)", wait.do)
    looks = tuple(replace(look, call=dt.time.fromisoformat(called[1])) for look in plan.day.looks)
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


def crossed() -> Plan:
    """Two alike heads that change stands between two setups for no reason."""
    rim = {"side": "right", "angle_deg": 120.0, "modifier": "strip", "role": "rim"}
    one, two = (
        sets.setup(sets.light(key, "S1"), sets.light(other, "S2", **rim), setup_id=name)
        for name, key, other in (("one", "A", "B"), ("two", "B", "A"))
    )
    return sets.plan(one, two)


def test_alike_heads_that_cross_over_are_swapped_and_save_what_the_note_names() -> None:
    plan = crossed()
    one, two = plan.setups.values()
    better = replace(one, id="two")

    def total(setup: Setup) -> float:
        return sum(change.total_s for change in (changeover_of(plan, one, setup), changeover_of(plan, setup, None)))

    (note,) = problems(plan, "trade-heads")
    assert (note.level, note.setup, note.item) == ("note", "two", "A")
    assert total(two) - total(better) > 30
    assert f"saves {total(two) - total(better):.0f} s" in note.what
    assert note.what.endswith("A as key at 1/8, B as rim at 1/8")


@pytest.mark.parametrize(
    ("head", "up_stops"),
    [
        ({}, 0),
        ({"guide_number_m": 52.0 / 2**0.5}, 1),  # a stop weaker, so a stop up
        ({"guide_number_m": 50.0}, None),  # between two clicks
        ({"guide_number_m": 10.0}, None),  # over full
        ({"mains": True}, None),
        ({"mass_kg": 60.0}, None),
    ],
)
def test_only_a_head_that_gives_the_same_light_replaces_another(head: dict[str, Any], up_stops: int | None) -> None:
    plan = crossed()
    light = plan.setups["two"].lights[0]
    heads = tuple(replace(each, **head) if each.id == "A" else each for each in plan.kit.heads)
    plan = replace(plan, kit=replace(plan.kit, heads=heads))
    power = None if up_stops is None else Power(light.power.below_full - up_stops)
    assert power_for(plan, light, "A") == power
    assert bool(problems(plan, "trade-heads")) == (up_stops is not None)
