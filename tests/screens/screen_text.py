"""An app on a day with a set clock, and what its screen shows, as lines of text."""

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from time import monotonic
from typing import Any

from rich.cells import cell_len
from textual import events
from textual.app import App
from textual.keys import _character_to_key, key_to_character
from textual.pilot import Pilot
from textual.screen import ModalScreen

from runbook.day.actions import Session
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from runbook.screens.app import RunbookApp
from runbook.screens.text import UNICODE, Glyphs
from tests.day.days import SetClock, begun, demo, make_ready

_ENDS = {"\n": "enter", "\x1b": "escape", "\x15": "ctrl+u"}  # so that what is typed can be written as one text


def screen_lines(app: App[Any]) -> list[str]:
    """Every line of the screen as a person sees it, without the blanks at its end."""
    return [strip.text.replace("\xa0", " ").rstrip() for strip in app.screen._compositor.render_strips()]


def shown(pilot: Pilot[Any]) -> str:
    """The whole screen as one text, then the message of the last action, which lies over a part of it.

    No line is longer than the window is wide.
    """
    lines = screen_lines(pilot.app)
    assert all(cell_len(line) <= pilot.app.size.width for line in lines)
    message = pilot.app.message if isinstance(pilot.app, RunbookApp) else ""
    return "\n".join([*lines, message]).removesuffix("\n")


def line_with(pilot: Pilot[Any], words: str) -> str:
    """The first line of the screen that holds these words."""
    found = [line for line in screen_lines(pilot.app) if words in line]
    assert found, f"{words!r} is not on the screen:\n{shown(pilot)}"
    return found[0]


def app_of(session: Session | None = None, glyphs: Glyphs = UNICODE, plan: Plan | None = None) -> RunbookApp:
    """An app over a session; the clock of the session stands still."""
    session = session or begun(plan or demo())
    return RunbookApp(session, session.clock, glyphs)


@asynccontextmanager
async def opened(
    *keys: str,
    session: Session | None = None,
    plan: Plan | None = None,
    ready: str | None = None,
    begin: str | None = None,
    size: tuple[int, int] = (80, 24),
) -> AsyncIterator[tuple[Pilot[Any], Session]]:
    """An app on a day, in memory if none is given: one setup made ready, another begun, and then keys pressed."""
    session = session or begun(plan)
    if ready is not None:
        make_ready(session, ready)
    if begin is not None:
        session.begin(begin)
    async with app_of(session).run_test(size=size) as pilot:
        if keys:
            await press(pilot, *keys)
        yield pilot, session


async def check_keys(start: dict[str, Any], keys: str, seen: Sequence[str], written: str) -> None:
    """Press keys on a day; then these words are on the screen, and entries of these kinds are new in the journal."""
    async with opened(**start) as (pilot, session):
        before = len(session.entries)
        await press(pilot, *keys)
        text = " ".join(shown(pilot).split())
        for words in seen:
            assert words in text, f"{words!r} is not on the screen: {text}"
        kinds = [entry.kind for entry in session.entries[before:]]
        assert kinds == written.split(), kinds


def on_disk(folder: Any, plan: Plan | None = None, kind: type[Journal] = Journal) -> Session:
    """A session whose journal is a file."""
    clock = SetClock()
    journal = kind.open(folder / "journal.runlog", clock=clock, who="photo")
    return Session(plan or demo(), journal, "photo", clock)


async def press(pilot: Pilot[Any], *keys: str) -> None:
    """Press keys at once, as a terminal sends what is typed fast; return when the screen shows what they did."""
    post_keys(pilot, *keys)
    await settled(pilot)


def post_keys(pilot: Pilot[Any], *keys: str) -> None:
    """Press keys at once, and wait for nothing."""
    for key in keys:
        name = _ENDS.get(key) or (_character_to_key(key) if len(key) == 1 else key)
        pilot.app.post_message(events.Key(name, key if len(key) == 1 else key_to_character(key)))


async def settled(pilot: Pilot[Any]) -> None:
    """Wait until no key is left to handle, what one began is done or asks something, and the screen is painted."""
    app = pilot.app
    assert isinstance(app, RunbookApp)
    end = monotonic() + 10
    await pilot.pause(0)

    def at_work() -> bool:
        begun = any(worker.group == "asking" and worker.is_running for worker in app.workers)
        return app.keys_waiting or (begun and not isinstance(app.screen, ModalScreen))

    while at_work() and app.is_running:
        assert monotonic() < end, "the keys are never handled"
        await asyncio.sleep(0.001)
    await pilot.pause(0)  # what is put off until the screen is painted, like scrolling, and its painting
    await app.animator.wait_until_complete()
    await pilot.pause(0)


async def paint(pilot: Pilot[Any]) -> str:
    """Let the screens show what is true by now; return what is shown."""
    assert isinstance(pilot.app, RunbookApp)
    pilot.app.refresh_screens()
    await settled(pilot)
    return shown(pilot)


async def resize(pilot: Pilot[Any], width: int, height: int) -> None:
    """Give the window another size, and wait until the screen on top is laid out in it."""
    await pilot.resize_terminal(width, height)
    await until(pilot, lambda: len(screen_lines(pilot.app)) == height)


async def until(pilot: Pilot[Any], true: Callable[[], object], seconds: float = 60.0) -> None:
    """Let the app work until something is true."""
    end, nap = monotonic() + seconds, 0.005
    while not true():
        assert monotonic() < end, f"it never became true; the screen shows:\n{shown(pilot)}"
        await asyncio.sleep(nap)
        nap = min(0.1, nap * 1.5)
        await pilot.pause(0)
