"""The journal screen, by what a person sees and presses."""

from __future__ import annotations

from pathlib import Path

from tests.day.days import begun, make_ready
from tests.screens.screen_text import app_of, line_with, on_disk, press, screen_lines, settled, shown


async def test_the_newest_is_at_the_bottom_and_up_goes_back() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
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
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j", "u")
        assert line_with(pilot, "note: a slip").endswith("note: a slip  (undone)")
        assert line_with(pilot, "undone: entry 2").endswith("undone: entry 2, note: a slip")
        await press(pilot, "U")
        assert line_with(pilot, "note: a slip").endswith("note: a slip")
        assert "brought back: entry 2, note: a slip" in shown(pilot)


async def test_as_shot_against_the_plan() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
        assert "everything as planned so far" in shown(pilot)
        session.nudge("A", -1)
        session.reading("A", 4.1)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        await settled(pilot)
        text = shown(pilot)
        assert "keeper-window: A power: 1/16+0.7 instead of 1/8" in text
        assert "keeper-window: A read f/4 +0.1" in text


async def test_a_note_is_written_here_too() -> None:
    session = begun()
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j", "w", *"rain on the roof", "enter")
        assert "note: rain on the roof" in shown(pilot)


async def test_it_says_whether_it_is_on_disk(tmp_path: Path) -> None:
    session = on_disk(tmp_path)
    session.note("x")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
        assert "journal, 1 entry, on disk" in shown(pilot)
    session.journal.close()
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
        assert "journal, 0 entries, NOT on disk" in shown(pilot)


async def test_it_fits_any_window() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "j")
        for size in [(60, 15), (40, 10), (20, 5), (1, 1)]:
            await pilot.resize_terminal(*size)
            await press(pilot, "up", "home", "end")
            shown(pilot)
