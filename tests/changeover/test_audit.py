"""The audit of the changeovers: hands that a crew does not have."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.audit import audit_changes
from runbook.model.day import Crew, Day, Plan, Problem
from runbook.model.kit import Kit
from runbook.model.setup import Light, Setup
from tests.changeover.floors import PLACE, kit_of, kits, setups
from tests.changeover.test_floor import KEY, held, setup

HEAVY = kit_of((False,) * 5, (False,) * 5, 3.0)
LOW = replace(KEY, height_m=1.9, bags=("B0",), leg_under_load=False, through=())


DAY = Day(name="a day", date=dt.date(2026, 12, 4), call=dt.time(8), wrap=dt.time(18), order=(), place=PLACE)
# 14 kg out on the far legs: without its box the head alone is pulled over backwards
FAR = replace(LOW, height_m=1.2, distance_m=1.5, bags=("B0", "B1"), bags_at="far legs", accessories=())


def plan_of(*setups: Setup, kit: Kit, crew: int) -> Plan:
    """A day of two setups, first and then."""
    named = {name: replace(each, id=name) for name, each in zip(("first", "then"), setups, strict=True)}
    day = replace(DAY, order=tuple(named), crew=tuple(Crew(f"c{n}") for n in range(crew)))
    return Plan(day=day, kit=kit, setups=named)


def found(one: Light, then: Light, kit: Kit, crew: int) -> dict[str | None, Problem]:
    """The problems, by the setup each changeover leads to."""
    problems = audit_changes(plan_of(setup(one), setup(then), kit=kit, crew=crew))
    assert len({problem.setup for problem in problems}) == len(problems)
    return {problem.setup: problem for problem in problems}


def test_a_stand_that_stands_by_itself_all_the_way_troubles_nobody() -> None:
    over = replace(LOW, side="right", modifier="M1", bags=("B1",))
    assert found(LOW, over, HEAVY, 1) == {}


def test_one_person_cannot_hold_and_work_and_sees_which_stand_and_why() -> None:
    problems = found(FAR, replace(FAR, modifier="M1"), HEAVY, 1)
    assert {problem.code for problem in problems.values()} == {"held-alone"}
    assert problems.keys() == {"first", "then", None}
    load_in = problems["first"]
    assert (load_in.level, load_in.item) == ("warn", "S0")
    # 4 kg of stand, 2 of head, 14 of bags 0.3 m back: margin 0.04, centre 0.24 m up
    assert load_in.what == (
        "at load-in, S0 tips at 9.5° (limit 10°) until M0 is on: hold it from fitting A "
        "to fitting M0; that takes 2 people, the crew is 1"
    )
    assert problems["then"].what.startswith("after first, S0")
    assert problems[None].what.startswith("at the wrap, S0")


def test_two_people_see_where_they_can_never_let_go() -> None:
    problems = found(FAR, replace(FAR, modifier="M1"), HEAVY, 2)
    assert problems.keys() == {"then"}  # at load-in and wrap it stands empty between
    never = problems["then"]
    assert (never.level, never.code, never.item) == ("note", "never-let-go", "S0")
    assert "until M1 is on: hold it from taking off M0 to fitting M1, without letting go" in never.what


@pytest.mark.parametrize(
    ("one", "then", "crew"), [(LOW, replace(LOW, bags=()), 3), (LOW, replace(FAR, modifier="bare"), 2)]
)
def test_a_stand_that_is_not_safe_as_planned_takes_a_person_to_the_end(one: Light, then: Light, crew: int) -> None:
    problem = found(one, then, HEAVY, crew)["then"]
    assert (problem.level, problem.code, problem.item) == ("warn", "held-to-the-end", "S0")


def test_more_stands_in_hands_than_people() -> None:
    # two high stands that change bags: one gives up its own, and is held until it has the other's
    one = replace(LOW, accessories=(), height_m=2.3, distance_m=2.0)
    other = replace(one, head="B", stand="S1", modifier="M1", side="right")

    swap = [setup(replace(one, bags=(a,)), replace(other, bags=(b,))) for a, b in (("B0", "B1"), ("B1", "B0"))]
    problems = {each.code: each for each in audit_changes(plan_of(*swap, kit=HEAVY, crew=1))}
    assert problems.keys() == {"held-alone", "held-many"}  # who holds S0 cannot hang its bag too
    problem = problems["held-many"]
    assert (problem.setup, problem.item) == ("then", "S0")
    assert problem.what == "after first, hanging B0 while S0 is held takes 2 people, the crew is 1"
    two = audit_changes(plan_of(*swap, kit=HEAVY, crew=2))
    assert {(each.level, each.code) for each in two} == {("note", "never-let-go")}


@settings(max_examples=20)
@given(st.data())
def test_more_people_never_find_more_to_warn_of(data: st.DataObject) -> None:
    kit = data.draw(kits())
    drawn = [data.draw(setups(kit, name)) for name in ("one", "two")]

    def warned(crew: int) -> set[tuple[str | None, str | None]]:
        problems = audit_changes(plan_of(*drawn, kit=kit, crew=crew))
        return {(problem.setup, problem.item) for problem in problems if problem.level == "warn"}

    assert warned(4) <= warned(2) <= warned(1)


@pytest.mark.parametrize(("people", "holders", "end"), [
    (3, ("c0",), None),
    # a panel taken only in the second setup binds nobody before the test
    (2, ("c0",), None),
    (1, ("c0",), "nobody is free to meter and shoot"),
    (2, ("c0", "c1"), "nobody is free to meter and shoot"),
])  # fmt: skip
def test_a_crew_whose_hands_are_all_full_has_nobody_to_meter(people, holders, end):
    panels = tuple(replace(held(who), panel=f"P{n}") for n, who in enumerate(holders))
    problems = audit_changes(plan_of(setup(LOW), setup(LOW, panels=panels), kit=HEAVY, crew=people))
    full = [problem for problem in problems if problem.code == "hands-full"]
    assert [problem.setup for problem in full] == ([] if end is None else ["then"])
    assert all(end is not None and problem.what.endswith(end) for problem in full)
