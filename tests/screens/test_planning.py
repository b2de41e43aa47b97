"""The planning screen as a person has it: what the keys do, what the lines say, what is on disk."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
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
from runbook.screens.lists import PickList
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.screens.text import UNICODE
from tests.day.days import DEMO, SetClock
from tests.days import change
from tests.screens.screen_text import press, settled, shown, until

pytest.skip("the screen is being rewritten", allow_module_level=True)


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
    return [text.strip() for text, _ in pilot.app.screen.query_one(f"#{name}", PickList).lines]


def picked(pilot: Pilot[int], name: str) -> str:
    pick = pilot.app.screen.query_one(f"#{name}", PickList)
    return pick.lines[pick.cursor][0]


async def to(pilot: Pilot[int], name: str, text: str) -> None:
    """The cursor of a list on the first line that begins so."""
    await press(pilot, "left" if name == "outline" else "right", "home")
    stripped = [line.strip() for line in lines(pilot, name)]
    away = next(n for n, line in enumerate(stripped) if line.startswith(text))
    at = stripped.index(picked(pilot, name).strip())
    await press(pilot, *["down"] * (away - at))
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


@pytest.mark.parametrize(
    ("at", "keys", "seen", "file", "written"),
    [
        (("lamplighter-fog", "frames"), "\n\x15-5\n", "must be at least 0", "lamplighter-fog", None),
        (("lamplighter-fog", "power"), "\n\x151/8+0.5\n", "not on this head's dial", "lamplighter-fog", None),
        (("lamplighter-fog", "stand"), "x", "stand is required; it has no default", "lamplighter-fog", None),
        (("keeper-window", "frames"), "\n\n", "unchanged", "keeper-window", None),
        # a setup like another shows whose its values are
        (("widow-answer", "power"), "", "1/32+0.7 (from widow-letter)", "widow-answer", None),
        (("widow-answer", "power"), "x", "it comes from widow-letter", "widow-answer", None),
        (("widow-answer", "power"), "\n\x151/16\n", "saved", "widow-answer", 'head = "A" power = "1/16"'),
        (("widow-answer", "power"), "\n\x151/16\nx", "(from widow-letter)", "day", None),
        # setups and things are made, copied, moved and deleted
        (("keeper-lamp", None), "nlate\n", "late", "late", 'like = "keeper-lamp"'),
        (("keeper-lamp", None), "nlate\n", "late", "day", '"keeper-lamp", "late",'),
        (("keeper-lamp", None), "nlate\n[", "late", "day", '"late", "keeper-lamp",'),
        (("keeper-lamp", None), "nlate\nx", "late", "late", 'like = "keeper-lamp"'),  # it is asked first
        (("keeper-lamp", None), "nlate\nxx", "late deleted", "late", None),
        (("keeper-lamp", None), "nlate\nxxu", "late", "late", 'like = "keeper-lamp"'),
        (("keeper-lamp", None), "nlate\nu", "undone", "day", None),
        (("keeper-lamp", None), "ccopy\n", "copy", "copy", "shoot_min"),
        (("S1", None), "xx", "S1 is used by ", "kit", None),
        (("S1", "id"), "\n\x15key-stand\n", "saved", "keeper-window", 'stand = "key-stand"'),
        (("BAGS", None), "nB99\n\x1b\x1bd", "nothing was saved", "kit", None),
        # a second light is a draft without what two cannot share: the head D and the stand S2 are asked for
        (("widow-letter", "light A"), "c42", "saved: new light D", "widow-letter", 'head = "D"'),
    ],
)
async def test_keys_on_the_plan(  # noqa: PLR0917 - the rows of a table
    day: Path, at: tuple[str, str | None], keys: str, seen: str, file: str, written: str | None
) -> None:
    thing, field = at
    path = day / f"{file}.toml"
    before = path.read_text("utf-8") if path.exists() else ""
    async with planning(day, thing) as pilot:
        if field is not None:
            await to(pilot, "form", field)
        for key in keys:
            await press(pilot, key)
        assert seen in " ".join(shown(pilot).split())
        after = path.read_text("utf-8") if path.exists() else ""
        assert (after == before) == (written is None)
        assert written is None or written in " ".join(after.split())


async def test_a_day_in_pounds_shows_them(day: Path) -> None:
    change(day, "day.toml", '"metric"', '"imperial"')
    async with planning(day, "S1") as pilot:
        await to(pilot, "form", "mass")
        assert picked(pilot, "form").split() == ["mass", "6.8", "lb"]
        await press(pilot, "enter")
        await typed(pilot, "7")
        await until(pilot, lambda: "= 7 lb (3.2 kg)" in text_of(pilot, "hint"))
        await press(pilot, "enter")
        assert read_day(day).kit.stand["S1"].mass_kg == 3.175


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


@pytest.mark.parametrize(
    ("size", "whole"), [((1, 1), False), ((20, 5), False), ((44, 20), False), ((80, 24), True), ((140, 45), True)]
)
async def test_every_size_of_window_can_be_edited_in(day: Path, size: tuple[int, int], whole: bool) -> None:
    async with app_of(day).run_test(size=size) as pilot:
        await press(pilot, "l")
        assert pilot.app.screen.query_one("#form").display == whole  # a narrow window shows the list or the form
        await press(pilot, "right")
        assert pilot.app.screen.query_one("#outline").display == whole
        await press(pilot, "down", "enter")
        await enter(pilot, "Other words")
        assert 'title = "Other words"' in (day / "keeper-window.toml").read_text("utf-8")


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
