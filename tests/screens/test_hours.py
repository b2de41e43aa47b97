"""The hours screen: bars, the forecast in words, and work that can be stopped."""

from __future__ import annotations

import asyncio
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
from runbook.day.hours import hours_of
from runbook.day.load_plan import read_day
from runbook.day.order_proposal import sooner_order
from runbook.journal.journal import Journal, journal_path
from runbook.screens.hours import HoursScreen, bars
from runbook.screens.text import ASCII, UNICODE
from tests.day.days import SetClock, begun, do_next, make_ready, short
from tests.screens.screen_text import line_with, on_disk, opened, press, screen_lines, shown, until
from tests.terminal import badly_ordered_demo

pytestmark = pytest.mark.forecast


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Simulate the day a few times only: what is calculated has tests of its own."""
    monkeypatch.setattr(Session, "work_out", lambda *_: None)
    monkeypatch.setattr(hours_screen, "hours_of", partial(hours_of, draws=20))
    monkeypatch.setattr(hours_screen, "sooner_order", lambda *_: None)


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


async def test_the_plan_and_the_real_day_are_bars_at_80_columns() -> None:
    async with opened("h", session=late_day()) as (pilot, _):
        await calculated(pilot)
        for words in ("08:00-10:00", " late", "█"):
            assert words in line_with(pilot, "widow-letter")
        assert "▓" in line_with(pilot, "widow-answer")
        assert "90 % by" in line_with(pilot, "; 90 %")
        assert "planned end" in shown(pilot)
        assert "overtime: under 1 % likely" in shown(pilot)
        await press(pilot, "o")
        assert "no other order is known that ends the day sooner" in shown(pilot)
        await press(pilot, "s")
        assert not isinstance(pilot.app.screen, HoursScreen)


def test_bars_are_plain_ascii_where_they_must_be() -> None:
    session = late_day()
    hours = hours_of(session.moment, session.changes, draws=50)
    lines = [text for text, _ in bars(hours, 80, ASCII)]
    assert all(text.isascii() and len(text) <= 80 for text in lines)
    assert "#" in lines[1].split("late")[1]
    assert "=" in lines[0]  # what the signs mean
    first = hours.rows[0]
    early = replace(hours, rows=(replace(first, times=replace(first.times, end_s=first.times.start_s + 60)),))
    assert "--" in bars(early, 80, ASCII)[1][0]  # planned, and not so
    assert all(len(text) <= 140 for text, _ in bars(hours, 140, UNICODE))


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
            await press(pilot, "home")
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
    monkeypatch.setattr(hours_screen, "sooner_order", sooner_order)
    monkeypatch.setattr(hours_screen, "DRAWS", 400)
    day = badly_ordered_demo(tmp_path / "day")
    before = (day / "day.toml").read_text("utf-8")
    session = on_disk(tmp_path, read_day(day))
    session.folder = day
    async with opened("h", session=session, size=(140, 45)) as (pilot, _):
        await until(pilot, lambda: "another order saves" in shown(pilot))
        assert session.hours is not None and session.hours.sooner is not None
        order = session.hours.sooner.order
        assert ", ".join(order) in shown(pilot)
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
        await calculated(pilot, "everything was struck at 08:3")
