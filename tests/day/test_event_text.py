"""What happened, in words."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.checklist import GATES
from runbook.day.event_text import _TEXTS, check_text, event_text, log_lines
from runbook.day.parse_input import parse_reading
from runbook.journal.events import (
    KINDS,
    CheckTicked,
    Counted,
    Entry,
    HandedOver,
    Left,
    Rescued,
    Resumed,
    Skipped,
    Wind,
    kind_of,
)
from runbook.light.stops import meter_text
from tests.day.days import begun, do_next


@given(st.integers(-20, 149))
def test_the_text_of_a_reading_can_be_typed(tenths: int) -> None:
    assert parse_reading(meter_text(tenths / 10)) == pytest.approx(tenths / 10)


def test_every_kind_of_entry_has_words() -> None:
    at = dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC)
    assert event_text(Entry(1, at, "photo", "left", Left())) == "left"
    later = "later ones may be missing; the damaged file is"
    for rescued, words in (
        (Rescued("o", 0, (1, 2)), f"0 entries read, 2 lost, {later} o"),
        (Rescued("old", 3), f"3 entries read, {later} old"),
        (Rescued("old", 1, (2,)), f"1 entry read, 1 lost, {later} old"),
        (Rescued("old", 4, (), whole=True), "all 4 entries written again from memory; old is kept"),
    ):
        assert event_text(Entry(3, at, "photo", "rescued", rescued)) == f"rescued: {words}"
    for data, words in (
        (Wind(6.0), "wind: gusts 6.0 m/s, force 4, moderate breeze"),
        (HandedOver("Kim"), "handed over to Kim"),
        (Resumed("photo"), "taken over from photo"),
        (Wind(6.0), "wind: gusts 6.0 m/s, force 4, moderate breeze"),
        (Counted("bag", ("B1", "B2")), "counted home: 2 bag"),
        (Counted("bag", ("B1",), ("B2",)), "counted home: 1 bag; MISSING B2"),
        (Counted("cloth", (), ("voile",)), "counted: cloth; MISSING voile"),
    ):
        assert event_text(Entry(1, at, "photo", kind_of(data), data)) == words


def test_no_kind_of_entry_is_without_words() -> None:
    assert set(KINDS.values()) == _TEXTS.keys()


def test_the_log_marks_what_was_undone() -> None:
    session = begun()
    session.begin("keeper-window")
    do_next(session)
    session.frames(12)
    session.undo()
    session.redo()
    session.undo()
    session.set_check_aside(session.view.checks[-1][0], "no steps needed")
    told = [(line.text, line.undone) for line in session.view.log_lines]
    assert told == [
        ("begun: keeper-window", False),
        ("checked: Exits and the ways to them free, doors unlocked", False),
        ("checked: First aider named; kit and extinguisher found; address on the wall", False),
        ("done: Place S1 at camera-left 45°, column 1.74 m from the mark (tape 1.4 m)", False),
        ("frames: +12 on keeper-window", True),
        ("undone: entry 5, frames: +12 on keeper-window", False),
        ("brought back: entry 5, frames: +12 on keeper-window", False),
        ("undone: entry 5, frames: +12 on keeper-window", False),
        ("set aside: Steps or a platform there for whatever is out of reach, because: no steps"
         " needed", False),
    ]  # fmt: skip
    assert [line.entry.n for line in session.view.log_lines] == list(range(1, 10))


@pytest.mark.parametrize(
    ("check", "said"),
    [("exits-free", "Exits and the ways to them free, doors unlocked"),
     ("bagged-S1", "S1 bagged"),
     ("second-fixing-boom", "boom: second fixing on the head, no slack"),
     ("clear-boom", "Nobody under boom or in its swing"),
     ("clear-up-boom", "Nobody under boom as it goes up"),
     ("light-sensitivity-asked", "Everyone asked about photosensitive epilepsy"),
     ("light-sensitivity-asked-T2", "T2 asked about photosensitive epilepsy"),
     ("what-nobody-knows", "what-nobody-knows"), ("clear-", "clear-")],
)  # fmt: skip
def test_the_text_of_a_check(check: str, said: str) -> None:
    assert check_text(check) == said
    at = dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC)
    ticked = CheckTicked(check, "change", "photo")
    assert event_text(Entry(1, at, "photo", "check-ticked", ticked)) == f"checked: {said}"
    aside = Skipped("check", "late", id=check, stage="change")
    told = f"set aside: {said}, because: late"
    assert event_text(Entry(1, at, "photo", "skipped", aside)) == told


def test_every_check_a_day_can_ask_has_words() -> None:
    for gate in GATES:
        assert check_text(gate.id.format(stand="S1")) != gate.id.format(stand="S1")


@pytest.mark.parametrize(
    ("line", "said"),
    [("handover-open-bagged-S1", "open: S1 bagged"),
     ("handover-armed-A", "armed A"),
     ("handover-over-a-limit-S1", "over a limit S1")],
)  # fmt: skip
def test_the_text_of_a_skipped_handover_line(line: str, said: str) -> None:
    at = dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC)
    passed = Skipped("check", "seen it", id=line, stage="handover")
    told = f"not repeated: {said}, because: seen it"
    assert event_text(Entry(1, at, "Kim", "skipped", passed)) == told


def test_a_reading_away_from_the_face_names_its_place() -> None:
    session = begun()
    session.begin("keeper-window")
    session.reading("A", 4.0)
    session.reading("B", 5.3)
    told = [line.text for line in session.view.log_lines[-2:]]
    assert told == ["read: A f/4", "read: B f/5.6 +0.3 at the background"]
    assert session.view.as_shot_lines == (
        "keeper-window: A read f/4",
        "keeper-window: B read f/5.6 +0.3 at the background",
    )


def test_an_undo_of_an_unknown_entry_has_a_text() -> None:
    session = begun()
    session.note("x")
    session.undo()
    (line,) = log_lines(session.entries[1:])
    assert line.text == "undone: entry 1"
