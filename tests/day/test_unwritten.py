"""What is lost with a program that only looked on."""

from __future__ import annotations

from pathlib import Path

import pytest

from runbook.day.actions import Session
from runbook.day.handover_lines import unsaved_text
from runbook.journal.journal import Journal
from tests.day.days import SetClock, demo, do_next, unwritable


@pytest.fixture
def looking_on(tmp_path: Path) -> Session:
    """A day with a note on disk that another program has open."""
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as first:
        Session(demo(), first, "photo", clock).note("on disk")
        journal = Journal.in_memory(clock=clock, who="first", entries=first.entries)
    session = Session(demo(), journal, "first", clock)
    session.open("digest", "0")
    return session


def lost(session: Session) -> str:
    return unsaved_text(session.journal.unwritten)


def test_what_was_read_and_what_says_itself_is_not_lost(looking_on: Session) -> None:
    assert looking_on.journal.unwritten
    looking_on.leave()
    assert lost(looking_on) == ""


def test_each_kind_is_counted(looking_on: Session) -> None:
    looking_on.note("unheard")
    assert lost(looking_on) == "1 note is not written and would be lost"
    looking_on.note("again")
    assert lost(looking_on) == "2 notes are not written and would be lost"
    looking_on.begin("keeper-window")
    do_next(looking_on)
    looking_on.frames(3)
    assert lost(looking_on) == (
        "2 notes, 1 setup begun, 2 checks, 1 step and 1 other thing are not written and would be lost"
    )


def test_what_was_undone_is_not_lost_and_an_undoing_of_what_is_on_disk_is(looking_on: Session) -> None:
    looking_on.note("unheard")
    looking_on.undo()
    assert lost(looking_on) == ""
    looking_on.redo()
    assert lost(looking_on) == "1 note is not written and would be lost"
    looking_on.undo()
    looking_on.undo()
    assert lost(looking_on) == "1 other thing is not written and would be lost"


def test_what_was_said_meanwhile_is_written_with_the_next_thing_said(tmp_path: Path) -> None:
    clock, path = SetClock(), tmp_path / "journal.runlog"
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.note("safe")
        session.keep_in_memory()
        with unwritable(path):
            session.note("unheard")
            session.note("undone")
            session.undo()
            assert not session.try_to_record()
            assert session.warning.startswith("NOT RECORDED")
            assert lost(session) == "1 note is not written and would be lost"
        session.note("heard again")
        assert session.warning == ""
        assert list(Journal.read(path).entries) == session.entries
        session.keep_in_memory()  # and once more
        assert session.try_to_record()
        session.journal.close()


def test_a_day_that_only_looks_on_writes_nothing(looking_on: Session) -> None:
    looking_on.note("unheard")
    assert not looking_on.try_to_record()


def test_a_journal_on_disk_loses_nothing(tmp_path: Path) -> None:
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.note("safe")
        assert lost(session) == ""
        session.keep_in_memory()
        assert lost(session) == ""
        assert session.try_to_record()
        session.journal.close()
