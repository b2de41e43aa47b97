"""The handover screen: everything that must be heard, and the file from a key."""

from collections.abc import Callable
from pathlib import Path
from threading import Event

import pytest
from textual.widgets import ProgressBar

from runbook.files.errors import Fault, Unreadable
from runbook.screens.app import RunbookApp
from runbook.screens.set import SetScreen
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day.days import SetClock, begun
from tests.played import half_way
from tests.screens.screen_text import app_of, post_keys, press, screen_lines, shown, until


def half_day(give: Callable[[str], Path] | None = None, glyphs: Glyphs = UNICODE) -> RunbookApp:
    """An app on a day half shot."""
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    app = app_of(session, glyphs)
    app.give = give
    return app


@pytest.mark.parametrize("size", [(80, 24), (140, 45), (40, 12)])
async def test_it_shows_what_must_be_confirmed_safety_first(size: tuple[int, int]) -> None:
    async with half_day().run_test(size=size) as pilot:
        await press(pilot, "y")
        assert "where we are" in shown(pilot)
        await press(pilot, *(["pagedown"] if size[0] < 80 else []))
        assert "SAFETY switched on" in " ".join(shown(pilot).split())
        assert "about safety" in shown(pilot) or size[0] < 80
        for part in pilot.app.screen.query("FloorPane, FacePicture"):
            assert bool(part.size) == (size[0] == 140)


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_enter_writes_the_file_and_then_the_journal(tmp_path: Path, glyphs: Glyphs) -> None:
    given, left = list[str](), Event()

    def give(to: str) -> Path:
        given.append(to)
        assert left.wait(30)
        assert app.session.state.handed_to is None
        return tmp_path / "day.handover"

    app = half_day(give, glyphs)
    async with app.run_test(size=(80, 24)) as pilot:
        post_keys(pilot, *"y\nKim\n")
        await until(pilot, lambda: given and "writing the handover file" in shown(pilot))
        assert app.screen.query_one(ProgressBar).display
        assert glyphs is UNICODE or all(line.isascii() for line in screen_lines(app))
        post_keys(pilot, "s")  # the screen may be left while the file is written
        await until(pilot, lambda: isinstance(app.screen, SetScreen))
        left.set()
        await until(pilot, lambda: "day.handover is for Kim" in shown(pilot))
        assert (given, app.session.state.handed_to) == (["Kim"], "Kim")
        await press(pilot, "y")
        assert not app.screen.query_one(ProgressBar).display


async def test_a_file_that_cannot_be_written_hands_nothing_over() -> None:
    def give(_: str) -> Path:
        raise Unreadable([Fault("runbook handover", None, "-o", "no room")])

    app = half_day(give)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, *"y\nKim\n")
        await until(pilot, lambda: "not handed over" in shown(pilot))
        assert app.session.state.handed_to is None
