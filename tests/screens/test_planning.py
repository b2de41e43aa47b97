"""The planning screen as a person has it: what the keys do, what the lines say, what is on disk."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.journal.events import DayOpened
from runbook.journal.journal import Journal
from runbook.light.prediction import predict
from runbook.model.kit import Measured
from runbook.screens.app import RunbookApp
from runbook.screens.base import Choose, EnterText
from runbook.screens.lists import CursorList
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.screens.text import UNICODE
from tests.day.days import DEMO, SetClock
from tests.screens.screen_text import press, settled, until


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "day"))


def app_of(day: Path) -> RunbookApp:
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo")
    return RunbookApp(Session(read_day(day), journal, "photo", clock, day), clock, UNICODE)


def text_of(pilot: Pilot[int], name: str = "message") -> str:
    screens = (screen for screen in reversed(pilot.app.screen_stack) if screen.query(f"#{name}"))
    return str(next(screens).query_one(f"#{name}").render())


def lines(pilot: Pilot[int], name: str) -> list[str]:
    return [text.strip() for text, _ in pilot.app.screen.query_one(f"#{name}", CursorList).lines]


def picked(pilot: Pilot[int], name: str) -> str:
    pick = pilot.app.screen.query_one(f"#{name}", CursorList)
    return pick.lines[pick.cursor][0]


async def to(pilot: Pilot[int], name: str, text: str) -> None:
    """The cursor of a list on the first line that begins so."""
    await press(pilot, "left" if name == "outline" else "right", "home")
    stripped = [line.strip() for line in lines(pilot, name)]
    away = next(n for n, line in enumerate(stripped) if line.startswith(text))
    at = stripped.index(picked(pilot, name).strip())
    pages, rest = divmod(away - at, 10)
    await press(pilot, *["pagedown"] * pages, *["down"] * rest)
    assert picked(pilot, name).strip().startswith(text)


async def typed(pilot: Pilot[int], text: str) -> None:
    line = pilot.app.screen.query_one(Input)
    line.value = text
    await settled(pilot)


async def opened(pilot: Pilot[int], thing: str) -> None:
    await press(pilot, "l")
    assert isinstance(pilot.app.screen, PlanningScreen)
    await to(pilot, "outline", thing)


@asynccontextmanager
async def planning(day: Path, thing: str) -> AsyncIterator[Pilot[int]]:
    """The screen of the plan, with a thing of it picked."""
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await opened(pilot, thing)
        yield pilot


async def test_the_outline_holds_the_day_the_setups_and_the_kit(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "l")
        outline = [line.strip() for line in lines(pilot, "outline")]
        for name in ("SETUPS", "keeper-window", "the day", "CREW", "HEADS", "S1", "voile", "camera"):
            assert name in outline
        shown = pilot.app.screen
        assert shown.query_one("#keys").region.bottom == 24
        await press(pilot, "l")
        assert isinstance(pilot.app.screen, SetScreen)


async def test_a_distance_is_typed_in_feet_and_judged_as_it_is_typed(day: Path) -> None:
    path = day / "keeper-window.toml"
    before = path.read_text("utf-8")
    async with planning(day, "keeper-window") as pilot:
        await to(pilot, "form", "light A")
        for _ in range(7):
            await press(pilot, "down")
        assert picked(pilot, "form").split() == ["distance", "1.4", "m"]
        at_first = text_of(pilot, "figures")
        assert "A reads f/4" in at_first and "S1 ok: lean" in at_first
        await press(pilot, "enter")
        await typed(pilot, "0.2 m")
        await until(pilot, lambda: "cannot reach" in text_of(pilot, "hint"))
        await typed(pilot, "4 ft furlong")
        await until(pilot, lambda: "is no length; write it like 1.4 m" in text_of(pilot, "hint"))
        await typed(pilot, "6 ft")
        await until(pilot, lambda: "= 1.83 m (6 ft 0 in)" in text_of(pilot, "hint"))
        assert "A reads f/2.8" in text_of(pilot, "hint")
        assert path.read_text("utf-8") == before  # nothing is written before enter
        await press(pilot, "enter")
        assert text_of(pilot).startswith("saved: keeper-window light A distance")
        assert path.read_text("utf-8") == before.replace("= 1.4\n", "= 1.8288\n", 1)
        assert session_of(pilot).plan.setups["keeper-window"].light["A"].distance_m == 1.8288
        await press(pilot, "u")
        assert path.read_text("utf-8") == before
        await press(pilot, "U")
        assert "1.8288" in path.read_text("utf-8")


def session_of(pilot: Pilot[int]) -> Session:
    app = pilot.app
    assert isinstance(app, RunbookApp)
    return app.session


async def enter(pilot: Pilot[int], text: str) -> None:
    """Type over the line that is open, and enter it."""
    await typed(pilot, text)
    await press(pilot, "enter")
    await settled(pilot)


async def test_what_is_wrong_is_not_taken(day: Path) -> None:
    before = (day / "lamplighter-fog.toml").read_bytes()
    async with planning(day, "lamplighter-fog") as pilot:
        await to(pilot, "form", "frames")
        await press(pilot, "enter")
        await enter(pilot, "-5")
        assert "must be at least 0" in text_of(pilot, "hint")
        assert pilot.app.screen.query_one(Input).has_focus
        await press(pilot, "escape")
        await to(pilot, "form", "power")
        await press(pilot, "enter")
        await enter(pilot, "1/8+0.5")
        assert "not on this head's dial" in text_of(pilot, "hint")
        await press(pilot, "escape")
        await to(pilot, "form", "stand")
        await press(pilot, "x")
        assert text_of(pilot) == "stand is required; it has no default"
        assert (day / "lamplighter-fog.toml").read_bytes() == before


async def test_a_setup_like_another_shows_whose_its_values_are(day: Path) -> None:
    async with planning(day, "widow-answer") as pilot:
        await to(pilot, "form", "power")
        assert picked(pilot, "form").split(None, 2)[1:] == ["1/32+0.7", "(from widow-letter)"]
        await press(pilot, "x")
        assert "it comes from widow-letter" in text_of(pilot)
        await press(pilot, "enter")
        await enter(pilot, "1/16")
        assert picked(pilot, "form").split() == ["power", "1/16"]
        own = (day / "widow-answer.toml").read_text("utf-8")
        assert own.endswith('[[light]]\nhead = "A"\npower = "1/16"\n')
        await press(pilot, "x")
        assert "(from widow-letter)" in picked(pilot, "form")


async def test_a_new_stand_is_a_draft_until_it_is_whole(day: Path) -> None:
    before = (day / "kit.toml").read_text("utf-8")
    async with planning(day, "STANDS") as pilot:
        await press(pilot, "n")
        for text in ("S9", "0.5", "3 kg", "9", "3 ft"):
            assert (day / "kit.toml").read_text("utf-8") == before
            await enter(pilot, text)
        assert "1 more to write" in text_of(pilot)
        await enter(pilot, "0.5 m")  # less than the least: what is whole and wrong is reported
        assert "is lower than height_min_m" in text_of(pilot)
        assert (day / "kit.toml").read_text("utf-8") == before
        await to(pilot, "form", "height max")
        await press(pilot, "enter")
        await enter(pilot, "9 ft")
        assert text_of(pilot) == "saved: new stand S9"
        after = (day / "kit.toml").read_text("utf-8")
        written = after[after.index('[[stand]]\nid = "S9"') :].split("\n\n")[0]
        assert after.replace(written + "\n\n", "") == before
        assert read_day(day).kit.stand["S9"].height_max_m == 2.7432
        assert picked(pilot, "outline").strip() == "S9"


async def test_a_draft_can_be_dropped(day: Path) -> None:
    before = (day / "kit.toml").read_bytes()
    async with planning(day, "BAGS") as pilot:
        await press(pilot, "n")
        await enter(pilot, "B99")
        await press(pilot, "escape", "escape", "d")
        assert "nothing was saved" in text_of(pilot)
        assert (day / "kit.toml").read_bytes() == before


async def test_setups_are_made_copied_moved_and_taken_out(day: Path) -> None:
    async with planning(day, "keeper-lamp") as pilot:
        await press(pilot, "n", *"late", "enter")
        assert (day / "late.toml").read_text("utf-8") == 'like = "keeper-lamp"\n'
        assert session_of(pilot).plan.day.order[1:3] == ("keeper-lamp", "late")
        await press(pilot, "left_square_bracket")
        assert session_of(pilot).plan.day.order[1:3] == ("late", "keeper-lamp")
        assert picked(pilot, "outline").strip() == "late"
        await press(pilot, "x")
        assert (day / "late.toml").exists()  # it is asked first
        await press(pilot, "x")
        await settled(pilot)
        assert text_of(pilot) == "late deleted"
        assert not (day / "late.toml").exists()
        await press(pilot, "u")
        assert (day / "late.toml").exists()
        await press(pilot, "u", "u")
        assert read_day(day) == read_day(DEMO)
        await to(pilot, "outline", "keeper-lamp")
        await press(pilot, "c", *"copy", "enter")
        assert (day / "copy.toml").read_bytes() == (day / "keeper-lamp.toml").read_bytes()


async def test_what_is_in_use_says_who_uses_it(day: Path) -> None:
    async with planning(day, "S1") as pilot:
        await press(pilot, "x", "x")
        await settled(pilot)
        assert text_of(pilot).startswith("S1 is used by ")
        await press(pilot, "right", "home", "enter")
        await enter(pilot, "key-stand")
        assert text_of(pilot).startswith("saved")
        assert picked(pilot, "outline").strip() == "key-stand"
        assert read_day(day).setups["keeper-window"].light["A"].stand == "key-stand"


async def test_a_second_light_is_a_draft_without_what_two_cannot_share(day: Path) -> None:
    async with planning(day, "widow-letter") as pilot:
        await to(pilot, "form", "light A")
        await press(pilot, "c", "4")  # asked for the head first: D is the fourth
        await settled(pilot)
        stands = read_day(day).kit.stands
        at = [stand.id for stand in stands].index("S2") + 1
        await press(pilot, str(at))
        await settled(pilot)
        assert text_of(pilot) == "saved: new light D"
        light = read_day(day).setups["widow-letter"].light
        own = {"head": "D", "stand": "S2", "modifier": "bare", "bags": ()}
        # 0.7 on the dial of D is seven tenths
        assert light["D"] == replace(light["A"], **own, power=light["D"].power)
        assert str(light["D"].power) == "1/32+0.7"


async def test_a_day_in_feet_and_pounds_shows_them(day: Path) -> None:
    path = day / "day.toml"
    path.write_text(path.read_text("utf-8").replace('"metric"', '"imperial"'), "utf-8")
    async with planning(day, "S1") as pilot:
        await to(pilot, "form", "mass")
        assert picked(pilot, "form").split() == ["mass", "6.8", "lb"]
        await press(pilot, "enter")
        await typed(pilot, "7")
        await until(pilot, lambda: "= 7 lb (3.2 kg)" in text_of(pilot, "hint"))
        await press(pilot, "enter")
        assert read_day(day).kit.stand["S1"].mass_kg == 3.175
        # a look at a value and enter leave it as it is, to the last digit
        await to(pilot, "form", "height max")
        before = (day / "kit.toml").read_bytes()
        await press(pilot, "enter", "enter")
        assert text_of(pilot) == "unchanged"
        assert (day / "kit.toml").read_bytes() == before


async def test_the_day_goes_on_with_the_plan_as_edited(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "n")  # the first setup is begun
        entries = len(session_of(pilot).entries)
        await opened(pilot, "keeper-window")
        await to(pilot, "form", "power")
        await press(pilot, "enter")
        await enter(pilot, "1/4")
        assert len(session_of(pilot).entries) == entries
        await press(pilot, "escape", "escape")
        assert isinstance(pilot.app.screen, SetScreen)
        assert "1/4" in text_of(pilot, "heads")
        await until(pilot, lambda: len(session_of(pilot).entries) == entries + 1)
        assert isinstance(session_of(pilot).entries[-1].data, DayOpened)


async def test_deleting_the_setup_at_work_is_reported(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "g", "9")
        await settled(pilot)
        assert session_of(pilot).state.at_work == "widow-answer"
        await opened(pilot, "widow-answer")
        await press(pilot, "x", "x")
        await settled(pilot)
        assert "widow-answer was at work and is no longer in the plan" in text_of(pilot)
        await press(pilot, "l", "n")
        await settled(pilot)
        assert session_of(pilot).state.at_work == "keeper-window"
        await press(pilot, "l", "u", "l")
        assert isinstance(pilot.app.screen, SetScreen)


async def test_a_folder_that_cannot_be_read_or_written_is_reported_in_a_line(
    day: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        (day / "broken.toml").write_text("x\n")
        await press(pilot, "l")
        assert isinstance(pilot.app.screen, SetScreen)
        assert "broken.toml:1" in text_of(pilot)
        (day / "broken.toml").unlink()
        await opened(pilot, "keeper-window")

        def refuse(*_args: object, **_more: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(Path, "mkdir", refuse)
        await press(pilot, "right_square_bracket")
        assert "nothing is changed: no space left" in text_of(pilot)
        monkeypatch.undo()
        (day / "day.toml").write_bytes((day / "day.toml").read_bytes() + b"# theirs\n")
        await press(pilot, "right_square_bracket")
        assert "day.toml changed on disk meanwhile" in text_of(pilot)
        await press(pilot, "l", "l", "right_square_bracket")
        assert text_of(pilot).startswith("keeper-window moved")
        assert (day / "day.toml").read_bytes().endswith(b"# theirs\n")


@pytest.mark.parametrize("size", [(1, 1), (20, 5), (40, 12), (80, 24), (140, 45)])
async def test_every_size_of_window_can_be_edited_in(day: Path, size: tuple[int, int]) -> None:
    async with app_of(day).run_test(size=size) as pilot:
        await press(pilot, "l", "right", "down", "enter")
        await settled(pilot)
        await enter(pilot, "Other words")
        assert 'title = "Other words"' in (day / "keeper-window.toml").read_text("utf-8")


async def test_a_narrow_window_shows_the_list_or_the_form(day: Path) -> None:
    async with app_of(day).run_test(size=(44, 20)) as pilot:
        await press(pilot, "l")
        assert not pilot.app.screen.query_one("#form").display
        await press(pilot, "right")
        assert not pilot.app.screen.query_one("#outline").display
        await settled(pilot)
        assert pilot.app.screen.query_one("#form").size.width == 44


async def test_what_setups_like_this_one_would_lose_is_asked_about_before_it_is_written(day: Path) -> None:
    async with app_of(day).run_test(size=(80, 24)) as pilot:
        await press(pilot, "l")
        screen = pilot.app.screen
        assert isinstance(screen, PlanningScreen)
        desk = screen.desk
        desk.pick([thing.title for thing in desk.things].index("keeper-window"))
        paths = [field.path for field in desk.fields]
        screen.on_form, screen.at = True, paths.index(("light", "A", "accessories"))
        screen.repaint()
        before = read_day(day)
        await press(pilot, "x")
        assert isinstance(pilot.app.screen, Choose)
        assert "keeper-lamp loses grid-octa of A" in pilot.app.screen.question
        await press(pilot, "k")
        assert read_day(day) == before
        await press(pilot, "x", "w")
        after = read_day(day)
        assert before.setups["keeper-lamp"].light["A"].accessories == ("grid-octa",)
        assert after.setups["keeper-lamp"].light["A"].accessories == ()
        await press(pilot, "u")
        assert read_day(day) == before
        screen.at = paths.index(("id",))
        screen.repaint()
        await press(pilot, "x")
        assert read_day(day) == before


async def test_a_reading_taken_before_the_day_is_a_row_of_the_kit_and_the_light_follows(day: Path) -> None:
    before = (day / "kit.toml").read_text("utf-8")
    async with planning(day, "keeper-window") as pilot:
        await to(pilot, "form", "light A")
        await press(pilot, "r", *["enter"] * 6)  # the light's head, modifier, accessories, power, distance and ISO
        await typed(pilot, "4 2")
        await until(pilot, lambda: "A reads f/4 +0.2" in text_of(pilot, "hint"))
        assert (day / "kit.toml").read_text("utf-8") == before
        await press(pilot, "enter")
        assert text_of(pilot).startswith("saved: f/4 +0.2 for A through octa-90 + grid-octa at 1/8, 1.4 m")
        assert "A reads f/4 +0.2" in text_of(pilot, "figures")
        plan = session_of(pilot).plan
        row = Measured("A", "1/8", 1.4, 4.287, "octa-90", ("grid-octa",), 100.0)
        assert plan == read_day(day)
        assert plan.kit.measured[1:] == (row,)
        (head,) = (head for head in predict(plan, plan.setups["keeper-window"]).heads if head.head == "A")
        assert head.reads_stops == pytest.approx(4.2, abs=0.001)
        await press(pilot, "u")
        assert (day / "kit.toml").read_text("utf-8") == before


async def test_a_reading_with_two_meanings_is_asked_about_and_a_later_one_takes_its_place(day: Path) -> None:
    async with planning(day, "dish-42") as pilot:
        for text, answer, reads in (("8.3", "2", 8.3), ("8.3", "1", 8.877), ("f/5.6", "", 5.6)):
            await to(pilot, "outline", "dish-42")
            await press(pilot, "r", "2", "enter")
            for value in ("", "1/8+0.3", "2 m", "100"):  # no accessory is on it
                await enter(pilot, value)
            await enter(pilot, text)
            await press(pilot, *answer)
            row = Measured("B", "1/8+0.3", 2.0, reads, "dish-42")
            assert read_day(day).kit.measured[1:] == (row,)
        assert "in place of another" in text_of(pilot)


async def test_accessories_that_do_not_fit_are_not_offered_for_a_reading(day: Path) -> None:
    async with planning(day, "HEADS") as pilot:
        await press(pilot, "r", "1")
        choices = pilot.app.screen
        assert isinstance(choices, Choose)
        places = {text: n for n, (_, text, _) in enumerate(choices.choices)}
        await press(pilot, *["down"] * (places["umbrella-105"] - choices.list.cursor), "enter")
        assert isinstance(pilot.app.screen, EnterText)
        assert pilot.app.screen.question == "power:"  # nothing fits an umbrella
        await enter(pilot, "off")
        await enter(pilot, "2 m")
        await enter(pilot, "100")
        await typed(pilot, "5.6")
        await until(pilot, lambda: "a head that is off reads nothing" in text_of(pilot, "hint"))
        assert read_day(day).kit.measured == session_of(pilot).plan.kit.measured
