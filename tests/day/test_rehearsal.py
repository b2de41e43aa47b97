"""A rehearsal: its stopwatch, its checks, and what it shows afterwards."""

import datetime as dt

from runbook.day.actions import Session
from runbook.day.rehearsal import rehearsal_report, slow_steps, stopwatch_text
from runbook.journal.events import CheckTicked, DayOpened
from runbook.model.day import Plan
from tests.day.days import SetClock, begun, short
from tests.day.plans import with_day
from tests.day.progress import do_all_ahead, step_of

DAY = short("keeper-window", "keeper-lamp")
WITH_AHEAD = short("captain-deck", "captain-chart")


def rehearsing(clock: SetClock, plan: Plan = DAY, *, alone: bool = False) -> Session:
    """A rehearsal of the first setup; ``alone``, by one who does every step right after the one before."""
    session = begun(with_day(plan, crew=plan.day.crew[:1]) if alone else plan, clock, rehearsal=True)
    session.open("digest", "1")
    session.begin(plan.day.order[0])
    return session


def report(session: Session) -> list[str]:
    return list(rehearsal_report(session.entries, session.changes))


def walk(session: Session, clock: SetClock, slow: dict[tuple[str, ...], float], most: int = 99) -> None:
    """Tick the next steps of the changeover in their estimates, but for those named."""
    while most and (line := session.view.next_step) is not None:
        most -= 1
        seconds = slow.get(line.step.key, line.step.seconds)
        clock.now += dt.timedelta(seconds=seconds)
        session.tick(line.step)


def test_the_checks_that_hold_a_step_are_ticked_along_with_it() -> None:
    session = rehearsing(SetClock())
    line = session.view.next_step
    assert line is not None and line.state == "held"
    session.tick(line.step)
    assert [done.step.key for done in session.state.done] == [line.step.key]
    assert any(isinstance(entry.data, CheckTicked) for entry in session.entries)
    assert isinstance(session.entries[0].data, DayOpened) and session.entries[0].data.rehearsal


def test_the_stopwatch_runs_for_whoever_is_at_the_keyboard() -> None:
    clock = SetClock()
    session = rehearsing(clock)
    clock.now += dt.timedelta(seconds=35)
    assert session.stopwatch_text(clock.now) == "photo 0:35 of 0:40"
    session.tick(session.view.next_step.step)
    assert session.stopwatch_text(clock.now).startswith("photo 0:00 of ")
    session.who = "first"
    assert session.stopwatch_text(clock.now).startswith("first 0:35 of ")
    assert stopwatch_text(41, 40) == "0:41 of 0:40, OVER"


def test_slow_steps_come_first_in_the_report_with_a_remedy() -> None:
    clock = SetClock()
    session = rehearsing(clock, alone=True)
    walk(session, clock, {("fit", "modifier", "octa-90"): 90.0})
    session.mark_shot()
    session.begin("keeper-lamp")
    walk(session, clock, {("place", "stand", "low"): 150.0, ("aim", "head", "D"): 11.0})
    slow = slow_steps(session.entries, session.changes)
    assert [(step.setup, step.took_s, step.usual_s) for step in slow] == [
        ("keeper-lamp", 150.0, 40.0),
        ("keeper-window", 90.0, 40.0),
    ]
    assert all(step.do.startswith(("other steps wait for it", "no step waits for it")) for step in slow)
    lines = report(session)
    assert any("2:30 instead of 0:40" in line for line in lines)
    assert any(line.startswith("to keeper-lamp: ") for line in lines)


def test_the_remedy_of_a_slow_step_is_to_do_it_ahead_where_that_is_possible() -> None:
    clock = SetClock()
    session = rehearsing(clock, WITH_AHEAD, alone=True)
    walk(session, clock, {})
    session.mark_shot()
    session.begin("captain-chart")
    walk(session, clock, {("place", "stand", "roller"): 150.0})
    (step,) = slow_steps(session.entries, session.changes)
    assert step.do == "do it ahead, while captain-deck is still being shot"


def test_an_unfinished_changeover_is_not_compared_with_its_plan() -> None:
    clock = SetClock()
    session = rehearsing(clock)
    assert "No changeover was rehearsed yet." in report(session)
    walk(session, clock, {}, most=2)
    assert report(session)[2:5] == [
        "to keeper-window: 2 of 24 steps, 0:50 so far",
        "",
        "No changeover was rehearsed to its end yet.",
    ]
    walk(session, clock, {})
    first, _, slow, _ = report(session)[2:]
    assert first.startswith("to keeper-window: ") and ", planned " in first
    assert slow == "No step was slow."


def test_a_changeover_partly_done_ahead_or_with_skipped_steps_counts_as_finished() -> None:
    clock = SetClock()
    session = rehearsing(clock, WITH_AHEAD)
    walk(session, clock, {})
    do_all_ahead(session, most=3)
    session.mark_shot()
    session.begin("captain-chart")
    walk(session, clock, {}, most=2)
    assert any(line.startswith("to captain-chart: 5 of 30 steps, ") for line in report(session))
    session.skip_step(step_of(session, "test"), "no meter")
    walk(session, clock, {})
    assert any(line.startswith("to captain-chart: ") and ", planned " in line for line in report(session))
