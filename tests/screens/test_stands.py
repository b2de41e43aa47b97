"""The stands screen: the stands, the cautions and the checklist, by what a person sees and presses."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from rich.cells import cell_len

from runbook.changeover.checklist import CAUTIONS
from runbook.day.stand_view import stands_view
from runbook.model.day import Plan
from runbook.model.units import Units
from runbook.screens.lists import RowList
from runbook.screens.stands import StandsScreen
from runbook.screens.text import ASCII
from tests.day.days import begun, demo, do_next, do_until, make_ready
from tests.screens.screen_text import app_of, line_with, opened, press, screen_lines, shown


async def test_space_ticks_and_goes_on_and_undo_takes_it_back() -> None:
    async with opened("t", "space", begin="keeper-window") as (pilot, session):
        assert "✓" in line_with(pilot, "Exits and the ways")
        assert line_with(pilot, "First aider named").startswith("▶")
        await press(pilot, "down", "down", "space")
        rows = pilot.app.screen.query_one(RowList)
        assert rows.row is not None and not rows.row.over
        assert rows.cursor > 2
        await press(pilot, "u", "u")
        assert session.state.checks == {}


async def test_a_check_is_set_aside_with_a_reason_and_one_that_waits_is_refused() -> None:
    async with opened("t", "x", *"seen to", "enter", ready="keeper-window", begin="keeper-lamp") as (pilot, session):
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
    async with opened("t", session=session) as (pilot, _):
        assert "checklist, meal" in shown(pilot)
        assert "Lamps and modelling lights off, chargers watched" in shown(pilot)


@pytest.mark.parametrize(("units", "gust"), [("metric", 6.0), ("imperial", 6.0 * 0.44704)])
async def test_o_records_a_wind_of_its_own_in_the_units_of_the_day(units: Units, gust: float) -> None:
    plan = demo()
    place = replace(plan.day.place, indoors=False)
    async with opened(plan=replace(plan, day=replace(plan.day, place=place, units=units))) as (pilot, session):
        await press(pilot, "t", "o", *"6", "enter")
        assert [entry.facts()["gust_ms"] for entry in session.entries] == [pytest.approx(gust)]
        assert session.entries[-1].kind == "wind"
        await press(pilot, "o", *"300", "enter")
        assert "out of range" in shown(pilot)
        await press(pilot, "escape", "u")
        assert session.state.wind is None


def outdoors(units: str = "metric") -> Plan:
    plan = demo()
    place = replace(plan.day.place, indoors=False)
    return replace(plan, day=replace(plan.day, place=place, units=units))  # type: ignore[arg-type]


def unbagged() -> Plan:
    """The demo with no bag on its first setup: what it is to say is plain."""
    plan = demo()
    first = plan.setups["keeper-window"]
    bare = replace(first, lights=tuple(replace(light, bags=()) for light in first.lights))
    return replace(plan, setups=plan.setups | {first.id: bare})


@pytest.mark.parametrize(("size", "whole"), [((80, 24), False), ((140, 45), True)])
async def test_cautions_stands_and_checks_stand_on_one_screen(size: tuple[int, int], whole: bool) -> None:
    async with opened("t", ready="keeper-window", begin="keeper-lamp", size=size) as (pilot, session):
        text = shown(pilot)
        for caution in CAUTIONS:
            assert caution in text
        assert "stands, as they stand now: 2, all ok" in text
        for figure in ("17.3°", "1.6 kgf", "7 kg", "4.6 m/s"):
            assert figure in line_with(pilot, "S1 ")
        assert "checklist, change" in text
        assert "Why: " in text
        assert len(screen_lines(pilot.app)) == size[1]
        checks = [check.text for check, _ in session.view.checks]
        assert sum(check in text for check in checks) >= (len(checks) if whole else 4)


async def test_the_worst_is_on_top_and_says_what_to_hang_where_and_why() -> None:
    async with app_of(begun(unbagged())).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        text = shown(pilot)
        assert "stands, as planned for keeper-window: 1 of 2 not right" in text
        lines = screen_lines(pilot.app)
        first, second = (next(n for n, line in enumerate(lines) if s in line) for s in ("S1", "S2"))
        assert first < second
        assert "NOT OK: lean" in line_with(pilot, "S1")
        flat = " ".join(text.split())
        assert re.search(r"a push of 0.7 kgf at the modifier tips it; with \S+ \(5 kg\) 1.3 kgf", flat)
        assert "hang at the column, off the floor" in flat


def out_far(plan: Plan) -> Plan:
    """The first setup with no bag on it yet, and all of them to go to the far legs."""
    first = plan.setups["keeper-window"]
    lights = tuple(replace(light, bags=(), bags_at="far legs") for light in first.lights)
    return replace(plan, setups=plan.setups | {first.id: replace(first, lights=lights)})


@pytest.mark.parametrize("gust", ["", "force 3", "force 6"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
async def test_a_stand_under_the_cursor_is_read_whole_at_80_columns(units: str, gust: str) -> None:
    async with opened("t", "v", plan=out_far(outdoors(units))) as (pilot, session):
        if gust:
            await press(pilot, "o", *gust, "enter")
        rows = stands_view(session.view).rows
        assert len(rows) == 3
        for row in rows:
            assert line_with(pilot, f" {row.name} ").startswith("▶")
            flat = " ".join(shown(pilot).split())
            for words in row.words:
                assert " ".join(words.split()) in flat
            assert len([line for line in screen_lines(pilot.app) if "checklist" in line]) == 1
            assert "▶" in "".join(line[:1] for line in screen_lines(pilot.app))
            await press(pilot, "down")


@pytest.mark.parametrize("key", ["v", "tab"])
async def test_one_key_goes_from_the_checks_to_the_stands_and_back(key: str) -> None:
    async with opened("t", key, "down", "down", begin="keeper-lamp") as (pilot, session):
        assert line_with(pilot, "  S2").startswith("▶")
        assert line_with(pilot, "S2: ").startswith("S2: a push of 1.9 kgf")
        await press(pilot, "space")
        assert session.state.checks == {}
        assert "v goes back to the checks" in shown(pilot)
        await press(pilot, "up", "up", "up")
        assert "balanced: counterweight 6 kg at 0.8 m" in shown(pilot)
        await press(pilot, key, "space")
        assert len(session.state.checks) == 1


async def test_a_click_tells_of_that_stand() -> None:
    async with opened("t", begin="keeper-lamp") as (pilot, _session):
        await pilot.click("#stands", offset=(10, 3))
        assert line_with(pilot, "  low").startswith("▶")


async def test_a_stand_in_hands_says_so_and_why() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    do_until(session, "fit", "head", "C")
    do_next(session)
    async with opened("t", session=session) as (pilot, _):
        assert "in hands" in line_with(pilot, "boom ")
        assert "boom has its head on without its counterweight" in shown(pilot)


async def test_the_wind_as_it_is_changes_every_stand_at_once_and_says_what_comes_down() -> None:
    async with opened("t", plan=outdoors(), ready="keeper-lamp") as (pilot, _session):
        assert "o wind" in shown(pilot)
        assert "NOT OK" not in shown(pilot)
        await press(pilot, "o", *"breezy", "enter")
        assert "is no wind" in shown(pilot)
        await press(pilot, *["backspace"] * 6, *"force 4", "enter")
        flat = " ".join(shown(pilot).split())
        assert "gusts 7.9 m/s, force 4, moderate breeze, entered " in flat
        assert "S1 (limit 4.6 m/s): take it down first, now" in flat
        assert "NOT OK: wind" in line_with(pilot, " S1 ")
        assert "all ok" not in flat
        await press(pilot, "j")
        assert "wind: gusts 7.9 m/s, force 4" in shown(pilot)
        await press(pilot, "t", "u")
        assert "NOT OK" not in shown(pilot)


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_a_panel_the_wind_takes_leads_the_table_and_is_to_come_down_first(size: tuple[int, int]) -> None:
    async with opened("t", "o", *"force 5", "enter", plan=outdoors(), size=size) as (pilot, _session):
        flat = " ".join(shown(pilot).split())
        assert "flat-1 (limit 3.0 m/s): take it down first, now" in flat
        assert "stands and panels, as planned for keeper-window: 2 of 3 not right" in flat
        assert "NOT OK: wind  3.0 m/s" in line_with(pilot, " flat-1 ")
        assert "NOT OK: wind  4.6 m/s" in line_with(pilot, "  S1 ")
        lines = screen_lines(pilot.app)
        rows = [
            next(n for n, line in enumerate(lines) if line[1:].startswith(f"  {name} "))
            for name in ("flat-1", "S1", "S2")
        ]
        assert rows == sorted(rows)
        await press(pilot, "v")
        assert "take it down, or tie it" in shown(pilot)


async def test_indoors_there_is_no_wind_to_say() -> None:
    async with opened("t", "o") as (pilot, _session):
        assert "o wind" not in line_with(pilot, "? keys")
        assert "a fan is fan_ms under [place]" in shown(pilot)
        assert isinstance(pilot.app.screen, StandsScreen)


@pytest.mark.parametrize("size", [(60, 15), (40, 10), (39, 24), (80, 9), (20, 5), (1, 1)])
async def test_a_small_window_still_says_the_worst_and_the_next_check(size: tuple[int, int]) -> None:
    session = begun(unbagged())
    session.begin("keeper-window")
    async with app_of(session, ASCII).run_test(size=size) as pilot:
        await press(pilot, "t", "v", "down", "v", "space")
        lines = screen_lines(pilot.app)
        assert all(cell_len(line) <= size[0] for line in lines)
        assert all(line.isascii() for line in lines)
        assert len(session.state.checks) == 1
        if size[0] >= 20:
            assert "NOT OK: lean" in " ".join(" ".join(lines).split())


async def test_many_stands_scroll_under_the_cursor() -> None:
    plan = demo()
    kit = replace(
        plan.kit,
        heads=tuple(replace(plan.kit.heads[0], id=f"H{n}") for n in range(8)),
        stands=tuple(replace(plan.kit.stands[0], id=f"T{n}") for n in range(8)),
    )
    light = replace(plan.setups["keeper-window"].lights[0], modifier="bare", accessories=())
    lights = tuple(replace(light, head=f"H{n}", stand=f"T{n}", angle_deg=20.0 * n, bags=()) for n in range(8))
    many = replace(plan.setups["keeper-window"], lights=lights, panels=())
    plan = replace(plan, kit=kit, setups=plan.setups | {many.id: many})
    async with app_of(begun(plan)).run_test(size=(80, 24)) as pilot:
        await press(pilot, "t", "v", *["down"] * 7)
        assert line_with(pilot, "T7 ").startswith("▶")
        assert "T0 " not in "".join(line for line in screen_lines(pilot.app) if "kgf" in line)
        assert "checklist" in shown(pilot)
