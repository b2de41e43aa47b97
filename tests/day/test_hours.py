"""The day's clock: as planned, as it goes, and how it may end."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import pytest

from runbook.clock.timetable import wrap_at
from runbook.day.actions import Session
from runbook.day.changeovers import Changeovers
from runbook.day.hours import Hours, hours_data, hours_of, with_help
from runbook.day.remaining_day import day_from_now
from runbook.day.timeline import clock_time
from runbook.model.day import Rate
from runbook.model.progress import Stopped, Tell, silent
from tests.day.days import SetClock, begun, demo, do_all, make_ready, short
from tests.day.plans import with_day

H = 3600.0


def worked(session: Session, tell: Tell = silent) -> Hours:
    return hours_of(session.moment, session.changes, draws=300, tell=tell)


def helped(session: Session) -> Hours:
    return with_help(worked(session), session.changes, draws=100)


def test_the_plan_adds_up() -> None:
    hours = worked(begun())
    totals = [change.total_s for change in Changeovers(demo()).all]
    rows = hours.rows
    assert [row.id for row in rows] == list(demo().day.order)
    assert rows[0].start_s == 8 * H
    for row, total, setup in zip(rows, totals, demo().order, strict=False):
        assert row.seconds("change") == pytest.approx(total)
        assert row.seconds("shoot") == pytest.approx(60 * setup.shoot_min)
        assert row.shoot_at_s >= row.start_s + total - 1e-6
    for one, other in pairwise(rows):
        assert other.start_s >= one.end_s
    assert hours.plan_finish_s >= rows[-1].end_s + totals[-1] - 1e-6
    assert hours.finish.p10 < hours.finish.p50 < hours.finish.p90
    # the look is waited for, and the meal is taken
    by_id = {row.id: row for row in rows}
    assert by_id["keeper-window"].shoot_at_s == pytest.approx(8 * H + 40 * 60)
    assert by_id["widow-letter"].start_s - by_id["lamplighter-fog"].end_s == pytest.approx(45 * 60)


def test_a_late_day_ends_late_and_a_quick_one_early() -> None:
    ends = {}
    for minutes in (2, 40):
        clock = SetClock()
        session = begun(short("widow-letter", "widow-answer"), clock)
        session.begin("widow-letter")
        do_all(session)
        clock.move(minutes + 50)
        session.mark_shot()
        hours = worked(session)
        ends[minutes] = hours.finish.p50
        done, to_come = hours.rows
        assert (done.state, done.end_s) == ("done", 8 * H + 60 * (minutes + 50))
        assert to_come.state == "to come"
        assert to_come.start_s == pytest.approx(done.end_s)
    assert ends[40] - ends[2] == pytest.approx(38 * 60, rel=0.1)


def test_a_setup_at_work_began_when_it_did_and_frames_shorten_it() -> None:
    clock = SetClock()
    session = begun(short("widow-letter", "widow-answer"), clock)
    session.begin("widow-letter")
    clock.move(60)
    do_all(session)
    whole = worked(session)
    assert (whole.rows[0].state, whole.rows[0].start_s) == ("now", 8 * H)
    session.frames(session.plan.setups["widow-letter"].frames // 2)
    assert worked(session).finish.p50 < whole.finish.p50
    session.frames(session.plan.setups["widow-letter"].frames)
    assert worked(session).rows[0].end_s == pytest.approx(9 * H, abs=60)


def test_load_in_and_packing_have_minutes_of_their_own() -> None:
    plain = worked(begun())
    day = with_day(demo(), load_in_min=30.0, wrap_min=20.0)
    packed = worked(begun(day))
    assert packed.rows[0].start_s == 8 * H + 1800
    assert packed.plan_finish_s == pytest.approx(plain.plan_finish_s + 1200, abs=1800)
    # less than 20 minutes more where a break or a look is waited for anyway
    assert packed.finish.p50 > plain.finish.p50 + 600
    session = begun(day, SetClock(9))
    session.begin("keeper-window")
    assert day_from_now(session.moment, session.changes).now_s == 9 * H  # it is over by then


def test_a_look_is_prepared_from_its_own_call() -> None:
    plan = short("keeper-window")
    looks = tuple(replace(each, call=dt.time(7, 20)) for each in plan.day.looks)
    early = worked(begun(with_day(plan, looks=looks))).rows[0]
    late = worked(begun(plan)).rows[0]
    assert (late.shoot_at_s, early.shoot_at_s) == (8 * H + 2400, early.start_s + early.seconds("change"))


def test_overtime_has_a_chance_a_cost_and_savings() -> None:
    plan = with_day(short("widow-letter", "widow-answer"), wrap=dt.time(9), rate=Rate(1800, 320, 30, "EUR"))
    hours, day = helped(begun(plan)), plan.day
    assert 0.4 < hours.over_chance < 1
    assert hours.expected_cost > 100
    assert {each.setups for each in hours.remedies.singles} == {(name,) for name in day.order}
    data = hours_data(hours)
    assert data["overtime"]["chance"] == hours.over_chance
    assert data["finish"]["p50"] == hours.clock.exact(hours.finish.p50)
    assert [row["id"] for row in data["setups"]] == list(day.order)
    assert data["setups"][0]["start"] == "08:00:00"


@pytest.mark.parametrize(("wrap", "in_time"), [((13, 20), "no"), ((14, 0), "maybe"), ((18, 0), "yes")])
def test_a_day_is_in_time_only_where_overtime_is_unlikely(wrap: tuple[int, int], in_time: str) -> None:
    hours = worked(begun(with_day(demo(), wrap=dt.time(*wrap))))
    assert hours.in_time == in_time
    assert (hours.over_s > 0) == (hours.over_chance > 0.5) == (in_time == "no")


def test_it_can_be_stopped_and_reports_its_progress() -> None:
    heard: list[str] = []

    def tell(what: str, *_: int) -> None:
        heard.append(what)
        if what == "the forecast":
            raise Stopped

    with pytest.raises(Stopped):
        worked(begun(), tell=tell)
    assert heard == [*(f"changeover {n} of 10" for n in range(1, 11)), "the rest of the day", "the forecast"]


@pytest.mark.parametrize(("packing_min", "late"), [(0.0, False), (20.0, True)])
def test_a_struck_set_is_packed_before_the_day_is_over(packing_min: float, late: bool) -> None:
    clock = SetClock()
    session = begun(with_day(short("widow-letter"), wrap_min=packing_min), clock)
    make_ready(session, "widow-letter")
    session.mark_shot()
    assert helped(session).remedies.singles == ()  # nothing is left to drop
    assert worked(session).finish.p50 > worked(session).now_s
    session.begin(None)
    clock.now = clock.now.replace(hour=17, minute=50)
    do_all(session)
    clock.move(30)
    hours = helped(session)
    assert (hours.struck, hours.finish.p50) == (True, 17 * H + 50 * 60 + packing_min * 60)
    assert (hours.over_chance, hours.remedies.calls) == (float(late), ())  # the wrap is at 18:00
    assert (hours.day.all[-1].state, hours.day.end_s) == ("done", hours.finish.p50)


@pytest.mark.parametrize(("hours", "days"), [(8, 0), (5, 0), (3, -1), (23, 0), (24.5, 0), (27, 0), (32, 1)])
def test_a_night_that_runs_long_belongs_to_its_day(hours: float, days: int) -> None:
    clock = SetClock(0)
    clock.move(60 * hours)
    day, call = demo().day, SetClock(8).now
    assert wrap_at(day, clock()) == SetClock(18).now + dt.timedelta(days=days)
    # before anybody begins it, the day is planned from its call, also in the small hours of its date
    assert clock_time(day, clock(), begun=False) == (call if days < 0 else clock())
