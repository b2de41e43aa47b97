"""The journal screen, and a journal damaged under the running program or with entries nobody can read."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from runbook.day.actions import Session
from runbook.journal.journal import Journal
from tests.day.days import SetClock, begun, demo, do_until, make_ready
from tests.screens.screen_text import app_of, line_with, on_disk, opened, press, screen_lines, shown


async def test_the_newest_is_at_the_bottom_and_up_goes_back() -> None:
    async with opened("j", ready="keeper-window") as (pilot, _session):
        assert "done: Test flash" in shown(pilot)
        assert "begun: keeper-window" not in shown(pilot)
        await press(pilot, "home")
        assert "begun: keeper-window" in screen_lines(pilot.app)[2]
        await press(pilot, "up", "down", "pagedown", "pageup", "end")
        assert "done: Test flash" in shown(pilot)


async def test_undone_entries_say_so_in_words() -> None:
    session = begun()
    session.begin("keeper-window")
    session.note("a slip")
    async with opened("j", "u", session=session) as (pilot, _):
        assert line_with(pilot, "note: a slip").endswith("note: a slip  (undone)")
        assert line_with(pilot, "undone: entry 2").endswith("undone: entry 2, note: a slip")
        await press(pilot, "U")
        assert line_with(pilot, "note: a slip").endswith("note: a slip")
        assert "brought back: entry 2, note: a slip" in shown(pilot)


async def test_it_says_whether_it_is_on_disk(tmp_path: Path) -> None:
    session = on_disk(tmp_path)
    session.note("x")
    async with opened("j", session=session) as (pilot, _):
        assert "journal, 1 entry, on disk" in shown(pilot)
    session.journal.close()
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
        assert "journal, 0 entries, NOT on disk" in shown(pilot)


def played(path: Path) -> list[int]:
    """A day on disk with a box that stands; the numbers of its entries that place stands."""
    clock = SetClock()
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.begin("keeper-window")
        do_until(session, "aim", "head", "A")
        return [entry.n for entry in session.entries]


def spoil_rows(path: Path, *numbers: int) -> None:
    """Make the checksums of some rows false, as a failing disk does."""
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER entry_stays")
    for n in numbers:
        connection.execute("UPDATE entry SET crc = crc + 1 WHERE n = ?", (n,))
    connection.execute(
        "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END"
    )
    connection.commit()
    connection.close()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.runlog"


async def test_an_unreadable_entry_is_on_top_until_somebody_checked_the_set(path: Path) -> None:
    first, *_ = played(path)
    spoil_rows(path, first)
    clock = SetClock()
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        assert session.gaps == (first,)
        async with app_of(session).run_test(size=(80, 24)) as pilot:
            assert "JOURNAL INCOMPLETE" in shown(pilot)
            assert "Nothing is set up yet" not in shown(pilot)
            await press(pilot, "w", *"hello", "enter")  # the last message hides no warning
            assert "JOURNAL INCOMPLETE" in shown(pilot)
            await press(pilot, "z")
            assert "JOURNAL INCOMPLETE" in shown(pilot)
            await press(pilot, "z", "j", "a", "n")
            assert session.gaps == (first,)
            await press(pilot, "a", "y")
            assert session.gaps == ()
            assert "JOURNAL INCOMPLETE" not in shown(pilot)
            await press(pilot, "u")
            assert session.gaps == (first,)
            await press(pilot, "U")
    with Journal.open(path, clock=clock, who="photo") as journal:
        assert Session(demo(), journal, "photo", clock).gaps == ()


async def test_a_journal_damaged_meanwhile_is_written_again_from_memory(path: Path) -> None:
    clock = SetClock()
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        make_ready(session, "keeper-window")
        before = list(session.entries)
        with path.open("r+b") as file:
            file.write(b"spoiled" * 2000)
        async with app_of(session).run_test(size=(80, 24)) as pilot:
            await press(pilot, "w", *"hello", "enter")
            assert f"write all {len(before)} entries again here" in shown(pilot)
            assert "everything before is safe" not in shown(pilot)
            await press(pilot, "r")
            assert session.journal.on_disk
            assert "NOT RECORDED" not in shown(pilot)
            assert session.entries[-1].data.text == "hello"
    seen = Journal.read(path)
    assert list(seen.entries[: len(before)]) == before
    assert seen.entries[-1].data.text == "hello"
    assert not Session(demo(), Journal.in_memory(clock=clock, who="", entries=seen.entries),
                       "photo", clock).gaps  # fmt: skip


async def test_leaving_offers_a_place_for_all_of_a_damaged_journal(path: Path, tmp_path: Path) -> None:
    clock, spare = SetClock(), tmp_path / "spare.runlog"
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        make_ready(session, "keeper-window")
        steps = sum(entry.kind == "step-ticked" for entry in session.entries)
        with path.open("r+b") as file:
            file.write(b"spoiled" * 2000)
        app = app_of(session)
        app.spare = lambda: spare
        async with app.run_test(size=(80, 24)) as pilot:
            await press(pilot, "w", *"hello", "enter", "w")
            assert not session.journal.on_disk
            await press(pilot, "q")
            assert f"write all {len(session.entries)} entries to" in shown(pilot)
            await press(pilot, "o")
    entries = Journal.read(spare).entries
    assert sum(entry.kind == "step-ticked" for entry in entries) == steps
    assert any(entry.kind == "note" for entry in entries)


async def test_a_journal_written_elsewhere_is_shown_while_it_is_there(tmp_path: Path) -> None:
    session, spare = begun(), tmp_path / "spare.runlog"
    session.begin("keeper-window")
    session.write_again(spare)
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        assert "the journal is not in the day's folder but in" in shown(pilot)
    session.journal.close()
