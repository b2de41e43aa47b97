"""The set screen by what a person sees and presses."""

import gc
import os
import re
import weakref
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.widget import Widget
from textual.widgets import Footer

from runbook.changeover.steps import Step
from runbook.day.actions import Session
from runbook.day.day_view import CrewLine
from runbook.day.load_plan import read_day
from runbook.model.day import Problem
from runbook.model.units import length
from runbook.screens import app as app_module
from runbook.screens.lists import RowList
from runbook.screens.set import SetScreen, crew_line
from runbook.screens.set_lines import setup_strip
from runbook.screens.text import UNICODE
from tests.bench.big_day import write_big_day
from tests.day.days import begun, do_all, do_next, do_until, make_ready, short, skipping
from tests.day.progress import skip_and_do
from tests.played import copied
from tests.screens.screen_text import (
    app_of,
    check_keys,
    line_with,
    on_disk,
    opened,
    paint,
    press,
    resize,
    screen_lines,
    settled,
    shown,
    until,
)

GOLDEN = Path(__file__).parent / "golden"


def mid_change(session: Session) -> Session:
    """The second setup of the day, with the boom about to go up."""
    make_ready(session, "keeper-window")
    session.nudge("A", -1)
    session.reading("A", 3.9)
    session.frames(118)
    session.mark_shot()
    session.begin("keeper-lamp")
    for check in ("fall-circle-clear", "hands-before-locks", "figures-renewed"):
        held = {hold.check.id: hold.check for hold in session.view.holds}
        session.tick_check(held[check])
    for step in session.view.todo:
        if step.key == ("raise", "stand", "boom"):
            break
        session.tick(step)
    return session


def held_to(name: str, text: str) -> None:
    """Compare with the golden screen; ``RUNBOOK_GOLDEN=write`` writes it anew for review."""
    path = GOLDEN / f"{name}.txt"
    text = re.sub(r"ends about .*", "ends about ...", text)  # the clock has tests of its own
    if os.environ.get("RUNBOOK_GOLDEN") == "write":
        path.write_text(text + "\n", encoding="utf-8")
    assert text == path.read_text(encoding="utf-8").removesuffix("\n")


@pytest.mark.forecast
@pytest.mark.parametrize(("name", "size", "ready"), [
    ("set-load-in-80x24", (80, 24), False),
    ("set-change-80x24", (80, 24), True),
    ("set-change-140x45", (140, 45), True),
])  # fmt: skip
async def test_golden(name: str, size: tuple[int, int], ready: bool, tmp_path: Path) -> None:
    session = on_disk(tmp_path)
    mid_change(session) if ready else session.begin("keeper-window")
    session.work_out()
    async with app_of(session).run_test(size=size) as pilot:
        await until(pilot, lambda: "ends about" in shown(pilot))
        held_to(name, shown(pilot))
    session.journal.close()


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_everything_a_head_needs_is_read(size: tuple[int, int]) -> None:
    async with opened(size=size) as (pilot, session):
        for setup_id in session.plan.day.order:
            session.begin(setup_id)
            pilot.app.refresh_screens()  # type: ignore[attr-defined]
            for n, head in enumerate(session.view.heads, 1):
                await press(pilot, str(n))
                line = line_with(pilot, f"{n} ○ {head.head} ")
                assert str(head.power) in line
                assert f" {head.predicted} " in line
                light = head.light
                place = (
                    f"{light.side} {light.angle_deg:g}°",
                    length(light.distance_m, "metric"),
                    length(light.height_m, "metric"),
                    light.stand,
                )
                assert all(words in line for words in place)
                assert " + ".join((light.modifier, *light.accessories)) in shown(pilot)


async def test_a_cursor_that_moves_before_it_was_followed_comes_to_rest(monkeypatch) -> None:
    painted, repaint = list[int](), SetScreen.repaint
    monkeypatch.setattr(SetScreen, "repaint", lambda screen: (painted.append(1), repaint(screen)))
    async with opened() as (pilot, session):
        screen = pilot.app.screen
        assert isinstance(screen, SetScreen)
        screen.setups.focus()
        screen.setups.highlighted = 1
        screen.setups.highlighted = 2
        await settled(pilot)
        painted.clear()
        await settled(pilot)
        assert screen.looking == session.view.setups[2].id
        assert screen.setups.highlighted == 2 and not painted


async def test_the_first_setup_from_nothing_to_ready_with_the_space_bar() -> None:
    async with opened(plan=short("widow-letter")) as (pilot, session):
        assert "Nothing is set up yet. n begins the first setup" in shown(pilot)
        style = pilot.app.screen.query_one(RowList).render_line(0)._segments[0].style
        assert style and style.color and style.color.name == pilot.app.theme_variables["foreground"].lower()  # not dim
        await press(pilot, "n", *["space"] * 24)
        assert "READY" in line_with(pilot, "frames 0/")
        assert session.view.ready
        await press(pilot, "space")
        assert "already done; u undoes the last action" in shown(pilot)


def test_of_many_setups_the_strip_shows_the_current_one_and_those_round_it(tmp_path: Path) -> None:
    session = begun(read_day(write_big_day(tmp_path / "day", heads=1)))
    session.begin("s020")
    strip = setup_strip(session, 80, UNICODE)
    assert strip.startswith("… ○19 ○20 ▶21 changing, frames 0/120: Setup 20 ")
    assert setup_strip(session, 1000, UNICODE).split()[0] == "○1"


async def test_a_block_ticked_stops_at_a_check_opens_and_waits_there() -> None:
    async with opened(ready="keeper-window", begin="keeper-lamp") as (pilot, session):
        await press(pilot, "down", "down", "down", "space")  # past flat-1, A and B, to C's block
        assert session.state.floor.stands["boom"].weight_on
        assert line_with(pilot, "Talent and crew out of the fall circle").startswith("○")
        steps = pilot.app.screen.query_one(RowList)
        assert steps.row is not None and steps.row.key == ("check", "fall-circle-clear")
        await press(pilot, "space", "space")
        assert steps.row.key == ("check", "bagged-boom")


async def test_after_a_tick_farther_down_the_cursor_goes_on_from_there() -> None:
    async with opened(ready="captain-deck", begin="widow-letter") as (pilot, _session):
        steps = pilot.app.screen.query_one(RowList)
        camera = next(n for n, row in enumerate(steps.rows) if row.text.startswith("Camera"))
        after = steps.rows[camera + 1].key
        await press(pilot, *["down"] * (camera - steps.cursor), "space")
        assert steps.row is not None and steps.row.key == after
        await press(pilot, "home")
        assert steps.cursor == next(n for n, row in enumerate(steps.rows) if not row.over)


async def test_blocks_open_and_close_and_the_cursor_stays() -> None:
    async with opened("down", "down", "right", begin="keeper-window") as (pilot, _session):
        assert "Place S1 at camera-left 45°, column" in shown(pilot)
        await press(pilot, "down", "down", "down", "left")
        assert "Place S1 at camera-left 45°, column" not in shown(pilot)
        row = pilot.app.screen.query_one(RowList).row
        assert row is not None and row.text.startswith("A: on S1")
        await press(pilot, "enter")
        assert "Place S1 at camera-left 45°, column" in shown(pilot)


LOAD_IN, STANDS = {"begin": "keeper-window"}, {"ready": "keeper-window"}
OPEN = {"plan": short("widow-letter", "widow-answer"), "begin": "widow-letter"}
READY = {"plan": short("widow-letter", "widow-answer"), "ready": "widow-letter"}
ANSWER = {"ready": "widow-letter", "begin": "widow-answer"}


@pytest.mark.parametrize(("start", "keys", "seen", "written"), [
    # without a setup
    *(({}, key, ["no current setup; n begins one"], "") for key in "+rf"),
    ({}, "a", ["nothing of the next setup can be done ahead now"], ""),
    ({}, "c", ["no current setup; begin one first"], ""),
    ({}, "x", ["nothing to skip here"], ""),
    ({}, "u", ["nothing left to undo"], ""),
    ({}, "U", ["nothing to redo"], ""),
    ({}, " ", ["Nothing is set up yet"], ""),
    # leaving a setup asks while it is open
    (OPEN, "ns", ["steps 0 of"], ""),
    (OPEN, "nl", ["begun: The widow, the answer"], "setup-begun"),
    (OPEN, "nc", ["begun: The widow, the answer"], "shot setup-begun"),
    (OPEN, "c", ["steps are left"], ""),
    (OPEN, "cc", ["steps left; n begins the next"], "shot"),
    (OPEN, "ccc", ["widow-letter is already marked as shot"], "shot"),
    (OPEN, "gwl", ["Wrap: strike everything"], "setup-begun"),
    (READY, "c", ["marked as shot; n begins the next"], "shot"),
    (READY, "f120\ng2", ["120 of 120 frames"], "frames"),
    (READY, "f120\ng2c", ["begun: The widow, the answer"], "frames shot setup-begun"),
    (READY, "gwcn", ["not every setup is shot"], "shot setup-begun"),
    (READY, "gwcns", ["Wrap: strike everything"], "shot setup-begun"),
    (READY, "gwcng", ["begun: The widow, the answer"], "shot setup-begun setup-begun"),
    (READY, "cnccnn", ["the wrap has begun"], "shot setup-begun shot setup-begun"),
    # skipping and setting aside, with a reason
    (ANSWER, "x\n", ["Skip: second: take card", "write a few words"], ""),
    (ANSWER, "x\x1b", [], ""),
    (ANSWER, "xtorn\nj", ["torn"], "skipped"),
    (LOAD_IN, "xlocked\nuU", ["redone: set aside: Exits", "locked"], "skipped undone undone"),
    # late talent, battery, breaks
    (LOAD_IN, "v11quarter past\n", ["not a time of day"], ""),
    (LOAD_IN, "v1113.40\n", ["expected at 13:40"], "talent-late"),
    (LOAD_IN, "v21j", ["battery changed: A"], "battery-changed"),
    (LOAD_IN, "v320 fire alarm\nb", ["the break is over"], "break-begun break-ended"),
    (LOAD_IN, "b210 rain\nj", ["10 min, because: rain"], "break-begun"),
    # powers, readings, frames, notes, people
    (LOAD_IN, "9", ["no head 9 here; the table has 2"], ""),
    (LOAD_IN, "2+", ["B: 1/8 to 1/8+0.3, as shot", "1/8+0.3*", "* not as planned"], "changed"),
    (LOAD_IN, "2++++PP", ["every power meets its target already"], "changed changed changed changed changed changed"),
    (LOAD_IN, "1r5.6 3\n", ["f/5.6 +0.3", "# metered"], "reading"),
    (LOAD_IN, "Rlots\n", ["is not a reading"], ""),
    (LOAD_IN, "1r8.3\n", ["f/8 and 3 tenths of a stop", "the aperture f/8.3"], ""),
    (LOAD_IN, "1r8.3\n1", ["A read f/8 +0.3"], "reading"),
    (LOAD_IN, "2r", ["Meter reading at the background, B alone:"], ""),
    (LOAD_IN, "2r5.6\n", ["B read f/5.6 at the background, 0.2 over the prediction", "bg#"], "reading"),
    (LOAD_IN, "R", ["Meter reading at the face, all heads together:"], ""),
    (LOAD_IN, "f36\n", ["frames 36/120"], "frames"),
    (LOAD_IN, "f36\nf-40\n", ["a setup cannot have fewer than 0 frames"], "frames"),
    (LOAD_IN, "i2whis hat\nj", ["first note: his hat"], "note"),
    # a hung cloth has its row: what it scatters, where it is, how high its rail
    ({"begin": "seamstress-veil"}, "", ["voile cloth", "left 180° 1.0 m 3.0 m"], ""),
    # change another value, as shot
    (STANDS, "2o", ["Change B or the camera, as shot:", "like height 2.1 m, tape 1.6 m, angle 40 left"], ""),
    (STANDS, "2oangle 120\n", ["B angle 130° to 120°, as shot", "right 120°", "not all as planned (j)"], "changed"),
    (STANDS, "of 5.6\nj", ["exposure f: 5.6 instead of 4"], "changed"),
])  # fmt: skip
async def test_keys_on_the_set(start: dict[str, Any], keys: str, seen: list[str], written: str) -> None:
    await check_keys(start, keys, seen, written)


async def test_a_setup_is_left_out_by_the_number_it_has_everywhere() -> None:
    session = begun()
    for setup_id in ("keeper-window", "seamstress-veil"):
        session.skip_setup(setup_id, "no time")
    async with opened("k", session=session) as (pilot, _):
        assert " 2  The keeper and his lamp" in shown(pilot)
        await press(pilot, "1", "7", *"late", "enter")
        skipped = session.plan.day.order[6]
        assert session.state.setups_skipped[skipped] == "late"
        assert "–7" in line_with(pilot, "○2")


async def test_go_shows_every_setup_and_goes_anywhere() -> None:
    async with opened("g") as (pilot, session):
        for setup in session.plan.order:
            assert setup.title in shown(pilot)
        await press(pilot, "5")
        assert session.state.at_work == "captain-deck"
        await press(pilot, "g", "up", "up", "enter")
        assert session.state.at_work == "seamstress-veil"
        await press(pilot, "g", "3")
        assert "seamstress-veil is already the current setup" in shown(pilot)
        await press(pilot, "g", "w")
        assert session.state.wrapping


async def test_a_stand_in_hands_is_called_out_until_it_may_be_let_go() -> None:
    session = begun(short("captain-deck", "captain-chart"))
    make_ready(session, "captain-deck")
    session.begin("captain-chart")
    do_until(session, "unbag", "bag", "B2")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        assert "HOLD" not in shown(pilot)
        do_next(session)
        assert "HOLD S2, steps" in await paint(pilot)
        do_until(session, "aim", "head", "B")
        assert "HOLD" not in await paint(pilot)


async def test_what_is_not_safe_is_shown_and_a_skip_is_not_done_by_one_key_too_many() -> None:
    session = begun(short("keeper-window"))
    session.begin("keeper-window")
    skipping(session, ("bag", "bag", "B1"))
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        assert "DANGER S1 NOT SAFE: tips at 8.2° of lean, 10° required; bags 0 kg, 1.3 kg need" in " ".join(
            shown(pilot).split()
        )
        assert "READY, NOT SAFE" in shown(pilot)
        await press(pilot, "home", "space")
        assert "was skipped: left in the van. Is it done" in shown(pilot)
        await press(pilot, "enter")
        assert "skipped: Hang B1 (7 kg) on S1 (left in the van)" in shown(pilot)
        await press(pilot, "space", "y")
        assert "NOT SAFE" not in shown(pilot)


async def test_the_keys_below_are_those_that_matter_now() -> None:
    async with opened(plan=short("widow-letter")) as (pilot, session):
        for does, keys in (
            (lambda: None, "n next g go to"),
            (lambda: session.begin("widow-letter"), "space done x skip"),
            (lambda: session.pause("meal"), "b break"),
            (session.resume, "space done x skip"),
            (lambda: do_all(session), "r meter f frames c shot n next"),
            (session.mark_shot, "n next a ahead"),
            (lambda: make_ready(session, None), "e kit count"),
        ):
            does()
            await paint(pilot)
            await until(pilot, lambda keys=keys: screen_lines(pilot.app)[-1].startswith(keys))  # type: ignore[misc]


async def test_a_reading_is_saved_only_after_a_yes_and_shows_the_way_back(tmp_path: Path) -> None:
    folder = copied(tmp_path / "day")
    session = begun()
    session.folder = folder
    session.begin("keeper-window")
    before = (folder / "kit.toml").read_bytes()
    async with opened("m", session=session) as (pilot, _):
        assert "no reading of A alone" in shown(pilot)
        await press(pilot, "1", "r", *"5.6 3", "enter")
        for answer in ("n", "enter", "escape"):
            await press(pilot, "m")
            assert "Save f/5.6 +0.3 for A through octa-90 + grid-octa at 1/8" in shown(pilot)
            await press(pilot, answer)
            assert (folder / "kit.toml").read_bytes() == before
        await press(pilot, "m", "y")
        assert "saved (before: .backup-20261204-080000/kit.toml)" in shown(pilot)
        assert (folder / "kit.toml").read_bytes() != before
        assert (folder / ".backup-20261204-080000" / "kit.toml").read_bytes() == before
        await press(pilot, "1", "r", *"5.6", "enter", "m")
        assert "save it in place of f/5.6 +0.3 at 1/8, 1.4 m" in shown(pilot)


async def test_a_head_that_was_never_put_up_is_shown_so() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    keys = [step.key for step in session.view.todo if step.thing == "C" and step.verb != "place"]
    skip_and_do(session, *keys)
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        row = line_with(pilot, " C hair")
        assert "not up" in row and "skipped" in row


async def test_steps_ahead_come_with_their_checks() -> None:
    async with opened(plan=short("captain-deck", "captain-chart"), ready="captain-deck") as (pilot, session):
        assert "7 can be done ahead (a)" in shown(pilot)
        await press(pilot, "a")
        assert "CHECK roller bagged: 7 kg on the column" in shown(pilot)
        await press(pilot, *["enter"] * 5)  # it stands, is bagged, and carries its head
        for _ in range(3):
            assert "CHECK" in shown(pilot)
            await press(pilot, "enter")
        await press(pilot, "enter")
        assert session.state.real_floor.stands["roller"].height_m == 2.2
        await press(pilot, "escape")
        assert "1 can be done ahead (a)" in shown(pilot)


async def test_a_click_puts_the_cursor_on_a_row() -> None:
    async with opened(begin="keeper-window") as (pilot, _session):
        steps = pilot.app.screen.query_one(RowList)
        await pilot.click(RowList, offset=(10, 5))
        assert steps.row is not None and steps.row.text.startswith("flat-1: right 110°")
        assert not steps.row.folded  # a click on a block opens it


@pytest.mark.parametrize("size", [(60, 15), (40, 10), (20, 5), (8, 3), (1, 1)])
async def test_small_windows_show_the_step_at_hand(size: tuple[int, int]) -> None:
    async with opened(ready="keeper-window", begin="keeper-lamp", size=size) as (pilot, session):
        text = shown(pilot)
        assert size[0] < 15 or "flat-1 off set" in " ".join(text.split())
        await press(pilot, "g", "escape", "w", "escape", "question_mark", "q", "t", "j", "z", "s")
        await press(pilot, "space")
        assert "flat-1" not in session.state.floor.panels
        await resize(pilot, 1, 1)
        await resize(pilot, 140, 45)
        await until(pilot, lambda: "The captain on deck" in shown(pilot))


async def test_a_setup_that_left_the_plan_is_reported() -> None:
    session = begun()
    session.begin("keeper-window")
    do_until(session, "fit", "head", "A")
    kept = {key: one for key, one in session.plan.setups.items() if key == "widow-letter"}

    plan = replace(short("widow-letter"), setups=kept)
    later = Session(plan, session.journal, "photo", session.clock)
    async with app_of(later).run_test(size=(80, 24)) as pilot:
        assert "The current setup is no longer in the plan: n begins the next" in shown(pilot)
        await press(pilot, "n")
        assert later.state.at_work == "widow-letter"
        assert "S1 off set" in shown(pilot)


def test_long_texts_of_who_does_what_are_cut() -> None:
    up = Step("raise", "stand", "S2", text="Raise S2 to 2.0 m")
    out = Step("place", "stand", "low", text="Move low to camera-left 45°, column 1.2 m")
    busy = [CrewLine("photo", None), CrewLine("first", up), CrewLine("second", out)]
    assert crew_line(busy, 100, UNICODE) == [f"photo: free  first: {up.text}  second: {out.text}"]
    assert crew_line(busy, 39, UNICODE) == ["photo: free  first: Rais…  second: Mov…"]


async def test_stops_and_warnings_of_a_check_stand_on_the_set() -> None:
    async with opened(begin="keeper-window") as (pilot, session):
        assert "WARN" not in shown(pilot)
        session.problems = (
            Problem("stop", "stand-tips", "keeper-window", "S1", "it tips at 4 degrees", "bag it"),
            Problem("warn", "day-too-long", None, None, "the day ends late", ""),
            Problem("warn", "flare", "keeper-lamp", "A", "of another setup", ""),
            Problem("note", "flare", "keeper-window", "A", "a note", ""),
            Problem("meant", "flare", "keeper-window", "A", "meant so", ""),
        )
        await paint(pilot)
        assert "; and 1 more: runbook check" in line_with(pilot, "STOP  S1: it tips at 4 degrees")
        await resize(pilot, 140, 45)
        await settled(pilot)
        assert line_with(pilot, "STOP  S1: it tips at 4 degrees")
        assert line_with(pilot, "WARN  the day ends late")
        for hidden in ("of another setup", "a note", "meant so"):
            assert hidden not in shown(pilot)
        session.replan(session.plan)
        assert "STOP" not in await paint(pilot)


@pytest.mark.forecast
async def test_the_set_works_out_by_itself_what_a_check_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = Problem("warn", "no-crew", None, None, "nobody is down to do the steps", "")
    monkeypatch.setattr(app_module, "problems_of", lambda *_, **__: (problem,))
    async with app_of().run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "WARN  nobody is down" in shown(pilot))


async def test_a_footer_made_anew_lets_go_of_the_keys_before() -> None:
    async with opened("n") as (pilot, _):
        keys: list[weakref.ref[Widget]] = []
        for _n in range(4):  # a break begins and is undone
            await press(pilot, "b", "1", "enter", "u")
            keys += map(weakref.ref, pilot.app.screen.query_one(Footer).children)
        gc.collect()
        assert len(keys) > 12 and sum(key() is not None for key in keys) <= len(keys) // 2
