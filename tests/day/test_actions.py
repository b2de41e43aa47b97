"""What a person can do to the running day, and why it is refused where it cannot be."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from runbook.day.actions import Session
from runbook.day.reduce import state_after
from runbook.journal.errors import JournalError
from runbook.journal.events import Entry
from runbook.journal.journal import Journal
from tests.day.days import FIRST, SECOND, SetClock, begun, demo, do_next, make_ready, refused, short
from tests.day.plans import with_day
from tests.day.progress import standing


class FullDisk(Journal):
    """A journal whose disk takes nothing more, until it does."""

    broken = False

    def append_all(self, data: Sequence[Any], who: str | None = None) -> tuple[Entry, ...]:
        if self.broken:
            raise JournalError("full", "journal.runlog could not be written", "free some")
        return super().append_all(data, who)


def in_first() -> Session:
    session = begun()
    session.begin(FIRST)
    return session


def test_the_list_of_setups_shows_their_states() -> None:
    session = standing(short(FIRST, SECOND, "widow-letter", "widow-answer"))
    assert session.view.setups[0].state == "ready"
    session.mark_shot()
    assert refused(session.mark_shot) == "keeper-window is already marked as shot"
    session.skip_setup("widow-letter", "no widow")
    session.begin(SECOND)
    session.frames(30)
    assert [(line.state, line.frames, line.now) for line in session.view.setups] == [
        ("shot", 0, False), ("changing", 30, True), ("skipped", 0, False), ("to do", 0, False),
    ]  # fmt: skip
    assert session.view.next_setup == "widow-answer"
    session.begin(FIRST)  # back to it: it is open again
    assert session.view.setups[0].state == "ready"


def test_what_cannot_be_done_is_refused_with_the_reason_and_not_written() -> None:
    session = begun()
    for action, args in (
        (session.frames, (3,)), (session.reading, (None, 5.0)), (session.nudge, ("A", 1)), (session.mark_shot, ()),
    ):  # fmt: skip
        assert refused(action, *args) == "no current setup; begin one first"
    session.begin(FIRST)
    assert refused(session.begin, FIRST) == "keeper-window is already the current setup"
    assert refused(session.begin, "nowhere").startswith("no setup nowhere; the day has keeper-w")
    assert refused(session.note, " ") == "a note needs text"
    assert refused(session.skip_step, session.view.todo[0], "").startswith("a reason is needed")
    assert refused(session.skip_setup, SECOND, " ").startswith("a reason is needed")
    do_next(session)
    done = session.view.lines[0].step
    for action, args in ((session.tick, ()), (session.skip_step, ("why not",)), (session.tick_ahead, ())):
        assert refused(action, done, *args).startswith("cannot be done now: Place S1 at")
    written = len(session.entries)
    session.begin(None)
    assert refused(session.begin, None) == "the wrap has already begun"
    assert len(session.entries) == written + 1


def test_frames_are_counted_and_corrected_but_never_under_none() -> None:
    session = in_first()
    session.frames(36)
    session.frames(-4)
    assert session.state.frames == {FIRST: 32}
    assert refused(session.frames, -33) == "a setup cannot have fewer than 0 frames"


def test_readings_are_kept_by_head_and_the_last_one_counts() -> None:
    session = in_first()
    for head, stops in (("A", 4.1), ("A", 4.3), (None, 4.5)):
        session.reading(head, stops)
    assert [head.reading for head in session.view.heads] == ["f/4 +0.3", ""]
    assert session.state.readings[FIRST][None].data.f == "f/4 +0.5"
    assert session.view.as_shot_lines == ("keeper-window: A read f/4 +0.3", "keeper-window: all heads read f/4 +0.5")
    assert refused(session.reading, "D", 4.0) == "D is not used in keeper-window"
    session.undo()
    session.undo()
    assert session.view.heads[0].reading == "f/4 +0.1"


def test_the_dial_stops_at_its_ends_and_a_head_that_is_off_comes_on_at_its_least() -> None:
    session = in_first()
    assert str(session.nudge("A", 40)) == "full"
    assert refused(session.nudge, "A", 1) == "A is already at full power"
    assert str(session.nudge("A", -40)) == "1/128"
    assert refused(session.nudge, "A", -1) == "A is already at its lowest power"
    assert refused(session.nudge, "D", 1) == "D is not used in keeper-window"
    session.begin("seamstress-thread")
    assert refused(session.nudge, "D", -1) == "D is already off"
    assert [str(session.nudge("D", 1)) for _ in range(2)] == ["1/128", "1/128+0.1"]


def test_redoing_goes_as_far_as_undoing_did_and_no_farther() -> None:
    session = in_first()
    session.note("one")
    session.note("two")
    session.undo()
    session.undo()
    assert [session.redo(), session.redo()] == ["note: one", "note: two"]
    assert refused(session.redo) == "nothing to redo"
    assert session.undo() == "note: two"
    session.note("three")
    assert refused(session.redo) == "nothing to redo"
    assert [session.undo() for _ in range(3)] == ["note: three", "note: one", "begun: keeper-window"]
    assert refused(session.undo) == "nothing left to undo"


def test_undoing_far_more_than_is_kept_at_hand_reads_the_entries_again() -> None:
    session = in_first()
    session.note("kept")
    for _ in range(240):
        session.frames(1)
    for left in range(239, -1, -1):
        session.undo()
        assert session.view.setups[0].frames == left
    assert session.state == state_after(session.plan, session.counted)


def test_what_cannot_be_written_is_not_true_and_can_be_tried_again() -> None:
    clock = SetClock()
    journal = FullDisk.in_memory(clock=clock, who="photo")
    session = Session(demo(), journal, "photo", clock)
    session.begin(FIRST)
    before = session.state
    journal.broken = True
    for action in (lambda: session.note("x"), session.undo, lambda: session.frames(3)):
        with pytest.raises(JournalError):
            action()
        assert (session.state, len(session.entries)) == (before, 1)
    journal.broken = False
    session.frames(3)
    assert session.state.frames == {FIRST: 3}


def test_an_end_that_cannot_be_any_more_is_not_shown() -> None:
    clock = SetClock(8)
    session = begun(short("widow-letter", "widow-answer"), clock)
    assert session.finish_text(clock.now) == ""  # not worked out yet
    session.work_out()
    assert session.finish_text(clock.now).startswith("ends about 09:")
    clock.now = clock.now.replace(hour=17)
    session.begin("widow-letter")
    assert session.finish_text(clock.now) == "calculating the finish"
    session.work_out()
    session.frames(1)  # hardly moves the end: the old one stands until there is a new one
    assert session.finish_text(clock.now).startswith("ends about 17:")
    clock.move(300)
    session.frames(1)
    assert session.finish_text(clock.now) == "calculating the finish"


def test_what_would_help_stays_until_the_day_is_worked_out_for_a_later_moment() -> None:
    clock = SetClock(8)
    session = begun(short("widow-letter", "widow-answer"), clock)
    session.work_out()
    assert session.hours is not None
    session.hours = helped = replace(session.hours, helped=True)
    session.work_out(helped.moment)
    assert session.hours is helped
    for later in (lambda: clock.move(60), lambda: session.note("late")):
        later()
        session.work_out()
        assert session.hours is not helped
        session.hours = helped = replace(session.hours, helped=True)


def test_a_day_without_crew_looks_or_breaks_can_be_shot_and_ends_when_everything_is_struck() -> None:
    session = begun(with_day(short("widow-letter"), crew=(), looks=(), breaks=(), rate=None))
    make_ready(session, "widow-letter")
    session.work_out()
    assert session.finish_text(session.clock()).startswith("ends about ")
    make_ready(session, None)
    assert session.view.ready
    session.work_out()
    assert session.finish_text(session.clock()) == "everything is struck"


def test_a_setup_deleted_while_at_work_is_reported_and_the_day_goes_on() -> None:
    session = standing(short(FIRST, SECOND))
    session.nudge("A", 1)
    edited = replace(short(SECOND), setups={SECOND: demo().setups[SECOND]})
    assert "keeper-window was the current setup" in session.replan(edited)
    assert (session.view.setup, session.view.next_setup, session.view.as_shot_lines) == (None, SECOND, ())
    assert [line.id for line in session.view.setups] == [SECOND]
    session.work_out()
    make_ready(session, SECOND)
    assert session.view.ready
