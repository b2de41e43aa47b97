"""A rehearsal: its stopwatch, its checks, and what it shows afterwards."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from runbook.day.actions import Session
from runbook.day.rehearsal import rehearsal_report, slow_steps, stopwatch_text
from runbook.day.timeline import timeline_of
from runbook.journal.entries import CheckTicked, DayOpened
from runbook.journal.store import Journal
from runbook.model.day import Plan
from tests.day.days import SetClock, demo, short

DAY = short("keeper-window", "keeper-lamp")
WITH_AHEAD = short("captain-deck", "captain-chart")


def alone(plan: Plan) -> Plan:
    """The plan with a crew of one, who does every step right after the one before."""
    return replace(plan, day=replace(plan.day, crew=plan.day.crew[:1]))


def begun(clock: SetClock, plan: Plan = DAY) -> Session:
    journal = Journal.in_memory(clock=clock, who="photo")
    session = Session(plan, journal, "photo", clock, rehearsal=True)
    session.open("digest", "1")
    session.begin(plan.day.order[0])
    return session


def walk(session: Session, clock: SetClock, slow: dict[tuple[str, ...], float]) -> None:
    """Tick every step of the changeover in its estimate, but for those named."""
    while (line := session.view.next_step) is not None:
        seconds = slow.get(line.step.key, line.step.seconds)
        clock.now += dt.timedelta(seconds=seconds)
        session.tick(line.step)


def test_the_checks_that_hold_a_step_are_ticked_along_with_it() -> None:
    session = begun(SetClock())
    line = session.view.next_step
    assert line is not None and line.state == "held"
    session.tick(line.step)
    assert [done.step.key for done in session.state.done] == [line.step.key]
    assert any(isinstance(entry.data, CheckTicked) for entry in session.entries)
    assert isinstance(session.entries[0].data, DayOpened) and session.entries[0].data.rehearsal


def test_the_stopwatch_runs_for_whoever_is_at_the_keyboard() -> None:
    clock = SetClock()
    session = begun(clock)
    clock.now += dt.timedelta(seconds=35)
    assert session.stopwatch_text(clock.now) == "photo 0:35 of 0:40"
    session.tick(session.view.next_step.step)
    assert session.stopwatch_text(clock.now).startswith("photo 0:00 of ")
    session.who = "first"
    assert session.stopwatch_text(clock.now).startswith("first 0:35 of ")
    assert stopwatch_text(41, 40) == "0:41 of 0:40, OVER"


def test_what_was_slow_comes_first_with_what_to_change() -> None:
    clock = SetClock()
    session = begun(clock, alone(DAY))
    walk(session, clock, {("fit", "modifier", "octa-90"): 90.0})
    session.mark_shot()
    session.begin("keeper-lamp")
    walk(session, clock, {("place", "stand", "low"): 150.0, ("aim", "head", "D"): 11.0})
    found = slow_steps(session.entries, session.changes)
    assert [(each.setup, each.took_s, each.usual_s) for each in found] == [
        ("keeper-lamp", 150.0, 40.0),
        ("keeper-window", 90.0, 40.0),
    ]
    assert found[0].do.startswith(("everybody waits for it", "nobody waits for it"))
    assert found[1].do.startswith(("everybody waits for it", "nobody waits for it"))
    told = list(rehearsal_report(session.entries, session.changes))
    assert told[0].startswith("REHEARSAL")
    assert any("2:30 instead of 0:40" in line for line in told)
    assert any(line.startswith("to keeper-lamp: ") for line in told)


def test_a_slow_step_that_can_be_done_ahead_is_to_be_done_ahead() -> None:
    clock = SetClock()
    session = begun(clock, alone(WITH_AHEAD))
    walk(session, clock, {})
    session.mark_shot()
    session.begin("captain-chart")
    walk(session, clock, {("place", "stand", "roller"): 150.0})
    (found,) = slow_steps(session.entries, session.changes)
    assert found.do == "do it ahead, while captain-deck is still being shot"


def test_a_rehearsal_nobody_walked_says_so() -> None:
    session = begun(SetClock())
    assert "No changeover was rehearsed yet." in rehearsal_report(session.entries, session.changes)


def test_real_times_leave_breaks_out_and_know_what_stood_before() -> None:
    clock = SetClock()
    session = begun(clock)
    clock.move(1)
    session.tick(session.view.next_step.step)
    session.pause("meal")
    clock.move(45)
    session.resume()
    clock.move(2)
    session.tick(session.view.next_step.step)
    session.begin("keeper-lamp")
    first, second = timeline_of(session.entries).spans
    assert first.changing_s == 3 * 60
    assert (first.before, second.before) == (None, "keeper-window")
    assert (second.changed, second.shot) == (None, None)
    assert demo().day.order[0] == first.setup


def test_a_changeover_half_walked_is_told_so_and_not_held_against_its_plan() -> None:
    clock = SetClock()
    session = begun(clock)
    for _ in range(2):
        line = session.view.next_step
        assert line is not None
        clock.now += dt.timedelta(seconds=line.step.seconds)
        session.tick(line.step)
    told = list(rehearsal_report(session.entries, session.changes))
    assert "to keeper-window: 2 of 24 steps, 0:50 so far" in told
    assert "No changeover was rehearsed to its end yet." in told
    assert not any("planned" in line or "No step was slow" in line for line in told)
    walk(session, clock, {})
    told = list(rehearsal_report(session.entries, session.changes))
    assert any(line.startswith("to keeper-window: ") and ", planned " in line for line in told)
    assert "No step was slow." in told
    assert not any(" of 24 steps" in line for line in told)


def test_a_changeover_partly_done_ahead_or_with_steps_set_aside_is_walked_to_its_end() -> None:
    clock = SetClock()
    session = begun(clock, WITH_AHEAD)
    walk(session, clock, {})
    for hold in session.view.ahead.holds:
        if not session.view.ahead.check_waits_for(hold.check):
            session.tick_check_ahead(hold.check)
    for _ in range(3):
        todo = [line.step for line in session.view.ahead_lines]
        session.tick_ahead(next(step for step in todo if not session.view.ahead.waits_for(step)))
    session.mark_shot()
    session.begin("captain-chart")
    for _ in range(2):
        session.tick(session.view.next_step.step)
    told = list(rehearsal_report(session.entries, session.changes))
    assert any(line.startswith("to captain-chart: 5 of 30 steps, ") for line in told)
    session.skip_step(next(each for each in session.view.todo if each.verb == "test"), "no meter")
    walk(session, clock, {})
    told = list(rehearsal_report(session.entries, session.changes))
    assert any(line.startswith("to captain-chart: ") and ", planned " in line for line in told)
