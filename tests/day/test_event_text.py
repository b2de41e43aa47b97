"""What happened, in words."""

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.checklist import GATES
from runbook.day.event_text import _TEXTS, check_text, event_text, log_lines
from runbook.day.parse_input import parse_reading
from runbook.journal import events
from runbook.journal.events import KINDS, CheckTicked, Counted, Entry, Rescued, Skipped, kind_of
from runbook.light.stops import meter_text
from tests.day.days import begun

FRAME = events.Frame("a/1.JPG", 1, "", "2026-12-04T10:00:00+01:00", f=8.0, shutter_s=1 / 160)
LATER = "later ones may be missing; the damaged file is"
CHECKS = {
    "exits-free": "Exits and the ways to them free, doors unlocked", "bagged-S1": "S1 bagged",
    "second-fixing-boom": "boom: second fixing on its load, no slack",
    "clear-boom": "Nobody under boom or in its swing", "clear-up-boom": "Nobody under boom as it goes up",
    "light-sensitivity-asked": "Everyone asked about photosensitive epilepsy",
    "light-sensitivity-asked-T2": "T2 asked about photosensitive epilepsy", "what-nobody-knows": "what-nobody-knows",
    "clear-": "clear-",
}  # fmt: skip
LINES = {
    "handover-open-bagged-S1": "open: S1 bagged",
    "handover-switched-on-A": "switched on A",
    "handover-over-a-limit-S1": "over a limit S1",
}


def text_of(data: Any) -> str:
    return event_text(Entry(1, dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC), "photo", kind_of(data), data))


@given(st.integers(-20, 149))
def test_the_text_of_a_reading_can_be_typed(tenths: int) -> None:
    assert parse_reading(meter_text(tenths / 10)) == pytest.approx(tenths / 10)


@pytest.mark.parametrize(("data", "text"), [
    (events.DayOpened("A day", "", ""), "opened: A day"),
    (events.Left(), "left"),
    (events.SetupBegun("one"), "begun: one"),
    (events.SetupBegun(None), "begun: the wrap"),
    (events.StepTicked("one", {"verb": "place", "text": "Place S1"}), "done: Place S1"),
    (events.Reading("one", "B", 5.3, "f/5.6 +0.3", "background"), "read: B f/5.6 +0.3 at the background"),
    (events.Reading("one", None, 4.0, "f/4"), "read: all heads f/4"),
    (events.Frames("one", 12), "frames: +12 on one"),
    (FRAME, "frame: a/1.JPG f/8, 1/160 s"),
    (events.FrameFile(3, "1.NEF", 1, ""), "frame: 1.NEF, of entry 3"),
    (events.FramesPlaced((3, 4), "one"), "frames moved to one: 2"),
    (events.FramesPlaced((3,), None), "frames moved to no setup: 1"),
    (events.CameraClock("M1", 3600.0), "clock of M1: 3600 s ahead"),
    (events.CameraClock("M1", None), "clock of M1: from the frames' arrival"),
    (events.FramesChecked("one", 9), "frames of one checked, up to entry 9"),
    (events.Selected("one", 9, "x.jpg"), "select of one: entry 9"),
    (events.Selected("one", None), "select of one: none"),
    (
        events.Compared("one", "ambient", 3, 4, -4.97, 0.04),
        "by camera, ambient light: entry 4 about 5.0 stops under entry 3, without the 4 % that clip",
    ),
    (events.SetupShot("one"), "shot: one"),
    (events.Changed("one", "head", "height_m", 2.0, 2.1, "A"), "changed: A height 2.0 m to 2.1 m"),
    (Skipped("setup", "rain", "one", "one"), "skipped: one, because: rain"),
    (events.Wind(6.0), "wind: gusts 6.0 m/s, force 4, moderate breeze"),
    (events.HandedOver("Kim"), "handed over to Kim"),
    (events.Resumed("photo"), "taken over from photo"),
    (events.TalentLate("T1", "13:40"), "late: T1, expected at 13:40"),
    (events.BatteryChanged("A"), "battery changed: A"),
    (events.BreakBegun("unplanned", 20, "fire alarm"), "break: unplanned, 20 min, because: fire alarm"),
    (Counted("bag", ("B1", "B2")), "all home: 2 bag"),
    (Counted("bag", ("B1",), ("B2",)), "all home: 1 bag; MISSING B2"),
    (Counted("cloth", (), ("voile",)), "counted: cloth; MISSING voile"),
    (Rescued("o", 0, (1, 2)), f"rescued: 0 entries read, 2 lost, {LATER} o"),
    (Rescued("old", 3), f"rescued: 3 entries read, {LATER} old"),
    (Rescued("old", 1, (2,)), f"rescued: 1 entry read, 1 lost, {LATER} old"),
    (Rescued("old", 4, (), whole=True), "rescued: all 4 entries written again from memory; old is kept"),
])  # fmt: skip
def test_an_entry_in_words(data: Any, text: str) -> None:
    assert text_of(data) == text


def test_a_check_and_a_line_of_the_handover_in_words_by_its_id() -> None:
    for check, text in CHECKS.items():
        assert text_of(CheckTicked(check, "change", "photo")) == f"checked: {text}"
        aside = Skipped("check", "late", id=check, stage="change")
        assert text_of(aside) == f"set aside: {text}, because: late"
    for line, text in LINES.items():
        unheard = Skipped("check", "seen it", id=line, stage="handover")
        assert text_of(unheard) == f"not confirmed: {text}, because: seen it"


def test_every_kind_of_entry_and_every_check_a_day_can_ask_has_words() -> None:
    assert set(KINDS.values()) == _TEXTS.keys()
    for gate in GATES:
        assert check_text(gate.id.format(stand="S1")) != gate.id.format(stand="S1")


def test_the_log_marks_what_was_undone() -> None:
    session = begun()
    session.note("rain")
    for act in (session.undo, session.redo, session.undo):
        act()
    assert [(line.entry.n, line.text, line.undone) for line in session.view.log_lines] == [
        (1, "note: rain", True),
        (2, "undone: entry 1, note: rain", False),
        (3, "redone: entry 1, note: rain", False),
        (4, "undone: entry 1, note: rain", False),
    ]
    (line,) = log_lines([entry for entry in session.entries if entry.n == 2])
    assert line.text == "undone: entry 1"  # which is not there
