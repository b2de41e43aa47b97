"""The floor on the set screen: what is drawn and marked, and looking at other setups."""

from typing import Any

import pytest
from rich.cells import cell_len
from textual.pilot import Pilot

from runbook.screens.app import RunbookApp
from runbook.screens.floor import FloorPane
from runbook.screens.set import SetScreen
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day import sets
from tests.day.days import do_next
from tests.screens.screen_text import press, resize, settled, shown


def app_of(glyphs: Glyphs = UNICODE) -> RunbookApp:
    return RunbookApp(sets.session(*sets.three()), sets.noon, glyphs)


def pane(pilot: Pilot[Any]) -> FloorPane:
    return pilot.app.screen.query_one(FloorPane)


def drawing(pilot: Pilot[Any]) -> str:
    return "\n".join(pane(pilot).render_line(y).text for y in range(pane(pilot).size.height))


@pytest.mark.parametrize(("keys", "title", "message"), [
    ("d", "everything arrives", ""),  # before load-in everything of the first floor is to come
    ("d]]", "Setup three", ""),
    ("d]]", "A moves, flat-1 leaves", ""),
    ("d]]]]", "everything leaves", "nothing comes after the wrap"),
    ("d[", "everything arrives", "this is the first setup"),
    ("nd]]0", "changing: everything arrives", ""),
])  # fmt: skip
async def test_looking_at_floors_begins_nothing(keys: str, title: str, message: str) -> None:
    async with app_of().run_test(size=(100, 24)) as pilot:
        await press(pilot, *("escape" if key == "0" else key for key in keys))
        assert isinstance(pilot.app.screen, SetScreen)
        assert title in str(pane(pilot).border_title)
        assert message in shown(pilot)
        assert len(pilot.app.session.entries) == keys.count("n")  # type: ignore[attr-defined]


async def test_what_is_done_is_no_longer_arriving() -> None:
    async with app_of().run_test(size=(140, 45)) as pilot:
        session = pilot.app.session  # type: ignore[attr-defined]
        await press(pilot, "n")
        assert "A 1/8 arrives" in drawing(pilot)
        while any(step.kind == "stand" for step in session.view.todo):
            do_next(session)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        assert "camera, subject and background arrive" in str(pane(pilot).border_title)
        assert "A 1/8 arrives" not in drawing(pilot)


async def test_what_the_cursor_is_on_is_marked_on_the_floor() -> None:
    async with app_of().run_test(size=(140, 45)) as pilot:
        await press(pilot, "n")
        screen = pilot.app.screen
        assert isinstance(screen, SetScreen)
        for n, row in enumerate(screen.steps.rows):
            screen.steps.highlighted = n
            await settled(pilot)
            touched = {name for step in row.steps for name in (step.item, step.thing)}
            assert touched <= pane(pilot).marked | {""}
        screen.heads.focus()
        await settled(pilot)
        assert pane(pilot).marked == {"A"}
        lines = map(pane(pilot).render_line, range(pane(pilot).size.height))
        tones = {segment.style.color for line in lines for segment in line if segment.style}
        assert len(tones) > 3


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_it_fills_its_part_of_the_window_and_no_more(size: tuple[int, int], glyphs: Glyphs) -> None:
    async with app_of(glyphs).run_test(size=size) as pilot:
        await press(pilot, "d", "right_square_bracket")
        rows = drawing(pilot).split("\n")
        assert len(rows) == pane(pilot).size.height >= size[1] // 2
        assert {cell_len(row) for row in rows} == {pane(pilot).size.width} == {size[0]}
        assert drawing(pilot).isascii() == glyphs.ascii


async def test_floor_and_face_stand_beside_the_steps_or_one_key_apart() -> None:
    async with app_of().run_test(size=(140, 45)) as pilot:
        parts = [pilot.app.screen.query_one(f"#{name}") for name in ("steps", "floor", "face")]

        def visible() -> list[str | None]:
            return [part.id for part in parts if part.region.area and part.is_on_screen]

        assert visible() == ["steps", "floor", "face"]
        await resize(pilot, 80, 24)
        await settled(pilot)
        for name in ("steps", "floor", "face", "steps"):
            assert visible() == [name]
            focused = pilot.app.focused  # never what is out of view
            assert (focused and focused.id) == ("steps" if name == "steps" else None)
            await press(pilot, "d")


async def test_every_window_shows_something() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        await press(pilot, "d", "right_square_bracket")
        for width, height in [(1, 1), (2, 2), (10, 3), (39, 24), (80, 9), (41, 13), (300, 90)]:
            await resize(pilot, width, height)
            await settled(pilot)
            assert bool(pane(pilot).region.area) == (width >= 40 and height >= 12)
