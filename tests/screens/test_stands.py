"""The stands screen: the cautions and the checklist, by what a person sees and presses."""

from __future__ import annotations

from dataclasses import replace

import pytest

from runbook.changeover.checklist import CAUTIONS
from runbook.model.units import Units
from runbook.screens.lists import RowList
from runbook.screens.stands import StandsScreen
from tests.day.days import begun, demo, make_ready
from tests.screens.screen_text import app_of, line_with, press, shown


async def test_the_cautions_the_stage_and_the_checks_are_read_whole_at_80_columns() -> None:
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        text = shown(pilot)
        for caution in CAUTIONS:
            assert caution in text
        assert "checklist, pre-light: 14 open of 14" in text
        for check, _ in session.view.checks[:8]:
            assert check.text in text
        assert "Why: everyone gets out (published: Fire Safety Order 2005, art. 14)" in text


async def test_space_ticks_and_goes_on_and_undo_takes_it_back() -> None:
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t", "space")
        assert "✓" in line_with(pilot, "Exits and the ways")
        assert line_with(pilot, "First aider named").startswith("▶")
        await press(pilot, "down", "down", "space")
        rows = pilot.app.screen.query_one(RowList)
        assert rows.row is not None and not rows.row.over
        assert rows.cursor > 2
        await press(pilot, "u", "u")
        assert session.state.checks == {}


async def test_a_check_is_set_aside_with_a_reason_and_one_that_waits_is_refused() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t", "x", *"seen to", "enter")
        assert "set aside: Talent and crew out of the fall circle" in shown(pilot)
        bagged = line_with(pilot, "boom bagged: 7 kg")
        assert "·" in bagged
        rows = pilot.app.screen.query_one(RowList)
        at = next(n for n, row in enumerate(rows.rows) if row.key[1] == "bagged-boom")
        await press(pilot, *["down"] * (at - rows.cursor), "space")
        assert "not yet, before it: " in shown(pilot)
        assert "bagged-boom" not in session.state.change_checks


async def test_a_break_has_its_own_checklist() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.pause("meal")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        assert "checklist, meal" in shown(pilot)
        assert "Lamps and modelling lights off, chargers watched" in shown(pilot)


async def test_it_fits_any_window() -> None:
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        for ticked, size in enumerate([(60, 15), (40, 10), (20, 5), (1, 1)], 1):
            await pilot.resize_terminal(*size)
            await press(pilot, "home", "down", "space", "pagedown", "up")
            assert isinstance(pilot.app.screen, StandsScreen)
            assert len(session.state.checks) == ticked
            shown(pilot)


async def test_a_click_shows_why() -> None:
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await pilot.click(RowList, offset=(10, 1))
        assert "Why: minutes count when someone is hurt" in shown(pilot)


@pytest.mark.parametrize(("units", "gust"), [("metric", 6.0), ("imperial", 6.0 * 0.44704)])
async def test_o_records_a_wind_of_its_own_in_the_units_of_the_day(units: Units, gust: float) -> None:
    plan = demo()
    place = replace(plan.day.place, indoors=False)
    session = begun(replace(plan, day=replace(plan.day, place=place, units=units)))
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t", "o", *"6", "enter")
        assert [entry.facts()["gust_ms"] for entry in session.entries] == [pytest.approx(gust)]
        assert session.entries[-1].kind == "wind"
        await press(pilot, "o", *"300", "enter")
        assert "out of range" in shown(pilot)
        await press(pilot, "escape", "u")
        assert session.state.wind is None
