"""The hours screen: the answer, what helps, bars, and work that can be stopped."""

import asyncio
import datetime as dt
import threading
import time
import tomllib
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

import runbook.screens.hours as hours_screen
from runbook.day.actions import Session
from runbook.day.hours import hours_of, with_help
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal, journal_path
from runbook.screens.hours import HoursScreen, HoursTable
from runbook.screens.text import ASCII
from tests.day.days import SetClock, begun, do_next, make_ready, short
from tests.day.plans import with_day
from tests.screens.screen_text import app_of, line_with, on_disk, opened, paint, press, screen_lines, shown, until
from tests.terminal import badly_ordered_demo

pytestmark = pytest.mark.forecast


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Simulate the day a few times only: what is calculated has tests of its own."""
    monkeypatch.setattr(Session, "work_out", lambda *_: None)
    monkeypatch.setattr(hours_screen, "hours_of", partial(hours_of, draws=20))
    monkeypatch.setattr(hours_screen, "with_help", lambda hours, *_, **__: replace(hours, helped=True))


def late_day() -> Session:
    """One setup shot forty minutes later than planned, the next to come."""
    clock = SetClock()
    session = begun(short("widow-letter", "widow-answer"), clock)
    make_ready(session, "widow-letter")
    clock.move(120)
    session.mark_shot()
    session.begin("widow-answer")
    return session


async def calculated(pilot: Pilot[Any], words: str = "based on") -> None:
    """Wait until nothing is calculated any more and the screen shows these words."""
    screen = pilot.app.screen
    assert isinstance(screen, HoursScreen)
    await until(pilot, lambda: screen.work is not None and screen.work.is_finished and words in shown(pilot))


async def test_the_answer_comes_first_and_the_real_day_is_bars_at_80_columns() -> None:
    async with opened("h", session=late_day()) as (pilot, _):
        await calculated(pilot)
        assert screen_lines(pilot.app)[2].startswith("BY 18:00: about ")
        assert "Meal: none" in shown(pilot) and "planned end" in shown(pilot)
        for words in ("✓", "10:00", " late", "█"):
            assert words in line_with(pilot, "widow-letter")
        assert "▶" in line_with(pilot, "widow-answer")
        assert " 09" in line_with(pilot, "against plan")
        assert "█ shoot" in shown(pilot) and "┊ wrap 18:00" in shown(pilot)
        await press(pilot, "v")
        heading = line_with(pilot, "against plan").split()
        assert heading == ["setup", "start", "break", "change", "wait", "shoot", "end", "against", "plan"]
        _, *parts, end = line_with(pilot, "total ").split()[-6:]
        assert 8 * 60 + sum(map(int, parts[-3:])) == int(end[:2]) * 60 + int(end[3:])
        await press(pilot, "o")
        assert "no order is known that ends the day sooner" in shown(pilot)
        await press(pilot, "s")
        assert not isinstance(pilot.app.screen, HoursScreen)


async def test_a_wide_and_high_window_shows_minutes_and_bars_with_the_plan_beneath() -> None:
    async with opened("h", session=late_day(), size=(140, 45)) as (pilot, _):
        await calculated(pilot)
        lines = screen_lines(pilot.app)
        at = next(n for n, line in enumerate(lines) if "widow-letter" in line)
        assert "08:00-09:15" in lines[at] and "█" in lines[at] and "─" not in lines[at]
        assert "──" in lines[at + 1] and "█" not in lines[at + 1]
        await until(pilot, lambda: screen_lines(pilot.app)[-1].startswith("space calculate again"))


async def test_without_utf8_or_colour_all_of_it_is_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    session = late_day()
    async with app_of(session, ASCII).run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        await calculated(pilot)
        row = line_with(pilot, "widow-letter")
        assert row.isascii() and "x widow-letter" in row and "##" in row
        assert all(text in shown(pilot) for text in ("# shoot", ": wrap 18:00", "| now"))


async def test_what_helps_is_a_table_and_a_forecast_made_anew_is_helped_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hours_screen, "with_help", partial(with_help, draws=20))
    session = begun(with_day(short("keeper-window", "widow-letter"), wrap=dt.time(9, 10), breaks=()))
    async with opened("h", session=session) as (pilot, _):
        await until(pilot, lambda: "what helps" in shown(pilot))
        assert screen_lines(pilot.app)[2].startswith("NOT BY 09:10: about ")
        assert "frames" in line_with(pilot, "drop widow-letter") and "in time" in line_with(pilot, "what helps")
        assert pilot.app.screen.query_one("#rows", HoursTable).has_focus
        assert session.hours is not None
        session.hours = replace(session.hours, helped=False)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        await until(pilot, lambda: session.hours is not None and session.hours.helped)


async def test_keys_stay_quick_while_it_works_and_escape_stops_it(monkeypatch: pytest.MonkeyPatch) -> None:
    working = threading.Event()

    def long(*_: object, tell: Callable[[str], None], **__: object) -> None:
        working.set()
        while True:
            tell("the forecast")  # raises once it is stopped
            sum(range(2_000))  # busy, as the real work is

    monkeypatch.setattr(hours_screen, "hours_of", long)
    async with opened("h", session=late_day()) as (pilot, _):
        await until(pilot, working.is_set)
        lags = []
        for _ in range(21):  # what a key waits for until the loop takes it up
            start = time.monotonic()
            await asyncio.sleep(0)
            lags.append(time.monotonic() - start)
        assert sorted(lags)[10] < 0.025
        await press(pilot, "escape")
        await until(pilot, lambda: "stopped; space calculates again" in shown(pilot))
        assert isinstance(pilot.app.screen, HoursScreen)
        await press(pilot, "escape")
        assert not isinstance(pilot.app.screen, HoursScreen)


async def test_a_failure_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise ZeroDivisionError("no [hours]")

    monkeypatch.setattr(hours_screen, "hours_of", fails)
    async with opened("h", session=late_day()) as (pilot, _):
        await until(pilot, lambda: "cannot be calculated: no [hours]" in shown(pilot))


async def test_a_rehearsal_says_so_and_never_touches_the_day(tmp_path: Path) -> None:
    plan, clock = short("widow-letter", "widow-answer"), SetClock()
    real = on_disk(tmp_path, plan)
    real.begin("widow-letter")
    real.journal.close()
    day_journal = (tmp_path / "journal.runlog").read_bytes()
    path = journal_path(tmp_path, rehearsal=True)
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(plan, journal, "photo", clock, rehearsal=True)
        async with opened("n", session=session) as (pilot, _):
            clock.move(0.75)
            await paint(pilot)
            top = screen_lines(pilot.app)[0]
            assert top.startswith("REHEARSAL") and "0:45 of " in top
            while not session.state.done:
                await press(pilot, "space")  # one key, one step, whatever holds it
            assert len(session.state.done) == 1
            while do_next(session):
                clock.move(0.5)
            await press(pilot, "q", "y")
            await until(pilot, lambda: "REHEARSAL: report" in shown(pilot))
            await press(pilot, "enter")
        assert pilot.app.return_code == 0
    assert (tmp_path / "journal.runlog").read_bytes() == day_journal
    assert len(Journal.read(path).entries) > 10


async def test_a_sooner_order_is_shown_and_can_be_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hours_screen, "with_help", partial(with_help, draws=100))
    day = badly_ordered_demo(tmp_path / "day")
    before = (day / "day.toml").read_text("utf-8")
    session = on_disk(tmp_path, read_day(day))
    session.folder = day
    async with opened("h", session=session, size=(140, 45)) as (pilot, _):
        await until(pilot, lambda: "shoot in another order" in shown(pilot))
        assert session.hours is not None and session.hours.sooner is not None
        order = session.hours.sooner.order
        assert f"another order: {', '.join(order)}" in " ".join(shown(pilot).split())
        await press(pilot, "o", "n")
        assert (day / "day.toml").read_text("utf-8") == before
        await press(pilot, "o", "y")
        assert tomllib.loads((day / "day.toml").read_text("utf-8"))["order"] == list(order)
        assert session.plan.day.order == order
        assert "written into day.toml" in shown(pilot)
        await press(pilot, "l", "u")
        assert (day / "day.toml").read_text("utf-8") == before


async def test_with_everything_shot_the_clock_is_the_wraps() -> None:
    clock = SetClock()
    session = begun(short("widow-letter"), clock)
    make_ready(session, "widow-letter")
    clock.move(30)
    session.mark_shot()
    async with opened("h", session=session) as (pilot, _):
        await calculated(pilot, "ends about 08:3")
        await press(pilot, "s", "n", "h")
        assert session.state.wrapping
        await calculated(pilot, "ends about 08:3")
        while do_next(session):
            clock.move(0.5)
        await press(pilot, "space")
        await calculated(pilot, "BY 18:00: struck at 08:3")
