"""The planning screen as a person has it: what the keys do, what the lines say, what is on disk."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from runbook.journal.store import Journal
from runbook.plan.files import read_day
from runbook.screens.app import RunbookApp
from runbook.screens.glyphs import UNICODE
from runbook.screens.pick_list import PickList
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.session.session import Session
from tests.session.days import DEMO, SetClock


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "day"))


def app_of(day: Path) -> RunbookApp:
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo")
    return RunbookApp(Session(read_day(day), journal, "photo", clock, day), clock, UNICODE)


def said(pilot: Pilot[int], name: str = "said") -> str:
    return str(pilot.app.screen.query_one(f"#{name}", Static).render())


def lines(pilot: Pilot[int], name: str) -> list[str]:
    return [line.text for line in pilot.app.screen.query_one(f"#{name}", PickList).lines]


def picked(pilot: Pilot[int], name: str) -> str:
    pick = pilot.app.screen.query_one(f"#{name}", PickList)
    return pick.lines[pick.cursor].text


async def until(pilot: Pilot[int], there: Callable[[], bool]) -> None:
    for _ in range(200):
        if there():
            return
        await pilot.pause(0.01)
    raise AssertionError("it never came")


async def to(pilot: Pilot[int], name: str, text: str) -> None:
    """The cursor of a list on the first line that begins so."""
    key = "left" if name == "outline" else "right"
    await pilot.press(key, "home")
    for _ in range(200):
        if picked(pilot, name).strip().startswith(text):
            return
        await pilot.press("down")
    raise AssertionError(f"no line {text}")


async def typed(pilot: Pilot[int], text: str) -> None:
    line = pilot.app.screen.query_one(Input)
    line.value = text
    await pilot.pause()


async def opened(pilot: Pilot[int], thing: str) -> None:
    await pilot.press("e")
    assert isinstance(pilot.app.screen, PlanningScreen)
    await to(pilot, "outline", thing)


async def test_the_outline_holds_the_day_the_setups_and_the_kit(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await pilot.press("e")
        outline = [line.strip() for line in lines(pilot, "outline")]
        for name in (
            "SETUPS",
            "keeper-window",
            "the day",
            "CREW",
            "HEADS",
            "S1",
            "voile",
            "camera",
        ):
            assert name in outline
        shown = pilot.app.screen
        assert shown.query_one("#keys", Static).region.bottom == 24
        await pilot.press("e")
        assert isinstance(pilot.app.screen, SetScreen)


async def test_a_distance_is_typed_in_feet_and_judged_as_it_is_typed(day: Path) -> None:
    path = day / "keeper-window.toml"
    before = path.read_text("utf-8")
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await opened(pilot, "keeper-window")
        await to(pilot, "form", "light A")
        for _ in range(7):
            await pilot.press("down")
        assert picked(pilot, "form").split() == ["distance", "1.4", "m"]
        at_first = said(pilot, "figures")
        assert "A reads f/4" in at_first and "S1: leans" in at_first
        await pilot.press("enter")
        await typed(pilot, "0.2 m")
        await until(pilot, lambda: "cannot reach" in said(pilot, "verdict"))
        await typed(pilot, "4 ft furlong")
        await until(pilot, lambda: "is no length; write it like 1.4 m" in said(pilot, "verdict"))
        await typed(pilot, "6 ft")
        await until(pilot, lambda: "= 1.83 m (6 ft 0 in)" in said(pilot, "verdict"))
        assert "A reads f/2.8" in said(pilot, "figures")
        assert path.read_text("utf-8") == before  # nothing is written before enter
        await pilot.press("enter")
        assert said(pilot).startswith("written: keeper-window light A distance")
        assert path.read_text("utf-8") == before.replace("= 1.4\n", "= 1.8288\n", 1)
        assert app_plan(pilot).setups["keeper-window"].light["A"].distance_m == 1.8288
        await pilot.press("u")
        assert path.read_text("utf-8") == before
        await pilot.press("U")
        assert "1.8288" in path.read_text("utf-8")


def app_plan(pilot: Pilot[int]):  # type: ignore[no-untyped-def]
    app = pilot.app
    assert isinstance(app, RunbookApp)
    return app.session.plan
