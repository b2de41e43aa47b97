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
from tests.day.days import do_next
from tests.screens.screen_text import press, resize, settled


def app_of(*setups: Setup, glyphs: Glyphs = UNICODE) -> RunbookApp:
    return RunbookApp(sets.session(*(setups or sets.three())), sets.noon, glyphs)


def shown(pilot: Pilot[int], name: str) -> str:
    widget = pilot.app.screen.query_one(f"#{name}")
    return str(widget.render()) if widget.display else ""


def drawing(pilot: Pilot[int]) -> str:
    return pilot.app.screen.query_one(Drawing).render().plain


@pytest.mark.parametrize(
    ("keys", "title", "legend", "message"),
    [
        ("d", "Setup one", "arriving", ""),  # before load-in everything of the first floor is to come
        ("d]]", "Setup three", "A moves, flat-1 leaves", ""),
        ("d]]]", "the wrap", "everything leaves", ""),
        ("d]]]]", "the wrap", "everything leaves", "nothing is left"),
        ("d[", "Setup one", "arriving", "first floor"),
        ("d]][[", "Setup one", "arriving", ""),
        ("nd]]", "Setup three", "A moves, flat-1 leaves", ""),
        ("nd]]0", "Setup one, changing", "arriving", ""),
    ],
)
async def test_looking_at_floors_begins_nothing(keys: str, title: str, legend: str, message: str) -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, *("home" if key == "0" else key for key in keys))
        assert isinstance(pilot.app.screen, FloorScreen)
        assert title in shown(pilot, "title")
        assert legend in shown(pilot, "legend")
        assert message in shown(pilot, "message")
        assert len(pilot.app.session.entries) == keys.count("n")  # type: ignore[attr-defined]


async def test_what_is_done_is_no_longer_arriving() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        session = pilot.app.session  # type: ignore[attr-defined]
        await press(pilot, "n", "d")
        assert "A 1/8 arrives" in drawing(pilot)
        while any(step.kind == "stand" for step in session.view.todo):
            do_next(session)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        assert shown(pilot, "legend").startswith("camera, subject and background arrive")
        assert "A 1/8 arrives" not in drawing(pilot)


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


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_every_window_shows_something(glyphs: Glyphs) -> None:
    async with app_of(glyphs=glyphs).run_test(size=(80, 24)) as pilot:
        await press(pilot, "d", "right", "right")
        for width, height in [(1, 1), (2, 2), (10, 3), (39, 24), (80, 9), (41, 10), (300, 90)]:
            await resize(pilot, width, height)
            await settled(pilot)
            small = width < 40 or height < 10
            assert ("A moves, flat-1 leaves" in shown(pilot, "now")) == small
            assert pilot.app.screen.query_one(Drawing).region.area == 0 or not small


async def test_a_table_too_long_says_so() -> None:
    lights = [sets.light(name, stand) for name, stand in zip("ABCD", ("S1", "S2", "S3", "boom"), strict=True)]
    async with app_of(sets.setup(*lights)).run_test(size=(80, 12)) as pilot:
        await press(pilot, "d")
        assert "more lines in a taller window" in shown(pilot, "table")
