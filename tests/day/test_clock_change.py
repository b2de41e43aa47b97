"""The day's clock over the night in which the clocks change."""

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from runbook.clock.timetable import day_clock, median_run
from runbook.commands.load_session import LOCAL
from runbook.day.changeovers import Changeovers
from runbook.day.day_audit import audit_day
from runbook.day.hours import hours_of
from runbook.day.hours_text import answer_text, ending_text
from runbook.day.planned_day import day_as_planned
from runbook.model.day import Rate
from tests.day.days import SetClock, begun, demo, make_ready, short
from tests.day.plans import with_day

H = 3600.0
SPRING, AUTUMN = dt.date(2026, 3, 28), dt.date(2026, 10, 24)  # the evening before


@pytest.fixture(autouse=True, scope="module")
def _central_europe() -> Iterator[None]:
    """One hour ahead of UTC, two in summer: changes at 01:00 UTC, as the EU rules have it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
        time.tzset()
        yield
    time.tzset()


def local(date: dt.date, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(date, dt.time(hour, minute), LOCAL)


@given(st.integers(0, 400 * 24 * 60))
@example(297 * 24 * 60 + 90)  # in the hour that comes twice
def test_the_local_zone_and_utc_lead_to_each_other(minutes: int) -> None:
    utc = dt.datetime(2026, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=minutes)
    assert utc.astimezone(LOCAL).astimezone(dt.UTC) == utc
    assert utc.astimezone(LOCAL).utcoffset() == utc.astimezone().utcoffset()


@pytest.mark.parametrize(("date", "shown", "over"), [(SPRING, "05:00", "9 h over"), (AUTUMN, "03:00", "11 h over")])
def test_seconds_are_what_the_wall_clock_shows_and_hours_those_that_pass(date: dt.date, shown: str, over: str) -> None:
    assert ending_text(local(date + dt.timedelta(days=1), 4), local(date, 18)).endswith(over)
    clock = day_clock(demo().day, local(date, 12))
    assert clock.short(20 * H) == "20:00"
    assert clock.short(28 * H) == shown
    for seconds in (20 * H, 28 * H):
        assert clock.seconds(clock.moment(seconds)) == seconds


@pytest.mark.parametrize(("date", "hours_worked"), [(SPRING, 6.0), (AUTUMN, 8.0)])
def test_a_day_that_runs_past_the_change_has_true_times(date: dt.date, hours_worked: float) -> None:
    plan, clock = short("widow-letter", "widow-answer"), SetClock()
    rate = Rate(0, 100, 60, "EUR")
    day = replace(plan.day, date=date, call=dt.time(20), wrap=dt.time(22), breaks=(), rate=rate)
    clock.now = local(date, 21)
    session = begun(replace(plan, day=day), clock)
    make_ready(session, "widow-letter")
    clock.now = local(date + dt.timedelta(days=1), 4)
    session.mark_shot()
    session.begin(None)
    hours = hours_of(session.moment, session.changes, draws=100)
    done = hours.rows[0]
    assert (hours.clock.short(done.start_s), hours.clock.short(done.end_s)) == ("21:00", "04:00")
    assert done.end_s - done.start_s == hours_worked * H
    # overtime is paid for the hours that were worked after 22:00
    assert 100 * (hours_worked - 1) <= hours.expected_cost < 100 * (hours_worked + 0.5)
    assert f"{hours_worked - 1:.0f} h" in answer_text(hours)


def test_a_call_before_the_change_and_a_wrap_after_it_are_as_far_apart_as_they_are() -> None:
    plan = short("widow-letter")
    date = SPRING + dt.timedelta(days=1)
    day = replace(plan.day, date=date, call=dt.time(0, 30), wrap=dt.time(9), breaks=())
    session = begun(replace(plan, day=day), SetClock())
    session.clock.now = local(date, 0, 30)  # type: ignore[attr-defined]
    hours = hours_of(session.moment, session.changes, draws=100)
    assert hours.wrap_s - hours.clock.seconds_of(day.call) == 7.5 * H
    assert hours.clock.short(hours.wrap_s) == "09:00"


@pytest.mark.parametrize(("date", "call", "over"), [(SPRING, dt.time(1, 45), True), (AUTUMN, dt.time(2, 45), False)])
def test_check_plans_with_the_hours_that_pass(date: dt.date, call: dt.time, over: bool) -> None:
    """Half an hour to spare by the clock on the wall is half an hour over in spring; in autumn the reverse."""
    plan = short("widow-letter", "widow-answer")
    date += dt.timedelta(days=1)
    looks = tuple(replace(look, prep_min=0.0) for look in plan.day.looks)
    day = replace(plan.day, date=date, call=call, breaks=(), looks=looks)
    finish_s = median_run(day_as_planned(replace(plan, day=day), Changeovers(plan))).finish_s
    wall_s = finish_s + (0.5 * H if over else -0.5 * H)
    wrap = (dt.datetime.min + dt.timedelta(seconds=wall_s)).time()
    problems = audit_day(with_day(replace(plan, day=day), wrap=wrap), zone=LOCAL)
    assert ("day-too-long" in {problem.code for problem in problems}) is over
