"""Counting the kit home, line by line."""

import pytest

from runbook.screens.home import HomeScreen
from runbook.session.packing import home, packing
from runbook.session.session import Session
from tests.screens.screen_text import app_of, line_with, shown, until
from tests.session.days import begun


@pytest.fixture(autouse=True)
def no_forecast(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the day ends is another test's business, and slow to work out."""
    monkeypatch.setattr(Session, "work_out", lambda *_: None)


async def test_space_counts_a_line_home_and_goes_on() -> None:
    session = begun()
    app = app_of(session)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("e")
        await until(pilot, lambda: "counted home" in shown(pilot))
        assert isinstance(app.screen, HomeScreen)
        before = len(home(session.plan, session.entries).uncounted)
        await pilot.press("space", "space")
        assert len(home(session.plan, session.entries).uncounted) == before - 4
        assert f"{before - 4} things to count, 0 missing" in shown(pilot)
        await pilot.press("u")
        assert len(home(session.plan, session.entries).uncounted) == before - 2


async def test_what_is_missing_is_named_by_its_label() -> None:
    session = begun()
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await pilot.press("e")
        await until(pilot, lambda: "counted home" in shown(pilot))
        await pilot.press("x", *"Z", "enter")
        await until(pilot, lambda: "is none of A, B" in shown(pilot))
        await pilot.press("backspace", *"B", "enter")
        await until(pilot, lambda: "1 missing" in shown(pilot))
        assert "MISSING B" in line_with(pilot, "200 Ws battery head")
        assert home(session.plan, session.entries).missing == (("head", "B"),)


async def test_one_of_a_kind_is_missing_without_a_question() -> None:
    session = begun()
    at = next(n for n, line in enumerate(packing(session.plan)) if line.kind == "cloth")
    async with app_of(session).run_test(size=(80, 45)) as pilot:
        await pilot.press("e")
        await until(pilot, lambda: "counted home" in shown(pilot))
        await pilot.press(*["down"] * at, "x")
        await until(pilot, lambda: "MISSING: voile" in shown(pilot))
        assert home(session.plan, session.entries).missing == (("cloth", "voile"),)


async def test_it_can_be_counted_in_a_very_small_window() -> None:
    session = begun()
    async with app_of(session).run_test(size=(20, 4)) as pilot:
        await pilot.press("e", "space")
        await until(pilot, lambda: session.entries and session.entries[-1].kind == "counted")
