"""The rest of the day, by what was entered as it happened: steps done ahead, late talents, breaks, slow steps."""

import datetime as dt
from dataclasses import replace

from runbook.clock.forecast import forecast
from runbook.day.actions import Session
from runbook.day.handover_lines import handover_lines
from runbook.day.hours import hours_of
from runbook.day.remaining_day import day_from_now
from runbook.day.timeline import timeline_of
from tests.day.days import FIRST, SetClock, begun, demo, do_next, refused, short
from tests.day.progress import do_all_ahead, standing

H = 3600.0


def now_s(session: Session) -> float:
    return day_from_now(session.moment, session.changes).now_s


def end_s(session: Session) -> float:
    return hours_of(session.moment, session.changes, draws=200).finish.p50


def sitter(setup_id: str) -> str:
    return demo().day.look[demo().setups[setup_id].look or ""].sitter


def test_a_late_talent_makes_the_day_end_later_until_they_came() -> None:
    session, came = begun(), standing()
    early, usual = end_s(session), end_s(came)
    session.talent_is_late(sitter(FIRST), "12:00")
    came.talent_is_late(sitter(FIRST), "08:00")
    assert end_s(session) > early + H
    assert end_s(came) == usual
    assert refused(session.talent_is_late, "nobody", "09:30")
    later = sitter(demo().day.order[-1])
    session.talent_is_late(later, "13:40")
    lines = [line.text for line in handover_lines(session, session.clock())]
    assert f"{later} is late: expected at 13:40" in lines


def test_a_talent_due_after_midnight_is_due_the_next_day() -> None:
    session = begun(clock=SetClock(hour=22))
    session.talent_is_late(sitter(FIRST), "01:30")
    (due,) = session.state.late.values()
    assert due.date() > session.clock().date()


def test_a_break_holds_the_day_up_for_its_minutes_and_only_a_planned_one_is_over_by_then() -> None:
    clock = SetClock(12)
    session = begun(clock=clock)
    session.begin(FIRST)
    planned = day_from_now(session.moment, session.changes).breaks
    session.pause("unplanned", 20, "fire alarm")
    held = [now_s(session)]
    for minutes in (5, 25):
        clock.move(minutes)
        held.append(now_s(session))
    assert held == [12 * H + 60 * minutes for minutes in (20, 20, 30)]
    session.resume()
    assert session.state.on_break is None
    assert day_from_now(session.moment, session.changes).breaks == planned != ()
    session.pause("meal")
    clock.move(15)
    assert now_s(session) == 12 * H + 75 * 60  # it began at 12:30 and takes 45 minutes
    session.resume()
    assert now_s(session) == 12 * H + 45 * 60
    assert day_from_now(session.moment, session.changes).breaks == ()


def test_steps_done_ahead_are_not_counted_again() -> None:
    session = standing(short("captain-deck", "captain-chart"), "captain-deck")
    before = day_from_now(session.moment, session.changes).setups[1].change
    do_all_ahead(session, most=1)
    assert len(day_from_now(session.moment, session.changes).setups[1].change) == len(before) - 1


def test_a_slow_morning_slows_the_rest_of_the_day() -> None:
    later_s = []
    for seconds in (6, 25):
        clock = SetClock()
        session = begun(short("widow-letter", FIRST, "captain-deck", "seamstress-veil"), clock)
        for setup_id in ("widow-letter", FIRST, "captain-deck"):
            session.begin(setup_id)
            while do_next(session):
                clock.now += dt.timedelta(seconds=seconds)
            session.mark_shot()
        to_come = day_from_now(session.moment, session.changes)
        assert len(to_come.done) == 2  # not the load-in, which is unpacking too
        as_planned, as_it_goes = (forecast(day, 1).finish_s.p50 for day in (replace(to_come, done=()), to_come))
        later_s.append(as_it_goes - as_planned)
    assert later_s[0] < -60
    assert later_s[1] > 60


def test_a_timeline_leaves_breaks_out_and_knows_the_setup_before() -> None:
    clock = SetClock()
    session = begun(short(FIRST, "keeper-lamp"), clock)
    session.begin(FIRST)
    clock.move(1)
    do_next(session)
    session.pause("meal")
    clock.move(45)
    session.resume()
    clock.move(2)
    do_next(session)
    session.begin("keeper-lamp")
    times = timeline_of(session.entries)
    first, second = times.spans
    assert first.changing_s == 3 * 60
    assert (first.before, second.before) == (None, FIRST)
    assert (second.changed, second.shot) == (None, None)
    assert times.last(FIRST) == first
