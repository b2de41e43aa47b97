"""Timings as steps are ticked, read back from journals, and what they make one believe."""

from __future__ import annotations

import datetime as dt
import os
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.steps import DEFAULT_S
from runbook.day.actions import Session
from runbook.day.changeovers import NO_TIMINGS, SHOOTING, Timings, estimated_s, kind_of
from runbook.day.timings import timings_near, timings_of
from runbook.files.paths import journals_near
from runbook.journal.events import StepTicked
from runbook.journal.journal import Journal, journal_path
from runbook.model.day import Crew, Plan
from tests.day.days import SetClock, answer_checks, demo, do_next, short

DAY = short("widow-letter", "widow-answer")


def kept(folder: Path, clock: SetClock, *, rehearsal: bool = True) -> Session:
    """A day or a rehearsal with its journal on disk."""
    folder.mkdir(parents=True, exist_ok=True)
    path = journal_path(folder, rehearsal=rehearsal)
    journal = Journal.open(path, clock=clock, who="photo")
    return Session(DAY, journal, "photo", clock, rehearsal=rehearsal)


def tick(session: Session, clock: SetClock, seconds: float) -> StepTicked:
    """Do the next step so many seconds after the last thing."""
    answer_checks(session)
    clock.now += dt.timedelta(seconds=seconds)
    assert do_next(session)
    return next(e.data for e in reversed(session.entries) if isinstance(e.data, StepTicked))


def test_a_step_is_timed_from_the_one_before_or_the_beginning(tmp_path: Path) -> None:
    clock = SetClock()
    session = kept(tmp_path, clock)
    session.begin("widow-letter")
    first, second = tick(session, clock, 33), tick(session, clock, 12)
    assert (first.seconds, second.seconds) == (33, 12)
    assert first.work == kind_of(session.state.done[0].step, DAY.kit)
    assert timings_of(session.entries) == {first.work: (33,), second.work: (12,)}


def test_what_was_no_step_is_no_timing(tmp_path: Path) -> None:
    clock = SetClock()
    session = kept(tmp_path, clock)
    session.begin("widow-letter")
    assert tick(session, clock, 3600).seconds is None  # somebody had coffee
    assert tick(session, clock, 20).seconds == 20
    assert tick(session, clock, 0).seconds is None  # ticked along: nor was the one before timed
    assert timings_of(session.entries) == {}
    session.pause("meal")
    clock.move(45)
    session.resume()
    assert tick(session, clock, 15).seconds == 15  # the break is not in it


def test_each_person_has_a_stopwatch_and_an_undone_tick_is_no_timing(tmp_path: Path) -> None:
    clock = SetClock()
    session = kept(tmp_path, clock)
    session.begin("widow-letter")
    tick(session, clock, 30)
    session.who = "first"
    assert tick(session, clock, 10).seconds == 10  # the bag waited for the stand that photo placed
    session.undo()
    assert len(timings_of(session.entries)) == 1


def test_one_who_ticks_for_a_whole_crew_times_no_step_on_the_day(tmp_path: Path) -> None:
    clock = SetClock()
    session = kept(tmp_path, clock, rehearsal=False)
    session.begin("widow-letter")
    assert tick(session, clock, 30).seconds is None
    session.who = "first"
    assert tick(session, clock, 5).seconds == 5
    session.who = "photo"
    assert tick(session, clock, 5).seconds == 5


def played_on_schedule(
    plan: Plan, setups: tuple[str, ...], signed_by: str | None, speed: float = 1.0
) -> list[tuple[float, StepTicked]]:
    """Rehearse changeovers exactly as they are shared, each step ticked when it should be done.

    ``signed_by`` ticks for all; without it whoever does a step. Returns the estimate of each step
    and its tick.
    """
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo")
    session = Session(plan, journal, "photo", clock, rehearsal=True)
    played = []
    for setup_id in setups:
        session.begin(setup_id)
        begun = clock.now
        for each in sorted(session.view.planned_change.shared, key=lambda each: each.start_s + each.step.seconds):
            clock.now = begun + dt.timedelta(seconds=speed * (each.start_s + each.step.seconds))
            session.who = signed_by or each.crew[0]
            session.tick(each.step)
            ticked = session.entries[-1].data
            assert isinstance(ticked, StepTicked)
            played.append((each.step.seconds, ticked))
        clock.move(10)
    return played


@settings(max_examples=12, deadline=None)
@given(
    st.permutations(demo().day.order).map(lambda order: tuple(order[:2])),
    st.integers(1, 4),
    st.sampled_from([None, "photo"]),
    st.sampled_from([1.0, 2.0]),
)
def test_a_rehearsal_played_exactly_on_a_schedule_learns_exactly_its_times(
    setups: tuple[str, ...], people: int, signed_by: str | None, speed: float
) -> None:
    crew = tuple(Crew(name) for name in ("photo", "first", "second", "third")[:people])
    plan = replace(demo(), day=replace(demo().day, crew=crew))
    timed = [
        (estimated_s, ticked.seconds)
        for estimated_s, ticked in played_on_schedule(plan, setups, signed_by, speed)
        if ticked.seconds is not None
    ]
    assert all(taken == pytest.approx(speed * estimated_s) for estimated_s, taken in timed)
    assert timed


def test_a_rehearsal_on_schedule_times_nearly_every_step_that_whoever_does_it_ticks() -> None:
    played = played_on_schedule(demo(), demo().day.order, None)
    timed = [ticked for _, ticked in played if ticked.seconds is not None]
    assert len(timed) > 0.8 * len(played)


def test_shooting_is_learned_in_shares_of_what_was_planned(tmp_path: Path) -> None:
    clock = SetClock()
    session = kept(tmp_path, clock, rehearsal=False)
    session.begin("widow-letter")
    while do_next(session):
        pass
    clock.move(DAY.setups["widow-letter"].shoot_min * 1.2)
    session.mark_shot()
    assert timings_of(session.entries)[SHOOTING] == (1.2,)
    assert 1 < Timings({SHOOTING: (1.2,)}).shooting.median_s < 1.2


def test_timings_move_the_plan_and_the_default_stands_without_them() -> None:
    step = next(s for s in _steps() if s.verb == "fit" and s.kind == "modifier")
    assert NO_TIMINGS.seconds(step, demo().kit) == DEFAULT_S["fit", "modifier"] == 40
    slow = Timings({"fit modifier": (90.0, 95.0, 100.0, 92.0)})
    assert 65 <= slow.seconds(step, demo().kit) <= 95
    assert slow.seconds(step, demo().kit) % 5 == 0
    assert slow.seconds(replace(step, hands=2), demo().kit) == 40  # two people: another kind
    assert slow.count == 4


def _steps():
    from runbook.day.changeovers import Changeovers

    return Changeovers(demo()).between(None, "keeper-window").steps


def test_every_kind_has_an_estimate_and_an_unknown_one_is_a_key_error() -> None:
    for verb, what in DEFAULT_S:
        assert estimated_s(f"{verb} {what} by two") == DEFAULT_S[verb, what]
    with pytest.raises(KeyError):
        estimated_s("juggle bag")


def test_a_day_learns_from_itself_its_rehearsal_and_the_days_beside_it(tmp_path: Path) -> None:
    for folder, seconds in (("today", 30), ("before", 34), ("long-before", 38)):
        clock = SetClock()
        session = kept(tmp_path / folder, clock)
        session.begin("widow-letter")
        tick(session, clock, seconds)
        session.journal.close()
    (tmp_path / "broken").mkdir()
    journal_path(tmp_path / "broken").write_bytes(b"no journal at all" * 9)
    (tmp_path / "file").write_text("no folder")
    assert len(journals_near(tmp_path / "today")) == 4
    known = timings_near(tmp_path / "today")
    assert sorted(*known.by_kind.values()) == [30, 34, 38]
    assert known.journals == 3
    assert timings_near(tmp_path / "nowhere" / "day") == NO_TIMINGS


def test_only_the_newest_journals_are_read(tmp_path: Path) -> None:
    for n in range(40):
        path = journal_path(tmp_path / f"d{n:02}")
        path.parent.mkdir()
        path.touch()
        os.utime(path, (n, n))
    found = journals_near(tmp_path / "d00")
    assert [path.parent.name for path in found] == [f"d{n:02}" for n in range(39, 9, -1)]
