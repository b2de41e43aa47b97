"""What happened, in words."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.journal.entries import Entry, Left, Rescued
from runbook.session.said import log_lines, reading_said, said_of
from runbook.session.typed import read_reading
from tests.session.days import begun, do_next


@pytest.mark.parametrize(
    ("stops", "said"),
    [(5.0, "f/5.6"), (5.3, "f/5.6 +0.3"), (5.97, "f/8"), (4.96, "f/5.6"), (0.0, "f/1"),
     (14.5, "f/128 +0.5"), (-2.0, "f/0.5"), (-2.4, "f/0.5 -0.4")],
)  # fmt: skip
def test_a_reading_is_said_as_a_meter_shows_it(stops: float, said: str) -> None:
    assert reading_said(stops) == said


@given(st.integers(-20, 149))
def test_what_is_said_of_a_reading_can_be_typed(tenths: int) -> None:
    assert read_reading(reading_said(tenths / 10)) == pytest.approx(tenths / 10)


def test_what_needs_no_words_of_its_own_is_said_by_its_kind() -> None:
    at = dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC)
    assert said_of(Entry(1, at, "photo", "left", Left())) == "left"
    assert said_of(Entry(1, at, "photo", "rescued", Rescued("old", 3))) == "rescued"


def test_the_log_says_what_was_taken_back_and_marks_it() -> None:
    session = begun()
    session.begin("keeper-window")
    do_next(session)
    session.frames(12)
    session.undo()
    session.redo()
    session.undo()
    session.set_check_aside(session.checks[-1][0], "no steps needed")
    told = [(line.text, line.undone) for line in session.log_lines]
    assert told == [
        ("begun: keeper-window", False),
        ("checked: Exits and the ways to them free, doors unlocked", False),
        ("checked: First aider named; kit and extinguisher seen; address on the wall", False),
        ("done: S1 out to camera-left 45°, 1.4 m", False),
        ("frames: +12 on keeper-window", True),
        ("undone: entry 5, frames: +12 on keeper-window", False),
        ("brought back: entry 5, frames: +12 on keeper-window", False),
        ("undone: entry 5, frames: +12 on keeper-window", False),
        ("set aside: Steps or a platform there for whatever is out of reach, because: no steps"
         " needed", False),
    ]  # fmt: skip
    assert [line.entry.n for line in session.log_lines] == list(range(1, 10))


def test_an_undoing_of_nothing_known_is_still_said() -> None:
    session = begun()
    session.note("x")
    session.undo()
    (line,) = log_lines(session.entries[1:])
    assert line.text == "undone: entry 1"
