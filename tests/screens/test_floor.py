"""The floor screen, through its keys, in windows of several sizes."""

import pytest
from rich.cells import cell_len
from textual.pilot import Pilot

from runbook.model.setup import Setup
from runbook.screens.app import RunbookApp
from runbook.screens.floor import FloorScreen
from runbook.screens.lists import Drawing
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day import sets
from tests.screens.screen_text import press, settled


def app_of(*setups: Setup, glyphs: Glyphs = UNICODE) -> RunbookApp:
    return RunbookApp(sets.session(*(setups or sets.three())), sets.noon, glyphs)


def shown(pilot: Pilot[int], name: str) -> str:
    widget = pilot.app.screen.query_one(f"#{name}")
    return str(widget.render()) if widget.display else ""


def drawing(pilot: Pilot[int]) -> str:
    return pilot.app.screen.query_one(Drawing).render().plain


async def test_before_load_in_the_first_floor_is_all_to_come() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, "d")
        assert isinstance(pilot.app.screen, FloorScreen)
        assert "Setup one" in shown(pilot, "title")
        assert "arriving" in shown(pilot, "legend")
        assert "A 1/8 arrives" in drawing(pilot)
        assert "1 m" in drawing(pilot)


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_it_fills_the_window_and_no_more(size: tuple[int, int], glyphs: Glyphs) -> None:
    async with app_of(glyphs=glyphs).run_test(size=size) as pilot:
        await press(pilot, "d", "right")
        await settled(pilot)
        screen = pilot.app.screen
        picture = screen.query_one(Drawing)
        rows = drawing(pilot).split("\n")
        assert len(rows) == picture.size.height >= size[1] - 6
        assert {cell_len(row) for row in rows} == {picture.size.width}
        keys = screen.query_one("#keys")
        assert keys.region.bottom == size[1]
        assert drawing(pilot).isascii() == glyphs.ascii
        table = shown(pilot, "table")
        for word in ("A", "1/8", "key", "1.4 m", "2.0 m", "flat-1", "D", "85 mm"):
            assert word in table
        assert ("stand" in table) == (size[0] == 140)


async def test_looking_on_begins_nothing() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        session = pilot.app.session  # type: ignore[attr-defined]
        await press(pilot, "d", "right_square_bracket", "right_square_bracket")
        assert "Setup three" in shown(pilot, "title")
        assert shown(pilot, "legend").startswith("A moves, flat-1 leaves")
        assert "flat-1 leaves" in drawing(pilot)
        await press(pilot, "right")
        assert "the wrap" in shown(pilot, "title")
        assert "everything leaves" in shown(pilot, "legend")
        await press(pilot, "right")
        assert "nothing is left" in shown(pilot, "message")
        await press(pilot, "left", "left_square_bracket", "left", "left")
        assert "Setup one" in shown(pilot, "title")
        assert "first floor" in shown(pilot, "message")
        assert not session.state.begun


async def test_home_goes_back_to_the_setup_at_work() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, "n", "d", "right", "right")
        assert "Setup three" in shown(pilot, "title")
        await press(pilot, "home")
        assert "Setup one, changing" in shown(pilot, "title")


async def test_what_is_done_stops_coming() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        session = pilot.app.session  # type: ignore[attr-defined]
        await press(pilot, "n", "d")
        assert "arriving" in shown(pilot, "legend")
        while any(step.kind == "stand" for step in session.view.todo):
            for check, tick in session.view.checks:
                if tick is None and session.view.pending.check_waits_for(check) is None:
                    session.tick_check(check)
            session.tick(next(line.step for line in session.view.lines if line.state == "to do"))
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        shown_text = shown(pilot, "legend")
        assert shown_text.startswith("camera, subject and background arrive")
        assert "A 1/8 arrives" not in drawing(pilot)


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_every_window_shows_something(glyphs: Glyphs) -> None:
    async with app_of(glyphs=glyphs).run_test(size=(80, 24)) as pilot:
        await press(pilot, "d", "right", "right")
        for width, height in [(1, 1), (2, 2), (10, 3), (39, 24), (80, 9), (41, 10), (300, 90)]:
            await pilot.resize_terminal(width, height)
            await settled(pilot)
            small = width < 40 or height < 10
            assert ("A moves, flat-1 leaves" in shown(pilot, "now")) == small
            assert pilot.app.screen.query_one(Drawing).region.area == 0 or not small


async def test_a_table_too_long_says_so() -> None:
    lights = [sets.light(name, stand) for name, stand in zip("ABCD", ("S1", "S2", "S3", "boom"), strict=True)]
    async with app_of(sets.setup(*lights)).run_test(size=(80, 12)) as pilot:
        await press(pilot, "d")
        assert "more lines in a taller window" in shown(pilot, "table")
