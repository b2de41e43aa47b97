"""The checks that hold a step: asked in their turn, and no step gets past an open one."""

from dataclasses import replace

import pytest

from runbook.day.actions import Session
from runbook.day.changeovers import Changeovers
from runbook.day.gates import planned_checks
from runbook.model.day import Plan
from tests.changeover.test_floor import RAIL
from tests.changeover.test_floor import setup as one_light
from tests.day.days import FIRST, SECOND, begun, demo, do_all, make_ready, refused, short
from tests.day.plans import with_lights
from tests.day.progress import check_of, standing, step_of
from tests.day.test_safe_after_skips import day_of


def loading_in(setup_id: str, plan: Plan | None = None) -> Session:
    session = begun(plan)
    session.begin(setup_id)
    return session


def open_ids(session: Session) -> set[str]:
    return {hold.check.id for hold in session.view.holds if hold.open}


CHANGE = "fall-circle-clear hands-before-locks bagged-boom balanced-boom second-fixing-boom clear-up-boom"
LOAD_IN = {
    "place": "exits-free first-aid-known",
    "raise": "bagged-S1",
    "test": "loads-in-limit stands-bagged light-sensitivity-asked",
}
# the setups before and after, and what holds the steps of a kind
HELD: list[tuple[str | None, str | None, dict[str, str]]] = [
    (None, FIRST, LOAD_IN),
    (None, SECOND, {"test": "booms-balanced second-fixings"}),
    (FIRST, SECOND, {"raise": CHANGE, "test": "figures-renewed"}),
    (SECOND, "seamstress-veil", {"free": "arm-held-boom"}),
    (FIRST, "seamstress-veil", {"test": "light-sensitivity-asked-T2"}),
    ("widow-answer", None, {"free": "head-before-bag"}),
]


@pytest.mark.parametrize(("before", "setup_id", "held"), HELD)
def test_a_check_waits_for_what_it_is_about_then_holds_its_step_until_it_is_ticked(before, setup_id, held):
    session = begun() if before is None else standing(setup_id=before)
    session.begin(setup_id)
    for hold in session.view.holds:
        if hold.open and hold.of_thing:
            assert refused(session.tick_check, hold.check).startswith("not yet, before it: ")
    seen: dict[str, str] = {}
    while (line := session.view.next_step) is not None:
        holding = [hold.check for hold in session.view.pending.open_holds(line.step)]
        for check in holding:  # each holds the step alone
            others = [other for other in holding if other != check]
            for other in others:
                session.tick_check(other)
            line, written = session.view.next_step, len(session.entries)
            assert refused(session.tick, line.step).startswith(f"held: {line.note}; tick that first")
            assert (line.state, len(session.entries)) == ("held", written)
            seen[check.id] = line.step.verb
            for _ in others:
                session.undo()
        for check in holding:
            session.tick_check(check)
        session.tick(line.step)
    assert seen.items() >= {(check, verb) for verb, checks in held.items() for check in checks.split()}


def test_everyone_there_is_asked_about_light_and_a_talent_who_comes_later_too_once() -> None:
    session = begun()
    for setup_id, asked in (
        (FIRST, {"light-sensitivity-asked"}),  # T1 is there, and everyone is asked
        ("captain-deck", set()),  # T1 again
        ("widow-letter", {"light-sensitivity-asked-T2"}),
        ("seamstress-veil", set()),  # T2 again
        ("lamplighter-fog", {"light-sensitivity-asked-T3"}),
    ):
        session.begin(setup_id)
        assert {name for name in open_ids(session) if name.startswith("light-sensitivity")} == asked
        # the checks of a change are asked again in every change
        assert (setup_id == FIRST) or {"fall-circle-clear", "hands-before-locks"} <= open_ids(session)
        do_all(session)
        assert not open_ids(session)


def test_a_break_lifts_no_check() -> None:
    session = loading_in(FIRST)
    held = open_ids(session)
    session.pause("meal")
    assert open_ids(session) == held
    assert session.view.stage == "meal"
    assert {check.id for check, _ in session.view.checks} >= {"lamps-off", *held}
    assert refused(session.tick, session.view.todo[0]).startswith("held: ")
    assert refused(session.pause, "meal") == "a break has already begun"
    session.resume()
    assert refused(session.resume) == "no break has begun"


def test_setting_aside_needs_a_reason_and_keeps_it() -> None:
    session = loading_in(FIRST)
    exits = check_of(session, "exits-free")
    assert refused(session.set_check_aside, exits, "  ").startswith("a reason is needed")
    session.set_check_aside(exits, "the landlord holds the key")
    tick = session.state.checks["exits-free"]
    assert (tick.by, tick.at, tick.aside) == ("photo", "08:00", "the landlord holds the key")
    assert "exits-free" not in open_ids(session)
    session.tick_check(exits)
    assert session.state.checks["exits-free"].aside is None
    assert refused(session.tick_check, exits) == "photo ticked that at 08:00"


def test_a_step_done_ahead_is_held_by_checks_of_its_own_and_waits_its_turn() -> None:
    session = begun(short(FIRST, "captain-deck", "captain-chart"))
    make_ready(session, FIRST)
    make_ready(session, "captain-deck")
    assert session.state.change_checks["fall-circle-clear"].aside is None  # ticked for this change only
    holds, asked = session.view.ahead.holds, {hold.check.id for hold in session.view.ahead.holds if hold.open}
    assert asked == {"fall-circle-clear", "hands-before-locks", "bagged-roller"}
    todo = session.view.ahead.todo
    assert [step.verb for step in todo] == ["place", "bag", "fit", "fit", "aim", "raise", "power"]
    assert refused(session.tick_ahead, todo[5]).startswith("held: Talent and crew out of the fall circle")
    bagged = next(hold.check for hold in holds if hold.check.id == "bagged-roller")
    assert refused(lambda: session.tick_check(bagged, ahead=True)).startswith("not yet, before it: Aim A at the face")
    assert refused(session.tick_ahead, todo[2]).startswith("not yet, before it: ")
    for step in todo[:5]:
        session.tick_ahead(step)
    for hold in session.view.ahead.holds:
        session.tick_check(hold.check, ahead=True)
    session.tick_ahead(todo[5])
    assert session.state.real_floor.stands["roller"].height_m == 2.2
    session.begin("captain-chart")  # what was ticked for the steps ahead counts for them only
    assert "fall-circle-clear" in open_ids(session)


def test_a_skipped_step_does_not_open_the_way_past_what_it_waited_for() -> None:
    pending = loading_in(SECOND).view.pending
    numbered = {step.n: step for step in pending.todo}
    waits = [(step, numbered[n]) for step in pending.todo for n in step.after]
    for step, first in waits:
        then = replace(pending, skipped={first.key: "no time"})
        assert {other.n for other in then.waits_for(step)} == {*step.after} - {first.n} | {*first.after}
    assert any({*first.after} - {*step.after} for step, first in waits)


def test_the_stage_follows_the_day() -> None:
    session = begun(short(FIRST))
    stages = [session.view.stage]
    session.begin(FIRST)
    stages.append(session.view.stage)
    do_all(session)
    stages.append(session.view.stage)
    for setup_id in (SECOND, None):
        session.begin(setup_id)
        stages.append(session.view.stage)
    assert stages == ["load-in", "pre-light", "talent", "change", "wrap"]


def test_at_the_wrap_a_panel_s_bag_waits_for_no_arm_or_head() -> None:
    session = standing(short("widow-answer"), "widow-answer")
    session.begin(None)
    held = {key for hold in session.view.holds if hold.check.id == "head-before-bag" for key in hold.steps}
    of = {step.key: step.to.kind for step in session.view.todo if step.verb == "unbag"}
    assert {of[key] for key in held & of.keys()} == {"stand"}
    assert "panel" in of.values()


@pytest.mark.parametrize(
    ("leg_under_load", "where"), [(False, "on the leg away from the load"), (True, "half on each")]
)
def test_the_bag_check_names_the_far_legs(leg_under_load: bool, where: str) -> None:
    session = loading_in(FIRST, with_lights(demo(), bags_at="far legs", leg_under_load=leg_under_load))
    assert where in check_of(session, "bagged-S1").text


@pytest.mark.parametrize(("over_m", "asked"), [(0.0, False), (0.01, True)])
def test_a_stand_exactly_at_reach_is_not_asked_for_its_bags(over_m: float, asked: bool) -> None:
    session = loading_in(FIRST, with_lights(demo(), height_m=demo().day.place.reach_m + over_m))
    assert ("bagged-S1" in open_ids(session)) is asked


def test_the_checks_printed_for_a_day_are_those_that_hold_it_as_it_runs() -> None:
    plan = short(FIRST, SECOND, "seamstress-veil")  # which brings another talent
    session = begun(plan)
    printed = planned_checks(plan, Changeovers(plan).all)
    for setup_id, holds in zip((*plan.day.order, None), printed, strict=True):
        session.begin(setup_id)
        assert {hold.check.id: hold.steps for hold in holds} == {
            hold.check.id: hold.steps for hold in session.view.holds if hold.open
        }
        do_all(session)
        if setup_id:
            session.mark_shot()


def test_a_rail_over_reach_is_fixed_twice_and_both_its_stands_bagged_before_it_goes_up() -> None:
    session = day_of(one_light(hung_cloths=(RAIL,)))
    session.begin("one")
    raised = step_of(session, "raise", "cloth", "V")
    holding = {hold.check.id for hold in session.view.pending.open_holds(raised)}
    assert {"rail-fixed-V", "bagged-S1", "bagged-S2"} <= holding
    session = day_of(one_light(hung_cloths=(replace(RAIL, held_by=(), bags=()),)))
    session.begin("one")
    tested = step_of(session, "test", "set", "set")
    assert "rail-fixed-V" in {hold.check.id for hold in session.view.pending.open_holds(tested)}
