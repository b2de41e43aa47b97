"""The journal screen, and a journal damaged under the running program or with entries nobody can read."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from runbook.day.actions import Session
from runbook.journal.journal import Journal
from tests.day.days import SetClock, begun, demo, do_until, make_ready
from tests.screens.screen_text import app_of, line_with, on_disk, opened, press, screen_lines, shown


async def test_the_newest_is_at_the_bottom_and_home_goes_back() -> None:
    async with opened("j", ready="keeper-window") as (pilot, _session):
        assert "done: Test flash" in shown(pilot)
        assert "begun: keeper-window" not in shown(pilot)
        await press(pilot, "home")
        assert "begun: keeper-window" in screen_lines(pilot.app)[3]
        await press(pilot, "pagedown", "end")
        assert "done: Test flash" in shown(pilot)


async def test_undone_entries_are_marked_in_words() -> None:
    async with opened(*"wa slip\nju", begin="keeper-window") as (pilot, _):
        assert "journal, 3 entries, NOT on disk" in shown(pilot)
        assert line_with(pilot, "note: a slip").endswith("note: a slip  (undone)")
        assert line_with(pilot, "undone: entry 2").endswith("undone: entry 2, note: a slip")
        await press(pilot, "U")
        assert line_with(pilot, "note: a slip").endswith("note: a slip")
        assert "redone: entry 2, note: a slip" in shown(pilot)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A day on disk with a box that stands."""
    session = on_disk(tmp_path)
    session.begin("keeper-window")
    do_until(session, "aim", "head", "A")
    yield session
    session.journal.close()


def again(path: Path) -> Session:
    """The same day opened once more."""
    clock = SetClock()
    return Session(demo(), Journal.open(path, clock=clock, who="photo"), "photo", clock)


async def test_an_unreadable_entry_is_on_top_until_somebody_checked_the_set(session: Session, tmp_path: Path) -> None:
    path = tmp_path / "journal.runlog"
    session.journal.close()
    with sqlite3.connect(path) as connection:  # a checksum made false, as a failing disk does
        (trigger,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'entry_stays'").fetchone()
        connection.execute("DROP TRIGGER entry_stays")
        connection.execute("UPDATE entry SET crc = crc + 1 WHERE n = 1")
        connection.execute(trigger)
    connection.close()
    damaged = again(path)
    async with opened(session=damaged) as (pilot, _):
        assert "JOURNAL INCOMPLETE" in shown(pilot)
        assert "Nothing is set up yet" not in shown(pilot)
        for keys in ("whello\n", "z"):  # the last message hides no warning
            await press(pilot, *keys)
            assert "JOURNAL INCOMPLETE" in shown(pilot)
        for keys, gaps in (("zjan", (1,)), ("ay", ()), ("u", (1,)), ("U", ())):
            await press(pilot, *keys)
            assert damaged.gaps == gaps
            assert ("JOURNAL INCOMPLETE" in shown(pilot)) == bool(gaps)
    damaged.journal.close()
    opened_again = again(path)
    assert opened_again.gaps == ()
    opened_again.journal.close()


async def test_a_journal_damaged_meanwhile_is_written_again_from_memory(session: Session, tmp_path: Path) -> None:
    path, before = tmp_path / "journal.runlog", list(session.entries)
    with path.open("r+b") as file:
        file.write(b"spoiled" * 2000)
    async with opened(*"whello\n", session=session) as (pilot, _):
        assert f"write all {len(before)} entries again here" in shown(pilot)
        assert "everything before is safe" not in shown(pilot)
        await press(pilot, "r")
        assert session.journal.on_disk
        assert "NOT RECORDED" not in shown(pilot)
    seen = list(Journal.read(path).entries)
    assert (seen[: len(before)], seen[-1].data.text) == (before, "hello")


async def test_leaving_offers_a_place_for_all_of_a_damaged_journal(session: Session, tmp_path: Path) -> None:
    spare, app = tmp_path / "spare.runlog", app_of(session)
    with (tmp_path / "journal.runlog").open("r+b") as file:
        file.write(b"spoiled" * 2000)
    app.spare = lambda: spare
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, *"whello\nw")
        assert not session.journal.on_disk
        await press(pilot, "q")
        assert f"write all {len(session.entries)} entries to" in shown(pilot)
        await press(pilot, "o")
    kinds = [entry.kind for entry in Journal.read(spare).entries]
    assert kinds.count("step-ticked") == len(session.state.done) > 0
    assert "note" in kinds


async def test_a_journal_written_elsewhere_is_shown_while_it_is_there(tmp_path: Path) -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.write_again(tmp_path / "spare.runlog")
    async with opened("j", session=session) as (pilot, _):
        assert "the journal is not in the day's folder but in" in shown(pilot)
        assert "entries, on disk" in shown(pilot)
    session.journal.close()
