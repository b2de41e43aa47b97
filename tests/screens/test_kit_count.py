"""The kit count, line by line."""

from typing import Any

import pytest

from runbook.day.kit_list import kit_count, kit_list
from tests.day.days import begun, demo, make_ready
from tests.screens.screen_text import check_keys, line_with, opened, press, shown

COUNT = len(kit_count(demo(), ()).uncounted)


@pytest.mark.parametrize(("start", "keys", "seen", "written"), [
    ({}, "e  ", [f"{COUNT - 4} things to count, 0 missing"], "counted counted"),
    ({}, "e  u", [f"{COUNT - 2} things to count, 0 missing"], "counted counted undone"),
    ({}, "exZ\n", ["is none of A, B"], ""),
    ({}, "exB\n", ["1 missing", "200 Ws battery head: A, B (MISSING B)"], "counted"),
])  # fmt: skip
async def test_keys_of_the_kit_count(start: dict[str, Any], keys: str, seen: list[str], written: str) -> None:
    await check_keys(start, keys, seen, written)


async def test_one_of_a_kind_is_missing_without_a_question() -> None:
    at = next(n for n, line in enumerate(kit_list(demo())) if line.kind == "cloth")
    async with opened("e", *["down"] * at, "x", size=(80, 45)) as (pilot, session):
        assert "MISSING: voile" in shown(pilot)
        assert kit_count(session.plan, session.entries).missing == (("cloth", "voile"),)


async def test_what_is_on_the_set_is_marked_and_not_counted_until_it_is_struck() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    lines = kit_list(session.plan)
    bags = next(line for line in lines if line.kind == "bag")
    out = [bag for bag in bags.ids if bag in session.state.floor.bags]
    async with opened("e", session=session, size=(80, 45)) as (pilot, _):
        assert "on the set; 2 x 200 Ws battery head: A, B" in line_with(pilot, "battery head")
        assert f"on the set: {', '.join(out)}; " in line_with(pilot, f"{len(bags.ids)} x 7 kg bag")
        for key in ("space", "x"):
            await press(pilot, *["up"] * 40, key)
            assert "head A, B are on the set: take it off set first" in shown(pilot)
        assert session.entries[-1].kind != "counted"
        await press(pilot, *["down"] * lines.index(bags), "space")
        left = kit_count(session.plan, session.entries).uncounted
        assert [item for kind, item in left if kind == "bag" and item in bags.ids] == out
        make_ready(session, None)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        await press(pilot, *["up"] * 40, "space")
        assert "on the set" not in shown(pilot)
        assert not {("head", "A"), ("head", "B")} & {*kit_count(session.plan, session.entries).uncounted}
