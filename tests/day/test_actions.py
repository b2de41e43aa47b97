"""What a person can do to the running day, and what is said when it cannot be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from runbook.day import actions
from runbook.day.actions import Session
from runbook.day.reduce import reduce, state_after
from runbook.day.state import DayState
from runbook.journal.errors import JournalError, Kind
from runbook.journal.events import Entry, live
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from runbook.model.power import OFF
from tests.day.days import SetClock, begun, demo, do_next, make_ready, refused, short


class FullDisk(Journal):
    """A journal whose disk takes nothing more, until it does."""

    kind: Kind = "full"
    broken = False

    def append_all(self, data: Sequence[Any], who: str | None = None) -> tuple[Entry, ...]:
        if self.broken:
            raise JournalError(self.kind, "journal.runlog could not be written", "free some")
        return super().append_all(data, who)


def test_the_list_of_setups_shows_their_states() -> None:
    session = begun(short("keeper-window", "keeper-lamp", "widow-letter", "widow-answer"))
    make_ready(session, "keeper-window")
    session.mark_shot()
    session.skip_setup("widow-letter", "no widow")
    session.begin("keeper-lamp")
    session.frames(30)
    assert [(line.state, line.frames, line.now) for line in session.view.setups] == [
        ("shot", 0, False),
        ("changing", 30, True),
        ("skipped", 0, False),
        ("to do", 0, False),
    ]
    assert session.view.next_setup == "widow-answer"
    while do_next(session):
        pass
    assert session.view.setups[1].state == "ready"


def test_going_back_to_a_setup_marked_as_shot_opens_it_again() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.mark_shot()
    assert refused(session.mark_shot) == "keeper-window is marked as shot already"
    session.begin("keeper-window")
    assert session.view.setups[0].state == "ready"


def test_beginning_what_is_at_work_is_refused() -> None:
    session = begun()
    session.begin("keeper-window")
    assert refused(session.begin, "keeper-window") == "keeper-window is at work already"
    session.begin(None)
    assert refused(session.begin, None) == "the wrap is at work already"
    assert refused(session.begin, "nowhere").startswith("no setup nowhere; the day has keeper-w")


def test_nothing_at_work_refuses_what_needs_a_setup() -> None:
    session = begun()
    for action, args in (
        (session.frames, (3,)),
        (session.reading, (None, 5.0)),
        (session.nudge, ("A", 1)),
        (session.mark_shot, ()),
    ):
        assert refused(action, *args) == "no setup is at work; begin one first"
    session.note("the landlord came by")


def test_frames_are_counted_and_corrected_but_never_under_none() -> None:
    session = begun()
    session.begin("keeper-window")
    session.frames(36)
    session.frames(-4)
    assert session.state.frames == {"keeper-window": 32}
    assert refused(session.frames, -33) == "a setup has no fewer than 0 frames"


def test_readings_are_kept_by_head_and_the_last_one_counts() -> None:
    session = begun()
    session.begin("keeper-window")
    session.reading("A", 4.1)
    session.reading("A", 4.3)
    session.reading(None, 4.5)
    assert [head.reading for head in session.view.heads] == ["f/4 +0.3", ""]
    assert session.state.readings["keeper-window"][None].data.f == "f/4 +0.5"
    assert "keeper-window: A read f/4 +0.3" in session.view.as_shot_lines
    assert refused(session.reading, "D", 4.0) == "D is not used in keeper-window"
    session.undo()
    session.undo()
    assert session.view.heads[0].reading == "f/4 +0.1"


def test_the_dial_stops_at_its_ends() -> None:
    session = begun()
    session.begin("keeper-window")
    assert str(session.nudge("A", 40)) == "full"
    assert refused(session.nudge, "A", 1) == "A is at full power already"
    assert str(session.nudge("A", -40)) == "1/128"
    assert refused(session.nudge, "A", -1) == "A is at its least power already"
    assert refused(session.nudge, "D", 1) == "D is not used in keeper-window"


def test_a_head_that_is_off_comes_on_at_its_least_and_not_by_turning_it_down() -> None:
    session = begun()
    session.begin("seamstress-thread")
    assert next(h.power for h in session.view.heads if h.head == "D") == OFF
    assert refused(session.nudge, "D", -1) == "D is off already"
    assert str(session.nudge("D", 1)) == "1/128"
    assert str(session.nudge("D", 1)) == "1/128+0.1"


def test_notes_and_reasons_need_words() -> None:
    session = begun()
    session.begin("keeper-window")
    assert refused(session.note, " ") == "a note needs words"
    assert refused(session.skip_step, session.view.todo[0], "").startswith("a reason is needed")
    assert refused(session.skip_setup, "keeper-lamp", " ").startswith("a reason is needed")


def test_a_step_that_is_not_at_hand_is_refused() -> None:
    session = begun()
    session.begin("keeper-window")
    do_next(session)
    done = session.view.lines[0].step
    assert refused(session.tick, done).startswith("not to be done now: Place S1 at")
    assert refused(session.skip_step, done, "why not").startswith("not to be done now")
    assert refused(session.tick_ahead, done).startswith("not to be done now")


def test_bringing_back_goes_as_far_as_undoing_did_and_no_farther() -> None:
    session = begun()
    session.begin("keeper-window")
    session.note("one")
    session.note("two")
    session.undo()
    session.undo()
    assert session.redo() == "note: one"
    assert session.redo() == "note: two"
    assert refused(session.redo) == "nothing to redo"
    assert session.undo() == "note: two"
    session.note("three")
    assert refused(session.redo) == "nothing to redo"
    for said in ("note: three", "note: one", "begun: keeper-window"):
        assert session.undo() == said
    assert refused(session.undo) == "nothing left to undo"


def test_what_cannot_be_written_is_not_true_and_can_be_tried_again() -> None:
    clock = SetClock()
    journal = FullDisk.in_memory(clock=clock, who="photo")
    session = Session(demo(), journal, "photo", clock)
    session.begin("keeper-window")
    before = session.state
    journal.broken = True
    for action in (lambda: session.note("x"), session.undo, lambda: session.frames(3)):
        with pytest.raises(JournalError):
            action()
        assert session.state == before
        assert len(session.entries) == 1
    journal.broken = False
    session.frames(3)
    assert session.state.frames == {"keeper-window": 3}


def worked_out(session: Session) -> str:
    """What is said of the day's end, worked out now."""
    session.work_out()
    return session.finish_text(session.clock())


def test_an_end_that_cannot_be_any_more_is_not_shown() -> None:
    clock = SetClock(8)
    session = begun(short("widow-letter", "widow-answer"), clock)
    assert worked_out(session).startswith("ends about 09:")
    clock.now = clock.now.replace(hour=17)
    session.begin("widow-letter")
    assert session.finish_text(clock.now) == "calculating the finish"
    assert worked_out(session).startswith("ends about 17:")
    session.frames(1)  # hardly moves the end: the old one stands until there is a new one
    assert session.finish_text(clock.now).startswith("ends about 17:")
    clock.move(300)
    session.frames(1)
    assert session.finish_text(clock.now) == "calculating the finish"


def test_the_day_ends_sooner_as_work_is_done() -> None:
    session = begun(short("widow-letter", "widow-answer"))
    assert session.finish_text(session.clock()) == ""  # not worked out yet
    first = worked_out(session)
    assert first.startswith("ends about 09:") and first.endswith(" to spare")
    make_ready(session, "widow-letter")
    session.frames(session.plan.setups["widow-letter"].frames)
    session.mark_shot()
    assert worked_out(session) < first
    make_ready(session, "widow-answer")
    session.mark_shot()
    make_ready(session, None)
    assert worked_out(session) == "everything is struck"


def test_a_day_without_crew_looks_or_breaks_can_be_shot() -> None:
    bare = replace(demo().day, crew=(), looks=(), breaks=(), rate=None, order=("widow-letter",))
    session = begun(replace(demo(), day=bare))
    session.work_out()
    make_ready(session, "widow-letter")
    make_ready(session, None)
    assert session.view.ready


def test_a_setup_deleted_while_at_work_is_reported_and_the_day_goes_on() -> None:
    session = begun(short("keeper-window", "keeper-lamp"))
    make_ready(session, "keeper-window")
    session.nudge("A", 1)
    setups = {k: v for k, v in session.plan.setups.items() if k != "keeper-window"}
    edited = replace(session.plan, day=replace(session.plan.day, order=("keeper-lamp",)), setups=setups)
    assert "keeper-window was at work" in session.replan(edited)
    assert session.view.setup is None
    assert session.view.next_setup == "keeper-lamp"
    assert [line.id for line in session.view.setups] == ["keeper-lamp"]
    assert session.view.as_shot_lines == ()
    session.work_out()
    make_ready(session, "keeper-lamp")
    assert session.view.ready


def test_an_undo_folds_only_what_comes_after_what_it_undoes(monkeypatch: pytest.MonkeyPatch) -> None:
    session = begun()
    for n in range(300):
        session.note(f"note {n}")
    folded: list[int] = []

    def counting(plan: Plan, state: DayState, entry: Entry) -> DayState:
        folded.append(entry.n)
        return reduce(plan, state, entry)

    monkeypatch.setattr(actions, "reduce", counting)
    session.note("one more")
    assert len(folded) == 1
    session.undo()
    session.undo()
    assert len(folded) == 1
    session.redo()
    assert len(folded) == 2
    assert session.state == state_after(session.plan, live(session.entries))
