"""The clock of a shoot day and its timeline."""

from __future__ import annotations

from datetime import timedelta

import pytest

from runbook.clock.timetable import wrap_at
from runbook.day.hours_text import ending_text, minutes_text
from runbook.day.timeline import timeline_of
from tests.day.days import SetClock, begun, demo, do_next, short


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (59, "59 min"), (60, "1 h"), (61, "1 h 01"), (198, "3 h 18"), (600, "10 h")]
)
def test_a_span_of_time(minutes: int, said: str) -> None:
    assert minutes_text(minutes) == said


@pytest.mark.parametrize(
    ("late", "said"),
    [
        (-40, "ends about 17:20, 40 min to spare"),
        (0, "ends about 18:00, on time"),
        (5, "ends about 18:05, 5 min over"),
        (390, "ends about 00:30, 6 h 30 over"),
    ],
)
def test_the_end_against_the_wrap(late: int, said: str) -> None:
    wrap = SetClock(18).now
    assert ending_text(wrap + timedelta(minutes=late), wrap) == said


@pytest.mark.parametrize(("hours", "days"), [(8, 0), (5, 0), (3, -1), (23, 0), (24.5, 0), (27, 0), (32, 1)])
def test_a_night_that_runs_long_belongs_to_its_day(hours: float, days: int) -> None:
    clock = SetClock(0)
    clock.move(60 * hours)
    assert wrap_at(demo().day, clock()) == SetClock(18).now + timedelta(days=days)


def test_a_timeline_leaves_breaks_out_and_knows_the_setup_before() -> None:
    clock = SetClock()
    session = begun(short("keeper-window", "keeper-lamp"), clock)
    session.begin("keeper-window")
    clock.move(1)
    do_next(session)
    session.pause("meal")
    clock.move(45)
    session.resume()
    clock.move(2)
    do_next(session)
    session.begin("keeper-lamp")
    first, second = timeline_of(session.entries).spans
    assert first.changing_s == 3 * 60
    assert (first.before, second.before) == (None, "keeper-window")
    assert (second.changed, second.shot) == (None, None)
    assert timeline_of(session.entries).last("keeper-window") == first
