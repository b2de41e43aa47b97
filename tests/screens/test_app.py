"""The app round the screens: keys, questions, trouble with the journal, what people type."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len
from textual import constants
from textual.binding import Binding
from textual.widgets._footer import FooterKey

from runbook.day.actions import Session
from runbook.journal.errors import JournalError, Kind
from runbook.journal.events import Entry
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from runbook.screens.app import RunbookApp
from runbook.screens.base import DayScreen, key_page
from runbook.screens.far import FarScreen
from runbook.screens.handover import HandoverScreen
from runbook.screens.hours import HoursScreen
from runbook.screens.journal import JournalScreen
from runbook.screens.kit_count import KitCountScreen
from runbook.screens.lists import RowList
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.screens.stands import StandsScreen
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day.days import begun, demo, make_ready, unwritable
from tests.played import copied
from tests.screens.screen_text import app_of, line_with, on_disk, opened, press, resize, screen_lines, shown, until

SCREEN_KEYS: dict[type[DayScreen], str] = {
    SetScreen: "s", StandsScreen: "t", JournalScreen: "j", HoursScreen: "h", FarScreen: "z", PlanningScreen: "l",
    HandoverScreen: "y", KitCountScreen: "e",
}  # fmt: skip
ALL_SCREENS = list(SCREEN_KEYS)
SCREENS = {key: screen for screen, key in SCREEN_KEYS.items()}
NASTY = "[bold]x[/ [red] 🎩👩‍🦰 \u202e שלום \x1b[31m\x07\t日本 [/]"


class Failing(Journal):
    """A journal on disk that cannot be written for a while."""

    trouble: Kind | None = None

    def append_all(self, data: Sequence[Any], who: str | None = None) -> tuple[Entry, ...]:
        if self.trouble is not None:
            raise JournalError(self.trouble, "journal.runlog could not be written", "free space")
        return super().append_all(data, who)


async def test_every_screen_is_one_key_away_from_every_other() -> None:
    async with app_of().run_test(size=(80, 24)) as pilot:
        # each pair of neighbours once; z pressed again goes back
        for key in "tjtzjzsztsjthjhzhszs":
            await press(pilot, key)
            assert type(pilot.app.screen) is SCREENS[key]
            assert len(pilot.app.screen_stack) <= 3


def bound_letters(screen: type) -> set[str]:
    """Every letter that a screen or the app binds."""
    bindings = [
        binding
        for cls in (*screen.__mro__, *RunbookApp.__mro__)
        for binding in cls.__dict__.get("BINDINGS", ())
        if isinstance(binding, Binding)
    ]
    keys = {key.strip() for binding in bindings for key in binding.key.split(",")}
    return {key for key in keys if len(key) == 1 and key.isalpha()}


@pytest.mark.parametrize("screen", ALL_SCREENS)
async def test_every_key_bound_is_on_the_page_of_keys_and_a_few_are_in_the_footer(screen, tmp_path):
    folder = copied(tmp_path / "day")
    session = on_disk(folder)
    session.folder = folder
    session.begin("keeper-window")
    async with opened(SCREEN_KEYS[screen], session=session) as (pilot, _):
        on_page = {word for text, _ in key_page(pilot.app.screen, 40) for word in text[:11].split()}
        assert bound_letters(screen) - {"l"} <= on_page
        commands = list(pilot.app.get_system_commands(pilot.app.screen))
        assert all(command.title and command.help for command in commands)
        assert {"undo  (u)", "leave  (q)", "theme  (T)"} <= {command.title for command in commands}
        assert isinstance(pilot.app.screen, screen)
        await until(pilot, lambda: "? keys" in screen_lines(pilot.app)[-1])
        assert len(pilot.app.screen.query(FooterKey)) <= 7
        assert cell_len(screen_lines(pilot.app)[-1]) <= 76
    session.journal.close()


async def test_a_command_of_the_palette_does_what_its_key_does() -> None:
    async with opened(begin="keeper-window") as (pilot, session):
        await press(pilot, "ctrl+p")
        await press(pilot, *"done")
        await until(pilot, lambda: "done" in shown(pilot))
        await pilot.pause(0.3)
        await press(pilot, "down", "enter", "enter")
        await until(pilot, lambda: set(session.state.checks) == {"exits-free"})


@pytest.mark.parametrize("colours", ["truecolor", "standard"])
async def test_the_theme_changes_with_one_key_and_is_kept(
    _settings: Path, monkeypatch: pytest.MonkeyPatch, colours: str
) -> None:
    monkeypatch.setattr(constants, "COLOR_SYSTEM", colours)
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        assert pilot.app.theme == "dark"
        # few colours have none near the cursor's: it is in reverse
        steps = pilot.app.screen.query_one(RowList)
        assert bool((style := steps.render_line(0)._segments[0].style) and style.reverse) == (colours == "standard")
        await press(pilot, "T")
        assert pilot.app.theme == "lit room"
    async with app_of().run_test(size=(80, 24)) as pilot:
        assert pilot.app.theme == "lit room"


async def test_a_message_lies_over_the_screen_until_the_next_action() -> None:
    session = begun()
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "m")
        message = pilot.app.message  # type: ignore[attr-defined]
        assert message and line_with(pilot, message[:20]).endswith(message[-10:])
        await press(pilot, "space")
        assert not any(message in line for line in screen_lines(pilot.app))


async def test_the_palette_opens_over_no_question() -> None:
    async with opened("ctrl+q", "ctrl+p", "escape") as (pilot, _):
        assert isinstance(pilot.app.screen, SetScreen)
        await press(pilot, "ctrl+p", "ctrl+q", "ctrl+p", "escape", "escape", "escape")
        await until(pilot, lambda: isinstance(pilot.app.screen, SetScreen))
        await resize(pilot, 30, 2)
        await press(pilot, "ctrl+p", "x", "escape", "ctrl+p", "down", "pagedown", "pageup", "escape", "escape")
        await until(pilot, lambda: isinstance(pilot.app.screen, SetScreen))


async def test_every_screen_and_every_question_fits_any_window() -> None:
    async with opened(begin="keeper-window") as (pilot, session):
        for keys in (*"stjzye", "h", "sd", "sg", "\x1bwhalf a", "\x1b?"):
            await press(pilot, *keys)
            screen = pilot.app.screen
            for size in [(20, 5), (1, 1), (140, 45)]:
                await resize(pilot, *size)
                shown(pilot)  # no line is longer than the window is wide
                assert pilot.app.screen is screen
            if keys.endswith("a"):
                await press(pilot, *" note\n")
                assert session.entries[-1].data.text == "half a note"


async def test_a_click_on_a_key_of_the_footer_presses_it() -> None:
    async with opened(begin="keeper-window") as (pilot, session):
        (done,) = [key for key in pilot.app.screen.query(FooterKey) if key.key == "space"]
        await pilot.click(done)
        await until(pilot, lambda: set(session.state.checks) == {"exits-free"})


async def test_nothing_but_going_back_is_heard_under_the_page_of_keys() -> None:
    async with app_of(glyphs=ASCII).run_test(size=(80, 24)) as pilot:
        for back in ("escape", "q", "enter", "?"):
            await press(pilot, "?", "x", "s")
            assert "EVERYWHERE" in shown(pilot)
            await press(pilot, back)
            assert "EVERYWHERE" not in shown(pilot)
            assert type(pilot.app.screen) is SetScreen


@pytest.mark.parametrize(("size", "pages"), [((42, 12), 60), ((140, 45), 0)])
async def test_every_key_can_be_read(size: tuple[int, int], pages: int) -> None:
    async with app_of().run_test(size=size) as pilot:
        await press(pilot, "question_mark")
        assert "THE SET" in shown(pilot)
        seen, screen = shown(pilot), pilot.app.screen_stack[-2]
        for _ in range(pages):
            await press(pilot, *["down"] * 3)
            seen += shown(pilot)
        read = set(seen.split())
        assert {word for text, _ in key_page(screen, min(size[0] - 5, 110)) for word in text.split()} <= read
        await press(pilot, "home")
        assert "THE SET" in shown(pilot)


def nasty_plan() -> Plan:
    plan = demo()
    setups = {key: replace(one, title=f"{NASTY} {key}") for key, one in plan.setups.items()}
    crew = tuple(replace(member, name=NASTY) for member in plan.day.crew)
    breaks = tuple(replace(each, name=NASTY) for each in plan.day.breaks)
    day = replace(plan.day, name=NASTY, crew=crew, breaks=breaks)
    return replace(plan, day=day, setups=setups)


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_what_people_write_breaks_nothing(glyphs: Glyphs) -> None:
    session = begun(nasty_plan())
    make_ready(session, "keeper-window")
    session.note(NASTY)
    session.set_check_aside(session.view.checks[-1][0], NASTY)
    session.begin("widow-answer")
    session.skip_step(session.view.todo[0], NASTY)
    async with app_of(session, glyphs).run_test(size=(80, 24)) as pilot:
        assert "[bold]x[/ [red]" in shown(pilot)
        for keys in (*"stjzs", "g", "\x1bn", "\x1bb", "\x1bi1k1[/] no\nuUw[b]\nj"):
            await press(pilot, *keys)
            text = shown(pilot)
            assert not set("\x1b\x07\u202e") & set(text)
            assert text.isascii() or not glyphs.ascii
        assert "note: [b]" in text


@pytest.mark.parametrize("kind", ["full", "gone", "read-only"])
async def test_what_cannot_be_written_is_asked_about_and_not_shown_as_done(kind: Kind, tmp_path: Path) -> None:
    session = on_disk(tmp_path, kind=Failing)
    journal = session.journal
    assert isinstance(journal, Failing)
    session.begin("keeper-window")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        before = screen_lines(pilot.app)[5:9]
        journal.trouble = kind
        await press(pilot, "space")
        text = shown(pilot)
        assert "NOT RECORDED: journal.runlog could not be written. free space." in text
        for choice in ("try again", "go on without a record on disk", "quit"):
            assert choice in text
        await press(pilot, "a")
        assert "NOT RECORDED" in shown(pilot)
        await press(pilot, "escape")
        assert "not recorded, so not done: journal.runlog could not be written" in shown(pilot)
        assert screen_lines(pilot.app)[5:9] == before
        assert session.state.checks == {}
        await press(pilot, "u", "escape")
        assert session.state.begun
        journal.trouble = None
        await press(pilot, "space")
        assert set(session.state.checks) == {"exits-free"}
        journal.trouble = kind
        with unwritable(tmp_path / "journal.runlog"):
            await press(pilot, "space", "w")
            assert set(session.state.checks) == {"exits-free", "first-aid-known"}
            assert screen_lines(pilot.app)[1].startswith("NOT RECORDED ON DISK")
            await press(pilot, "c", "c")  # another message comes; the warning stays
            assert screen_lines(pilot.app)[1].startswith("NOT RECORDED ON DISK")
    seen = Journal.read(tmp_path / "journal.runlog").entries
    assert [entry.kind for entry in seen] == ["setup-begun", "check-ticked"]


async def test_try_again_does_what_was_asked_and_stop_stops(tmp_path: Path) -> None:
    session = on_disk(tmp_path, kind=Failing)
    journal = session.journal
    assert isinstance(journal, Failing)
    session.begin("keeper-window")
    app = app_of(session)
    async with app.run_test(size=(80, 24)) as pilot:
        journal.trouble = "full"
        await press(pilot, "f", *"12", "enter")
        journal.trouble = None
        await press(pilot, "a")
        assert session.state.frames == {"keeper-window": 12}
        journal.trouble = "full"
        await press(pilot, "u")
        assert "NOT RECORDED" in shown(pilot)
        journal.trouble = None
        await press(pilot, "a")
        assert session.state.frames == {}
        journal.trouble = "full"
        await press(pilot, "space", "x")
    assert app.return_code == 1
    journal.close()


async def test_leaving_asks_and_only_yes_leaves() -> None:
    session = begun()
    app = app_of(session)
    async with app.run_test(size=(80, 24)) as pilot:
        for stay in ("n", "escape"):
            await press(pilot, "q")
            assert "Leave the day? It stays on this step." in shown(pilot)
            await press(pilot, stay)
            assert "Leave the day?" not in shown(pilot)
        assert app.is_running
        await press(pilot, "w", "ctrl+q")
        assert "Leave the day?" in shown(pilot)
        await press(pilot, "y")
    assert app.return_code == 0
    assert [entry.kind for entry in session.entries] == ["left"]


async def test_leaving_reports_what_was_never_written_and_writes_it_where_it_can(tmp_path: Path) -> None:
    session, path = on_disk(tmp_path), tmp_path / "journal.runlog"
    session.note("written")
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        for keys in ("qn", "wheard\n"):  # once there is room again, either writes everything
            session.keep_in_memory()
            with unwritable(path):
                await press(pilot, "q")
                assert "Leave the day? It stays on this step." in shown(pilot)
                await press(pilot, *"nwunheard\n")
                assert screen_lines(pilot.app)[1].startswith("NOT RECORDED ON DISK")
                await press(pilot, "q")
                assert "Leave? 1 entry is not written and would be lost." in shown(pilot)
                await press(pilot, *"nuq")
                assert "Leave the day? It stays on this step." in shown(pilot)
                await press(pilot, *"nU")
            await press(pilot, *keys)
            assert "everything is recorded on disk again" in shown(pilot)
            assert not screen_lines(pilot.app)[1].startswith("NOT RECORDED")
            assert list(Journal.read(path).entries) == session.entries


@pytest.mark.forecast
async def test_a_forecast_that_fails_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError("no crew")

    monkeypatch.setattr(Session, "work_out", fails)
    async with app_of().run_test(size=(80, 24)) as pilot:
        why = "the end of the day cannot be calculated: no crew"
        await until(pilot, lambda: why in shown(pilot))


@pytest.mark.forecast
async def test_keys_work_while_the_forecast_is_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    from threading import Event

    begun_it, going_on = Event(), Event()

    def slow(*_: object) -> None:
        begun_it.set()
        going_on.wait(30)

    monkeypatch.setattr(Session, "work_out", slow)
    async with opened() as (pilot, session):
        await until(pilot, begun_it.is_set)
        await press(pilot, "n", "space")
        assert set(session.state.checks) == {"exits-free"}
        going_on.set()


async def test_arrows_and_enter_choose_and_stop_at_the_ends() -> None:
    async with opened("g", "up", *["down"] * 20, "up", "enter") as (_pilot, session):
        assert session.state.at_work == "widow-answer"
