"""The plan as a person has it: what is picked and moved on the floor, what the form says, what is on disk."""

import datetime as dt
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Select

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.files.new_day import start_day
from runbook.journal.events import DayOpened
from runbook.model.kit import Measured
from runbook.screens.app import RunbookApp
from runbook.screens.lists import Lines
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day.days import DEMO, begun
from tests.screens.screen_text import press, screen_lines, settled, shown, until


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "day"))


def app_of(day: Path, glyphs: Glyphs = UNICODE) -> RunbookApp:
    session = begun(read_day(day), folder=day)
    return RunbookApp(session, session.clock, glyphs)


@asynccontextmanager
async def planning(day: Path, thing: str = "", size: tuple[int, int] = (80, 24)) -> AsyncIterator[Pilot[Any]]:
    """The plan, with the cursor of the list on a thing of it; the kind it is of is opened."""
    async with app_of(day).run_test(size=size) as pilot:
        await press(pilot, "l")
        await to(pilot, thing) if thing else None
        yield pilot


def screen(pilot: Pilot[Any]) -> PlanningScreen:
    found = pilot.app.screen
    assert isinstance(found, PlanningScreen)
    return found


def session_of(pilot: Pilot[Any]) -> Session:
    assert isinstance(pilot.app, RunbookApp)
    return pilot.app.session


def message(pilot: Pilot[Any]) -> str:
    assert isinstance(pilot.app, RunbookApp)
    return pilot.app.message


async def to(pilot: Pilot[Any], title: str) -> None:
    """Move the cursor of the list to the line with this title."""
    outline = screen(pilot).outline
    away = next(node.line for thing, node in outline.nodes.items() if thing.title == title) - outline.cursor_line
    await press(pilot, *["down" if away > 0 else "up"] * abs(away))


async def to_field(pilot: Pilot[Any], label: str) -> Input:
    """Give the keys to the row of a form with this label, as tab does."""
    rows = {row.field.label: row for row in screen(pilot).form.rows}
    rows[label].control.focus()
    await settled(pilot)
    return pilot.app.focused  # type: ignore[return-value]


async def enter(pilot: Pilot[Any], text: str) -> None:
    """Type over what is in the line, and enter it."""
    line = pilot.app.focused
    assert isinstance(line, Input)
    line.value = text
    await press(pilot, "enter")


def light(pilot: Pilot[Any], setup: str = "keeper-window", head: str = "A") -> Any:
    """A light as the screen has it."""
    return screen(pilot).desk.plan.setups[setup].light[head]


async def test_the_list_the_floor_the_face_and_the_form_are_there_at_once(day: Path) -> None:
    async with planning(day, size=(140, 45)) as pilot:
        for name in ("outline", "floor", "figures", "face", "form"):
            assert screen(pilot).query_one(f"#{name}").size.height > 1, name
        text = shown(pilot)
        await until(pilot, lambda: "aperture" in shown(pilot))
        for words in ("keeper-window", "the day", "▸ crew 3", "▸ heads 4", "85 mm", "A 1/8"):
            assert words in text
        await press(pilot, "l")
        assert isinstance(pilot.app.screen, SetScreen)


async def test_a_cursor_that_moves_before_it_was_followed_comes_to_rest(day: Path, monkeypatch) -> None:
    painted, repaint = list[int](), PlanningScreen.repaint
    monkeypatch.setattr(PlanningScreen, "repaint", lambda screen: (painted.append(1), repaint(screen)))
    async with planning(day) as pilot:
        outline = screen(pilot).outline
        outline.cursor_line = 3
        outline.cursor_line = 6
        await settled(pilot)
        painted.clear()
        await settled(pilot)
        assert outline.cursor_line == 6 and outline.nodes[screen(pilot).desk.thing].line == 6 and not painted


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_a_terminal_without_signs_is_shown_none(day: Path, size: tuple[int, int]) -> None:
    async with app_of(day, ASCII).run_test(size=size) as pilot:
        for keys in ("d", "d", "l", "\n", "\nn", "\x1b\x1b", "\x10"):  # pictures, plan, form, a choice open, palette
            await press(pilot, *keys)
            lines = screen_lines(pilot.app)
            assert not [line for line in lines if not line.isascii()], keys
            assert keys != "d" or any("-floor, " in line or "-the face, " in line for line in lines)
        await press(pilot, "escape", "l")
        await to(pilot, "the day")
        await press(pilot, "enter")
        assert "indoors              [x] yes" in shown(pilot)


async def test_in_a_small_window_floor_face_and_form_are_one_key_apart(day: Path) -> None:
    async with planning(day, size=(80, 24)) as pilot:
        floor, form, face = screen(pilot).floor, screen(pilot).form, screen(pilot).face
        for key, shows in (("right", floor), ("enter", form), ("escape", floor), ("d", face), ("d", floor)):
            await press(pilot, key)
            assert [part for part in (floor, form, face) if part.display] == [shows]
            assert shows.size.height > 5
            assert "depth of field" in " ".join(shown(pilot).split())


async def test_arrows_turn_and_move_what_is_held_and_everything_follows(day, monkeypatch):
    monkeypatch.setattr(PlanningScreen, "REST_S", 1e6)
    path = day / "keeper-window.toml"
    before = path.read_text("utf-8")
    async with planning(day) as pilot:
        await press(pilot, "right", "A")
        assert "A held" in shown(pilot)
        figures = screen(pilot).query_one("#figures", Lines).lines
        await press(pilot, "right", "right", "up", "pageup", "f")
        at = light(pilot)
        assert (at.side, at.angle_deg, at.height_m) == ("left", 35, 2.1)
        assert 1.3 < at.distance_m < 1.4  # nearer by 0.1, then raised where it stands
        assert (at.feather_deg, at.feather_to) == (5, "camera")
        assert screen(pilot).query_one("#figures", Lines).lines != figures
        assert path.read_text("utf-8") == before  # written once the keys rest
        await press(pilot, "u")  # the burst is one edit
        assert path.read_text("utf-8") == before
        assert light(pilot).angle_deg == 45
        await press(pilot, "U")
        assert read_day(day).setups["keeper-window"].light["A"] == light(pilot) == at
        assert session_of(pilot).plan == read_day(day)


async def test_a_move_is_written_when_the_plan_is_left_at_once(day: Path) -> None:
    async with planning(day) as pilot:
        await press(pilot, "right", "A", "left", "s")
        assert isinstance(pilot.app.screen, SetScreen)
        await until(pilot, lambda: read_day(day).setups["keeper-window"].light["A"].angle_deg == 50)
        assert session_of(pilot).plan == read_day(day)


async def test_a_place_that_cannot_be_is_refused_and_nothing_moves(day: Path) -> None:
    async with planning(day) as pilot:
        await press(pilot, "right", "A", *["pageup"] * 9)
        assert "goes to" in message(pilot)  # the stand is at its end
        top = light(pilot).height_m
        await until(pilot, lambda: read_day(day).setups["keeper-window"].light["A"].height_m == top)


async def test_things_are_picked_with_arrows_tab_number_and_letter(day: Path) -> None:
    async with planning(day) as pilot:
        floor = screen(pilot).floor
        await press(pilot, "right", "tab")
        assert floor.part == ("light", "A")
        await press(pilot, "up")  # behind A, as seen from the camera
        assert floor.part != ("light", "A")
        await press(pilot, "3")
        assert (floor.part, floor.held) == (("place_panel", "flat-1"), True)
        await press(pilot, "escape")
        assert (floor.part, floor.held) == (("place_panel", "flat-1"), False)
        await press(pilot, "B")
        assert (floor.part, floor.held) == (("light", "B"), True)
        await press(pilot, "escape", "escape")
        assert floor.part is None
        await press(pilot, "escape")
        assert screen(pilot).outline.has_focus


async def test_the_mouse_drags_a_thing_over_the_floor(day: Path) -> None:
    async with planning(day) as pilot:
        floor = screen(pilot).floor
        at = light(pilot).point(1.25)
        border = 1

        def cell(x: float, y: float) -> tuple[int, int]:
            assert shown(pilot) and floor.canvas is not None  # as painted by now
            column, row = floor.canvas.cell(x, y)
            return round(column - 0.5), round(row - 0.5) + border

        await pilot.mouse_down("#floor", offset=cell(at.x, at.y))
        assert (floor.part, floor.held) == (("light", "A"), True)
        await pilot.hover("#floor", offset=cell(-1.6, 0.0))
        await pilot.mouse_up("#floor", offset=cell(-1.6, 0.0))
        await settled(pilot)
        now = light(pilot)
        assert now.side == "left"
        assert now.angle_deg == pytest.approx(90, abs=8)  # a cell is some centimetres
        assert now.point(1.25).x == pytest.approx(-1.6, abs=0.15)
        assert now.height_m == 2.0


async def test_a_value_is_typed_and_judged_as_it_is_typed(day: Path) -> None:
    path = day / "keeper-window.toml"
    before = path.read_text("utf-8")
    async with planning(day) as pilot:
        await press(pilot, "right", "A", "enter")
        line = await to_field(pilot, "distance")
        line.value = "0.2 m"
        await until(pilot, lambda: "cannot reach" in " ".join(shown(pilot).split()))
        await press(pilot, "enter")
        assert path.read_text("utf-8") == before  # nothing wrong is saved
        line.value = "4 ft furlong"
        await until(pilot, lambda: "is not a length" in shown(pilot))
        line.value = "6 ft"
        await until(pilot, lambda: "= 1.83 m (6 ft 0 in)" in shown(pilot))
        assert "A reads f/2.8" in shown(pilot)
        assert path.read_text("utf-8") == before  # nothing is written before enter
        await press(pilot, "enter")
        assert path.read_text("utf-8") == before.replace("= 1.4\n", "= 1.8288\n", 1)
        assert screen(pilot).form.row is not None
        assert screen(pilot).form.row.field.label == "height"
        await press(pilot, "escape", "u")
        assert path.read_text("utf-8") == before


async def test_tab_saves_escape_does_not_and_choices_are_searched_by_letters(day: Path) -> None:
    async with planning(day) as pilot:
        await press(pilot, "right", "A", "enter")
        (await to_field(pilot, "angle")).value = "60"
        await press(pilot, "escape")
        assert light(pilot).angle_deg == 45
        await press(pilot, "enter")
        assert "45 deg" in shown(pilot)
        (await to_field(pilot, "angle")).value = "60"
        await press(pilot, "tab")
        assert light(pilot).angle_deg == 60
        await to_field(pilot, "modifier")
        assert isinstance(pilot.app.focused, Select)
        await press(pilot, "s", "t", "r", "enter")
        assert light(pilot).modifier.startswith("strip") or "does not" in shown(pilot)
        assert isinstance(pilot.app.screen, PlanningScreen)


async def test_a_kind_is_closed_with_a_key_or_a_click_on_its_sign_and_a_click_picks(day: Path) -> None:
    async with planning(day, "keeper-lamp") as pilot:
        for again in (press(pilot, "left"), pilot.click("#outline", offset=(0, 1))):
            await again
            assert "▸ setups 9" in shown(pilot) and screen(pilot).desk.thing.title == "setups"
            await press(pilot, "right", "down")
        await pilot.click("#outline", offset=(20, 3))
        assert screen(pilot).desk.thing.id == "keeper-lamp" and screen(pilot).floor.has_focus


async def test_page_keys_do_no_harm_where_a_list_has_no_room(day: Path) -> None:
    async with planning(day, size=(1, 1)) as pilot:
        await press(pilot, "pagedown", "pageup")
        assert screen(pilot).desk.thing.id == "keeper-window"


async def test_only_what_is_set_is_shown_until_more_is_asked_for(day: Path) -> None:
    async with planning(day, size=(140, 45)) as pilot:
        await press(pilot, "right", "A")
        await until(pilot, lambda: "head" in {row.field.label for row in screen(pilot).form.rows})
        labels = {row.field.label for row in screen(pilot).form.rows}
        assert {"head", "role", "power", "angle"} <= labels
        assert "feather" not in labels
        await press(pilot, "m")
        await until(pilot, lambda: {"feather", "through"} <= {row.field.label for row in screen(pilot).form.rows})
        await press(pilot, "m")
        await until(pilot, lambda: labels == {row.field.label for row in screen(pilot).form.rows})


async def test_an_inherited_value_names_its_source_and_only_what_differs_is_saved(day: Path) -> None:
    async with planning(day, "widow-answer") as pilot:
        await press(pilot, "right", "A")
        await press(pilot, "enter")
        await until(pilot, lambda: "inherited from widow-letter" in shown(pilot))
        await to_field(pilot, "power")
        await enter(pilot, "1/16")
        text = " ".join((day / "widow-answer.toml").read_text("utf-8").split())
        assert 'head = "A" power = "1/16"' in text


async def test_a_new_light_needs_four_answers(day: Path) -> None:
    async with planning(day, "keeper-window") as pilot:
        await press(pilot, "right", "n", "l")
        await press(pilot, "1", "enter", "enter")  # the first role that nothing has; head; modifier
        line = pilot.app.screen.query_one(Input)
        line.value = "right 30 2.0 1.8"
        await until(pilot, lambda: "reads" in shown(pilot))
        await press(pilot, "enter")
        floor = screen(pilot).floor
        assert floor.part is not None
        assert floor.held
        added = read_day(day).setups["keeper-window"].light[str(floor.part[1])]
        assert (added.role, added.side, added.angle_deg, added.distance_m) == ("fill", "right", 30, 2.0)
        assert added.under_key_stops == 2
        assert added.stand not in {"S1", "S2"}
        assert added.head in read_day(day).solved["keeper-window"]
        await press(pilot, "left")
        assert light(pilot, head=added.head).angle_deg == 25
        await press(pilot, "u", "u")
        assert added.head not in read_day(day).setups["keeper-window"].light


Step = tuple[str, str, str | None]  # keys, a file, and what is then in it; None: there is no such file


async def steps(day: Path, thing: str, *rows: Step) -> None:
    """Press keys on the plan one row after the other, and look what is on disk after each."""
    async with planning(day, thing) as pilot:
        for keys, file, written in rows:
            await press(pilot, *keys)
            path = day / f"{file}.toml"
            if written is None:
                assert not path.exists(), keys
            else:
                assert written in " ".join(path.read_text("utf-8").split()), keys
            assert session_of(pilot).plan == read_day(day)


async def test_setups_are_made_moved_deleted_and_copied(day: Path) -> None:
    await steps(
        day,
        "keeper-lamp",
        ("n\x15late\n", "late", 'like = "keeper-lamp"'),
        ("", "day", '"keeper-lamp", "late",'),
        ("[", "day", '"late", "keeper-lamp",'),
        ("xk", "late", 'like = "keeper-lamp"'),  # it is asked first
        ("xx", "late", None),
        ("u", "late", 'like = "keeper-lamp"'),
        ("c\x15copy\n", "copy", "The keeper and his lamp"),
        ("uuu", "copy", None),
    )


async def test_lights_and_panels_are_copied_moved_and_deleted(day: Path) -> None:
    await steps(
        day, "keeper-window", ("\nAc1\n\n", "keeper-window", 'side = "right" angle_deg = 45'),
        ("u", "keeper-window", "shoot_min"), ("Bxx", "keeper-window", "shoot_min"),
        ("np1\n", "keeper-window", 'side = "right" angle_deg = 90'),
    )  # fmt: skip
    assert [light.head for light in read_day(day).setups["keeper-window"].lights] == ["A"]
    await steps(day, "keeper-lamp", ("\nDxx", "keeper-lamp", "drop"))
    assert "D" not in read_day(day).setups["keeper-lamp"].light


async def test_a_thing_in_use_is_not_deleted(day: Path) -> None:
    async with planning(day, "stands") as pilot:
        await press(pilot, "enter", "down", "x", "x")
        assert "S1 is used by " in message(pilot)
        assert "S1" in read_day(day).kit.stand


async def test_a_new_stand_is_a_draft_that_is_kept_until_it_is_whole(day: Path) -> None:
    before = (day / "kit.toml").read_text("utf-8")
    async with planning(day, "stands") as pilot:
        await press(pilot, "n")
        for text in ("S9", "0.5", "3 kg"):
            await enter(pilot, text)
        await press(pilot, "escape")  # one key, and it is kept
        assert screen(pilot).outline.has_focus
        assert "new stand (draft)" in shown(pilot)
        await press(pilot, "down", "up", "enter")
        await screen(pilot).to_form(("stand", "new", "load_max_kg"))
        await settled(pilot)
        for text in ("9", "3 ft", "0.5 m"):
            assert (day / "kit.toml").read_text("utf-8") == before
            await enter(pilot, text)
        assert "height_min" in " ".join(shown(pilot).split())  # whole, and wrong
        assert (day / "kit.toml").read_text("utf-8") == before
        await enter(pilot, "9 ft")
        assert read_day(day).kit.stand["S9"].height_max_m == 2.7432
        after = (day / "kit.toml").read_text("utf-8")
        written = after[after.index('[[stand]]\nid = "S9"') :].split("\n\n")[0]
        assert after.replace(written + "\n\n", "") == before


async def test_a_draft_is_dropped_with_one_key(day: Path) -> None:
    async with planning(day, "bags") as pilot:
        await press(pilot, "n", "B", "9", "9", "escape", "x")
        assert "draft" not in shown(pilot).replace(message(pilot), "")
        assert "B99" not in read_day(day).kit.bag


async def test_the_day_goes_on_with_the_plan_as_edited(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "n")  # the first setup is begun
        entries = len(session_of(pilot).entries)
        await press(pilot, "l", "right", "A", "enter")
        await to_field(pilot, "power")
        await enter(pilot, "1/4")
        assert len(session_of(pilot).entries) == entries
        await press(pilot, *["escape"] * 5)
        assert isinstance(pilot.app.screen, SetScreen)
        assert "1/4" in shown(pilot)
        await until(pilot, lambda: len(session_of(pilot).entries) == entries + 1)
        assert isinstance(session_of(pilot).entries[-1].data, DayOpened)


async def test_deleting_the_setup_at_work_is_reported(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "g", "9")
        assert session_of(pilot).state.at_work == "widow-answer"
        await press(pilot, "l", "x", "x")
        assert "widow-answer was the current setup and is no longer in the plan" in message(pilot)
        await press(pilot, "l", "n")
        assert session_of(pilot).state.at_work == "keeper-window"


async def test_a_folder_that_cannot_be_read_or_written_is_reported_in_a_line(day, monkeypatch):
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        (day / "broken.toml").write_text("x\n")
        await press(pilot, "l")
        assert isinstance(pilot.app.screen, SetScreen)
        assert "broken.toml:1" in message(pilot)
        (day / "broken.toml").unlink()
        await press(pilot, "l")

        def refuse(*_args: object, **_more: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(Path, "mkdir", refuse)
        await press(pilot, "]")
        assert "nothing is changed: no space left" in message(pilot)
        monkeypatch.undo()
        (day / "day.toml").write_bytes((day / "day.toml").read_bytes() + b"# theirs\n")
        await press(pilot, "]")
        assert "day.toml changed on disk meanwhile" in message(pilot)
        await press(pilot, "l", "l", "]")
        assert message(pilot).startswith("keeper-window moved")
        assert (day / "day.toml").read_bytes().endswith(b"# theirs\n")


@pytest.mark.parametrize("size", [(1, 1), (44, 20), (300, 60)])
async def test_every_size_of_window_can_be_edited_in(day: Path, size: tuple[int, int]) -> None:
    async with planning(day, size=size) as pilot:
        await press(pilot, "enter", "enter")
        await to_field(pilot, "title")
        await enter(pilot, "Other words")
        assert 'title = "Other words"' in (day / "keeper-window.toml").read_text("utf-8")


async def test_what_setups_like_this_one_would_lose_is_asked_about_before_it_is_written(day: Path) -> None:
    async with planning(day) as pilot:
        await press(pilot, "right", "A", "enter")
        before = read_day(day)
        for answer, left in (("k", ("grid-octa",)), ("w", ())):
            await to_field(pilot, "accessories")
            await enter(pilot, "")
            assert "keeper-lamp loses grid-octa of A" in shown(pilot)
            await press(pilot, answer)
            assert read_day(day).setups["keeper-lamp"].light["A"].accessories == left
        await press(pilot, "escape", "u")
        assert read_day(day) == before


async def test_a_reading_taken_before_the_day_is_a_row_of_the_kit_and_the_light_follows(day: Path) -> None:
    before = (day / "kit.toml").read_text("utf-8")
    async with planning(day) as pilot:
        await press(pilot, "right", "A", "r")  # the light's head, modifier, accessories, power, distance and ISO
        line = pilot.app.focused
        assert isinstance(line, Input)
        line.value = "4 2"
        await until(pilot, lambda: "A reads f/4 +0.2" in shown(pilot))
        assert (day / "kit.toml").read_text("utf-8") == before
        await press(pilot, "enter")
        row = Measured("A", "1/8", 1.4, 4.287, "octa-90", ("grid-octa",), 100.0)
        assert read_day(day).kit.measured[1:] == (row,)
        assert session_of(pilot).plan == read_day(day)
        await press(pilot, "escape", "u")
        assert (day / "kit.toml").read_text("utf-8") == before


async def test_a_reading_with_two_meanings_is_asked_about(day: Path) -> None:
    async with planning(day) as pilot:
        for answer, reads in (("2", 8.3), ("1", 8.877)):
            await to(pilot, "keeper-window")
            await press(pilot, "right", "A", "r")
            await enter(pilot, "8.3")
            await press(pilot, answer)
            assert [row.reads_f for row in read_day(day).kit.measured[1:]] == [reads]  # the later in place of it
            await press(pilot, "escape")


async def test_bags_that_are_missing_are_hung_with_one_key(day: Path) -> None:
    text = (day / "keeper-window.toml").read_text("utf-8")
    (day / "keeper-window.toml").write_text(text.replace('bags = ["B1"]', "", 1), "utf-8")
    async with planning(day) as pilot:
        await press(pilot, "right", "A")
        assert "STOP" in shown(pilot)
        await press(pilot, "b")
        assert read_day(day).setups["keeper-window"].light["A"].bags
        assert "STOP" not in shown(pilot)


async def test_a_first_day_is_planned_in_the_app_in_under_150_keys(tmp_path: Path) -> None:
    """Three lights, two setups, from a new day's folder whose examples are deleted first."""
    day = tmp_path / "first"
    start_day(day, dt.date(2026, 12, 4))
    keys = [
        *"l", "down", *"xx",  # the example's second setup is deleted, and the first one emptied
        "enter", *"Axx", *"1xx",
        *"nl", "enter", "enter", "enter", *"\n",  # a key as it mostly stands, through the first soft box
        "left", "left", "up",  # put further round and nearer
        *"nl", "enter", "enter", "enter", *"right 30", "enter",  # a fill, typed
        *"nl", "enter", "enter", "enter", "enter", "pageup",  # a rim, raised
        "escape", "escape", "escape",  # what is held, the floor
        *"n\x15", *"two", "enter",  # a second setup like it
        "enter", *"Bxx", "A", *["right"] * 4,  # without the fill, the key on the camera's side
        "escape", "escape", "enter", "tab", "\x15", *"Without fill", "enter", "escape", "escape", "l",
    ]  # fmt: skip
    assert len(keys) < 150
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, *keys)
        await until(pilot, lambda: isinstance(pilot.app.screen, SetScreen))
    plan = read_day(day)
    assert plan.day.order == ("one", "two")
    one, two = plan.order
    assert [(each.head, each.role) for each in one.lights] == [("A", "key"), ("B", "fill"), ("C", "rim")]
    assert [each.head for each in two.lights] == ["A", "C"]
    assert (one.light["A"].angle_deg, one.light["B"].angle_deg) == (55, 30)
    assert two.light["A"].angle_deg == 35
    assert two.title == "Without fill"
    assert plan.solved == {"one": {"A", "B", "C"}, "two": {"A", "C"}}
    from runbook.day.day_audit import problems_of

    assert [problem for problem in problems_of(plan) if problem.level == "stop"] == []
