"""The kit count, line by line."""

from runbook.day.kit_list import kit_count, kit_list
from runbook.screens.kit_count import KitCountScreen
from tests.day.days import begun, make_ready
from tests.screens.screen_text import app_of, line_with, opened, press, shown, until


async def test_space_counts_a_line_home_and_goes_on() -> None:
    session = begun()
    app = app_of(session)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "e")
        await until(pilot, lambda: "kit count:" in shown(pilot))
        assert isinstance(app.screen, KitCountScreen)
        before = len(kit_count(session.plan, session.entries).uncounted)
        await press(pilot, "space", "space")
        assert len(kit_count(session.plan, session.entries).uncounted) == before - 4
        assert f"{before - 4} things to count, 0 missing" in shown(pilot)
        await press(pilot, "u")
        assert len(kit_count(session.plan, session.entries).uncounted) == before - 2


async def test_what_is_missing_is_named_by_its_label() -> None:
    async with opened("e") as (pilot, session):
        await until(pilot, lambda: "kit count:" in shown(pilot))
        await press(pilot, "x", *"Z", "enter")
        await until(pilot, lambda: "is none of A, B" in shown(pilot))
        await press(pilot, "backspace", *"B", "enter")
        await until(pilot, lambda: "1 missing" in shown(pilot))
        assert "MISSING B" in line_with(pilot, "200 Ws battery head")
        assert kit_count(session.plan, session.entries).missing == (("head", "B"),)


async def test_one_of_a_kind_is_missing_without_a_question() -> None:
    session = begun()
    at = next(n for n, line in enumerate(kit_list(session.plan)) if line.kind == "cloth")
    async with opened("e", session=session, size=(80, 45)) as (pilot, _):
        await until(pilot, lambda: "kit count:" in shown(pilot))
        await press(pilot, *["down"] * at, "x")
        await until(pilot, lambda: "MISSING: voile" in shown(pilot))
        assert kit_count(session.plan, session.entries).missing == (("cloth", "voile"),)


async def test_what_is_on_the_set_is_marked_and_not_counted_until_it_is_struck() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    heads = next(line for line in kit_list(session.plan) if line.kind == "head")
    assert heads.ids == ("A", "B") and session.state.floor.heads.keys() == {"A", "B"}
    async with opened("e", session=session, size=(80, 45)) as (pilot, _):
        await until(pilot, lambda: "kit count:" in shown(pilot))
        assert "on the set; 2 x 200 Ws battery head: A, B" in line_with(pilot, "battery head")
        await press(pilot, *["up"] * 40, "space")
        assert "head A, B are on the set: strike it first" in shown(pilot)
        await press(pilot, "x")
        assert "head A, B are on the set: strike it first" in shown(pilot)
        assert session.entries[-1].kind != "counted"
        bags = next(line for line in kit_list(session.plan) if line.kind == "bag")
        at = kit_list(session.plan).index(bags)
        out = [bag for bag in bags.ids if bag in session.state.floor.bags]
        assert 0 < len(out) < len(bags.ids)
        assert f"on the set: {', '.join(out)}; " in line_with(pilot, f"{len(bags.ids)} x 7 kg bag")
        await press(pilot, *["down"] * at, "space")
        left = kit_count(session.plan, session.entries).uncounted
        assert [item for kind, item in left if kind == "bag" and item in bags.ids] == out
        make_ready(session, None)
        pilot.app.refresh_screens()  # type: ignore[attr-defined]
        await press(pilot, *["up"] * 40, "space")
        assert "on the set" not in shown(pilot)
        assert not {("head", "A"), ("head", "B")} & {*kit_count(session.plan, session.entries).uncounted}
