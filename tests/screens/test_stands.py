"""The stands screen: the stands, the cautions and the checklist, by what a person sees and presses."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len
from textual.pilot import Pilot

from runbook.changeover.checklist import CAUTIONS
from runbook.day.stand_view import stands_view
from runbook.model.day import Plan
from runbook.screens.floor import FloorPane
from runbook.screens.lists import RowList, Table
from runbook.screens.text import ASCII
from tests.day.days import begun, demo
from tests.day.plans import with_day, with_place
from tests.day.test_stand_view import lit_by
from tests.screens.screen_text import app_of, check_keys, line_with, opened, press, screen_lines, settled, shown

OUTDOORS = with_place(demo(), indoors=False)
WINDY = {"plan": OUTDOORS, "ready": "keeper-lamp"}


@pytest.mark.parametrize(("start", "keys", "seen", "written"), [
    ({"begin": "keeper-window"}, "t ", ["✓ Exits and the ways", "▲ First aider named"], "check-ticked"),
    ({"begin": "keeper-window"}, "t u", ["▲ Exits and the ways"], "check-ticked undone"),
    ({"ready": "keeper-window", "begin": "keeper-lamp"}, "txseen to\n", ["set aside: Talent and crew"], "skipped"),
    ({"ready": "keeper-window"}, "b1t", ["checklist, meal", "Lamps and modelling lights off"], "break-begun"),
    (
        {"begin": "keeper-lamp"},
        "tv ",
        ["press v to go back to the checks", "balanced: counterweight 6 kg at 0.8 m"],
        "",
    ),
    ({"begin": "widow-answer"}, "tv", ["held by second", "second holds 1.4 kg; one person holds 3 kg"], ""),
    ({"begin": "keeper-lamp"}, "t\t\t ", ["✓ Exits and the ways"], "check-ticked"),
    ({}, "to", ["set fan_ms under [place]"], ""),
    (WINDY, "t", ["wind", "all ok"], ""),
    (WINDY, "tobreezy\n", ["is not a wind speed"], ""),
    (WINDY, "to6\n", ["gusts 6.0 m/s"], "wind"),
    ({"plan": with_day(OUTDOORS, units="imperial")}, "to6\n", ["gusts 6.0 mph"], "wind"),
    (WINDY, "toforce 4\n", ["gusts 7.9 m/s", "S1 (limit 4.6 m/s): take it down first", "NOT OK: wind"], "wind"),
    (WINDY, "toforce 4\nu", ["all ok"], "wind undone"),
    ({"plan": OUTDOORS}, "toforce 5\nv", ["2 of 3 not right", "take it down, or tie it"], "wind"),
])  # fmt: skip
async def test_keys_on_the_stands(start: dict[str, Any], keys: str, seen: list[str], written: str) -> None:
    await check_keys(start, keys, seen, written)


def picked(pilot: Pilot[Any]) -> str:
    """The stand under the cursor of the table."""
    table = pilot.app.screen.query_one(Table)
    return str(table.get_row_at(table.cursor_row)[0]).strip()


async def test_a_check_that_waits_is_refused() -> None:
    async with opened("t", ready="keeper-window", begin="keeper-lamp") as (pilot, session):
        rows = pilot.app.screen.query_one(RowList)
        at = next(n for n, row in enumerate(rows.rows) if row.key[1] == "bagged-boom")
        await press(pilot, *["down"] * (at - rows.cursor), "space")
        assert "not yet, before it: " in shown(pilot)
        assert "bagged-boom" not in session.state.change_checks


@pytest.mark.parametrize(("size", "whole"), [((80, 24), False), ((140, 45), True)])
async def test_cautions_stands_and_checks_stand_on_one_screen(size: tuple[int, int], whole: bool) -> None:
    async with opened("t", ready="keeper-window", begin="keeper-lamp", size=size) as (pilot, session):
        text = shown(pilot)
        for words in (*CAUTIONS, "stands, as they stand now: 2, all ok", "checklist, change", "Why: "):
            assert words in text
        for figure in ("17.3°", "1.6 kgf", "7 kg", "4.6 m/s"):
            assert figure in line_with(pilot, "S1 ")
        checks = [check.text for check, _ in session.view.checks]
        assert sum(check in text for check in checks) >= (len(checks) if whole else 4)


@pytest.mark.parametrize("gust", ["", "force 6"])
@pytest.mark.parametrize("plan", [OUTDOORS, with_day(OUTDOORS, units="imperial")], ids=["metric", "imperial"])
async def test_a_stand_under_the_cursor_is_read_whole_at_80_columns(plan: Plan, gust: str) -> None:
    async with opened("t", "v", plan=lit_by(plan, bags=(), bags_at="far legs")) as (pilot, session):
        if gust:
            await press(pilot, "o", *gust, "enter")
        rows = stands_view(session.view).rows
        assert len(rows) == 3
        for row in rows:
            assert picked(pilot) == row.name
            flat = " ".join(shown(pilot).split())
            for words in row.words:
                assert " ".join(words.split()) in flat
            assert flat.count("checklist") == 1
            await press(pilot, "down")


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_a_click_shows_that_stand_and_marks_it_on_the_floor(size: tuple[int, int]) -> None:
    async with opened("t", begin="keeper-lamp", size=size) as (pilot, _session):
        await pilot.click("#stands", offset=(10, 5))
        await settled(pilot)
        assert picked(pilot) == "low"
        assert "low: " in shown(pilot)
        floor = pilot.app.screen.query_one(FloorPane)
        assert floor.marked == {"low", "D"}
        assert floor.display and bool(floor.size) == (size[0] == 140)


@pytest.mark.parametrize("size", [(60, 15), (39, 24), (20, 5), (1, 1)])
async def test_a_small_window_still_shows_the_worst_and_the_next_check(size: tuple[int, int]) -> None:
    session = begun(lit_by(demo(), bags=()))
    session.begin("keeper-window")
    async with app_of(session, ASCII).run_test(size=size) as pilot:
        await press(pilot, "t", "v", "down", "v", "space")
        lines = screen_lines(pilot.app)
        assert all(cell_len(line) <= size[0] and line.isascii() for line in lines)
        assert len(session.state.checks) == 1
        if size[0] >= 20:
            assert "NOT OK: lean" in " ".join(" ".join(lines).split())


async def test_many_stands_scroll_under_the_cursor() -> None:
    plan, names = demo(), range(8)
    heads = tuple(replace(plan.kit.heads[0], id=f"H{n}") for n in names)
    kit = replace(plan.kit, heads=heads, stands=tuple(replace(plan.kit.stands[0], id=f"T{n}") for n in names))
    first = plan.setups["keeper-window"]
    light = replace(first.lights[0], modifier="bare", accessories=(), bags=())
    lights = tuple(replace(light, head=f"H{n}", stand=f"T{n}", angle_deg=20.0 * n) for n in names)
    many = replace(plan, kit=kit, setups=plan.setups | {first.id: replace(first, lights=lights, panels=())})
    async with opened("t", "v", *["down"] * 7, plan=many) as (pilot, _session):
        assert picked(pilot) == "T7"
        assert "T0 " not in "".join(line for line in screen_lines(pilot.app) if "kgf" in line)
        assert "checklist" in shown(pilot)
