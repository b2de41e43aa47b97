"""The far screen: what is read from four metres."""

import string
from collections.abc import Callable
from itertools import groupby
from pathlib import Path

import pytest
from rich.text import Text

from runbook.day.actions import Session
from runbook.screens.far import FarScreen, big_rows, letters_that_fit
from runbook.screens.text import ASCII, UNICODE, Glyphs, wrap_words
from tests.day.days import begun, do_next, do_until, make_ready, short, skipping
from tests.screens.screen_text import app_of, on_disk, opened, paint, press, screen_lines, shown, until
from tests.screens.test_set import held_to


def in_letters(text: str, lines: list[str], width: int = 80) -> bool:
    """Whether lines of the screen begin with these words in big letters, of any size."""
    return any(
        all(
            any(line.startswith(row.rstrip()) for line in lines if row.strip())
            for part in wrap_words(text, letters_that_fit(width, size))
            for row in big_rows(part, UNICODE, size)
            if row.strip()
        )
        for size in (1, 2, 3)
    )


@pytest.mark.forecast
async def test_golden(tmp_path: Path) -> None:
    session = on_disk(tmp_path)
    session.begin("keeper-window")
    do_until(session, "power", "head", "A")
    session.work_out()
    async with app_of(session).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "ends about" in shown(pilot))
        await press(pilot, "z")
        held_to("far-power-80x24", shown(pilot))
    session.journal.close()


async def test_every_step_and_check_of_the_day_is_in_big_letters_at_80_columns() -> None:
    session = begun()
    seen = 0
    async with opened("z", session=session) as (pilot, _):
        assert in_letters("NOT BEGUN", screen_lines(pilot.app))
        for setup_id in ("keeper-lamp", None):
            session.begin(setup_id)
            while session.view.next_step is not None:
                await paint(pilot)
                first = _words(session)
                assert in_letters(first, screen_lines(pilot.app)), first
                do_next(session)
                seen += 1
    assert seen > 40


def _words(session: Session) -> str:
    """The first words of what is to be done now."""
    line = session.view.next_step
    assert line is not None
    if line.state == "held":
        return "CHECK:"
    if line.step.verb == "power":  # shown as the head and its new power
        return line.step.item
    return line.step.text.split(", ")[0].split(" ")[0].rstrip(":")


async def test_space_does_what_it_shows_one_by_one() -> None:
    async with opened(*"z   ", plan=short("widow-letter"), begin="widow-letter") as (pilot, session):
        assert set(session.state.checks) == {"exits-free", "first-aid-known"}
        assert [line.step.verb for line in session.view.lines if line.state == "done"] == ["place"]
        await press(pilot, "u")
        assert session.state.done == ()
        await press(pilot, "z")
        assert not isinstance(pilot.app.screen, FarScreen)


def ready(session: Session) -> None:
    make_ready(session, "keeper-lamp")


def on_a_break(session: Session) -> None:
    ready(session)
    session.pause("meal")


def stand_in_hands(session: Session) -> None:
    make_ready(session, "captain-deck")
    session.begin("captain-chart")
    do_until(session, "move", "stand", "S2")


def not_safe(session: Session) -> None:
    session.begin("keeper-window")
    skipping(session, ("bag", "bag", "B1"))


@pytest.mark.parametrize(("play", "words"), [
    (ready, ("READY", "A 1/32+0.7", "B 1/64", "C 1/64+0.7", "D 1/128")),
    (on_a_break, ("ON A BREAK",)),
    (stand_in_hands, ("HOLD S2",)),
    (not_safe, ("S1 NOT SAFE",)),
])  # fmt: skip
async def test_the_state_of_the_set_is_in_big_letters(play: Callable[[Session], None], words: tuple[str, ...]) -> None:
    session = begun()
    play(session)
    async with opened("z", session=session, size=(140, 45)) as (pilot, _):
        lines = screen_lines(pilot.app)
        assert all(in_letters(word, lines, 140) for word in words)
        assert in_letters("READY", lines, 140) == (play is ready)  # never where it is not


def letter_rows(painted: Text) -> tuple[list[list[str]], str]:
    """The rows of big letters, a list for each line of them, and the plain words below."""
    message = painted.plain.split("\n")
    plain = [line for line in message if any(char.isalnum() for char in line)]
    assert message[len(message) - len(plain) :] == plain
    rows = message[: len(message) - len(plain)]
    lines = [list(group) for gap, group in groupby(rows, key=lambda row: row == "") if not gap]
    return lines, " ".join(plain)


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_no_letter_is_cut_and_what_big_letters_leave_out_is_below(glyphs: Glyphs) -> None:
    session = begun()
    whole_lines, cut_short = {len(big_rows("A", glyphs, size)) for size in (1, 2, 3)}, 0
    async with app_of(session, glyphs).run_test(size=(80, 24)) as pilot:
        await press(pilot, "z")
        far = pilot.app.screen
        assert isinstance(far, FarScreen)
        for setup_id in ("keeper-lamp", None):
            session.begin(setup_id)
            while session.view.next_step is not None:
                whole = glyphs.shown(", ".join(far._words()[0]))
                for width, height in ((80, 21), (60, 15), (140, 42), (80, 9), (40, 7), (23, 9)):
                    lines, plain = letter_rows(far._painted(width, height))
                    assert {len(line) for line in lines} <= whole_lines
                    assert sum(map(len, lines)) + max(len(lines) - 1, 0) <= height
                    cut_short += bool(lines and plain)
                    if (width, height) in ((80, 21), (140, 42)) and plain:
                        assert plain == whole
                do_next(session)
    assert cut_short > 20


def test_a_letter_is_seven_rows_of_five() -> None:
    assert big_rows("1", ASCII) == ["  #  ", " ##  ", "  #  ", "  #  ", "  #  ", "  #  ", " ### "]
    assert big_rows("1", UNICODE) == [" ▄█  ", "  █  ", "  █  ", " ▀▀▀ "]


def test_every_letter_and_sign_of_a_power_has_a_face_of_its_own() -> None:
    faces = {char: tuple(big_rows(char, ASCII)) for char in string.ascii_uppercase + "0123456789/+-.°"}
    assert len(set(faces.values())) == len(faces)
    assert all(faces[char] != tuple(big_rows("?", ASCII)) for char in faces)
