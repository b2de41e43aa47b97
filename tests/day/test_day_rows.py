"""The rows of a day: their blocks leave no time out, and add up to its end."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Session
from runbook.day.hours import Hours, hours_data, hours_of
from runbook.model.day import Break
from tests.day.days import SetClock, begun, demo, do_next, make_ready, short
from tests.day.plans import with_day

H = 3600.0
MEAL = demo().day.breaks[0]


def hours_now(session: Session) -> Hours:
    return hours_of(session.moment, session.changes, draws=30)


def adds_up(hours: Hours) -> None:
    """Assert that the blocks follow one another from the start of the day to its end, as do the minutes shown."""
    blocks = [block for row in hours.day.all for block in row.blocks]
    assert all(one.end_s == other.start_s for one, other in pairwise(blocks))
    assert all(block.start_s < block.end_s for block in blocks)
    assert (blocks[0].start_s, blocks[-1].end_s) == (hours.day.start_s, hours.day.end_s)
    for row in hours.day.all:
        assert not row.blocks or row.end_s == row.blocks[-1].end_s
    kinds = {block.kind for block in blocks}
    minutes = hours.day.minutes(*kinds)
    assert hours.clock.short(hours.day.start_s + 60 * minutes) == hours.clock.short(hours.day.end_s)
    data = hours_data(hours)
    parts_s = sum(row["changeover_s"] + row["shoot_s"] for row in data["setups"])
    parts_s += sum(data[key] for key in ("load_in_s", "wait_s", "break_s", "strike_s", "packing_s", "margin_s"))
    assert parts_s == pytest.approx(hours.finish.p50 - hours.day.start_s, abs=2)


@settings(max_examples=15, deadline=None)
@given(st.data())
def test_the_parts_of_a_day_add_up_to_its_end_whatever_has_happened(data: st.DataObject) -> None:
    names = data.draw(st.permutations(demo().day.order))[: data.draw(st.integers(1, 3))]
    minutes = st.integers(0, 90).map(float)
    earliest = data.draw(st.integers(8, 11))
    tea = Break("tea", 10 + data.draw(minutes), dt.time(earliest), dt.time(earliest, 50))
    day = replace(short(*names).day, load_in_min=data.draw(minutes), wrap_min=data.draw(minutes), breaks=(tea,))
    clock = SetClock(7, 45)
    session = begun(replace(demo(), day=day), clock)
    for name in names[: data.draw(st.integers(0, len(names)))]:
        clock.move(data.draw(minutes))
        session.begin(name)
        for _ in range(data.draw(st.integers(0, 60))):
            clock.move(0.4)
            if not do_next(session):
                session.mark_shot()
                break
        if data.draw(st.booleans()):
            session.pause("unplanned", 15, "a fire alarm")
            clock.move(data.draw(minutes))
            if data.draw(st.booleans()):
                adds_up(hours_now(session))
            session.resume()
    adds_up(hours_now(session))


def test_as_long_as_nothing_differs_the_rows_are_as_planned_and_what_delays_is_apart() -> None:
    hours = hours_now(begun())
    assert hours.day.end_s == hours.plan_finish_s < hours.finish.p50
    assert hours.margin_s == hours.finish.p50 - hours.plan_finish_s
    late = begun(clock=SetClock(10))
    hours = hours_now(late)  # nobody has begun, two hours after the call
    assert hours.rows[0].start_s >= 10 * H
    assert hours.margin_s == pytest.approx(0, abs=1)


def test_a_running_day_has_what_was_and_ends_at_the_middle_of_the_forecast() -> None:
    clock = SetClock()
    session = begun(short("widow-letter", "widow-answer", "captain-deck"), clock)
    make_ready(session, "widow-letter")
    clock.move(45)
    session.mark_shot()
    clock.move(10)
    session.begin("widow-answer")
    hours = hours_now(session)
    first, second, third = hours.rows
    assert [row.state for row in hours.rows] == ["done", "now", "to come"]
    assert (first.start_s, first.seconds("shoot"), first.end_s) == (8 * H, 45 * 60, 8.75 * H)
    assert (second.seconds("wait"), second.start_s) == (600, 8.75 * H + 600)
    assert second.plan is not None and second.late_s == second.end_s - second.plan.end_s
    assert third.blocks[0].start_s == second.end_s
    assert hours.day.end_s == pytest.approx(hours.finish.p50, abs=1)


def test_a_break_is_known_by_when_it_was_taken_and_what_it_interrupts() -> None:
    clock = SetClock(11, 45)
    session = begun(short("widow-letter", "captain-deck"), clock)
    session.begin("widow-letter")
    do_next(session)
    (due,) = hours_now(session).breaks
    assert due.start_s is not None and due.start_s >= 12 * H
    assert due.in_window and due.interrupts is None
    clock.now = clock.now.replace(hour=13, minute=45)
    session.pause(MEAL.id)
    clock.move(50)
    session.resume()
    (taken,) = hours_now(session).breaks
    assert (taken.start_s, taken.end_s, taken.in_window) == (13.75 * H, 13.75 * H + 3000, False)


def test_a_break_that_cuts_in_is_named_and_one_nobody_took_is_missed() -> None:
    tea = Break("tea", 10, dt.time(8, 50), dt.time(8, 52))
    plan = short("keeper-window")
    (cut,) = hours_now(begun(with_day(plan, breaks=(tea,)))).breaks
    assert (cut.in_window, cut.interrupts) == (True, "keeper-window")
    session = begun(with_day(plan, breaks=(tea,)), SetClock(10))
    session.begin("keeper-window")
    (missed,) = hours_now(session).breaks
    assert (missed.missed, missed.in_window, missed.start_s) == (True, False, None)
    (unneeded,) = hours_now(begun(plan)).breaks  # the day ends before its meal
    assert (unneeded.missed, unneeded.in_window, unneeded.start_s) == (False, True, None)
