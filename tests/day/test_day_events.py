"""What no plan has, entered as it happens: a late talent, a changed battery, an unplanned break."""

from __future__ import annotations

import pytest

from runbook.day.actions import Session
from runbook.day.changeovers import Changeovers
from runbook.day.day_record import battery_use
from runbook.day.event_text import event_text
from runbook.day.handover_lines import handover_lines
from runbook.day.hours import Hours, hours_of
from runbook.day.remaining_day import DayMoment, day_from_now
from runbook.model.day import Plan
from tests.day.days import SetClock, begun, demo, make_ready, refused

FIRST = demo().day.order[0]


def moment_of(session: Session) -> DayMoment:
    """The day as its clock needs it."""
    left = session.view.pending.left
    return DayMoment(session.plan, session.state, tuple(session.entries), session.clock(), left, session.view.waiting)


def hours(session: Session, changes: Changeovers) -> Hours:
    return hours_of(moment_of(session), changes, draws=200)


@pytest.fixture(scope="module")
def changes() -> Changeovers:
    return Changeovers(demo())


def burnt(session: Session, head: str) -> float:
    return next(e.spent for e in battery_use(session.plan, session.state, session.counted) if e.head == head)


def sitter_of(plan: Plan, setup_id: str) -> str:
    look = plan.setups[setup_id].look
    assert look is not None
    return plan.day.look[look].sitter


def test_a_late_talent_makes_the_day_end_later(changes: Changeovers) -> None:
    session = begun()
    early = hours(session, changes).finish.p50
    session.talent_is_late(sitter_of(session.plan, FIRST), "12:00")
    assert hours(session, changes).finish.p50 > early + 3600


def test_a_talent_who_was_late_and_came_delays_nothing_more(changes: Changeovers) -> None:
    session = begun()
    make_ready(session, FIRST)
    usual = hours(session, changes).finish.p50
    session.talent_is_late(sitter_of(session.plan, FIRST), "08:00")
    assert hours(session, changes).finish.p50 == usual


def test_a_talent_due_after_midnight_is_due_the_next_day() -> None:
    session = begun(clock=SetClock(hour=22))
    session.talent_is_late(sitter_of(session.plan, FIRST), "01:30")
    (due,) = session.state.late.values()
    assert due.date() > session.clock().date()


def test_only_a_talent_of_a_look_can_be_late() -> None:
    assert refused(begun().talent_is_late, "nobody", "09:30")


def test_a_changed_battery_is_counted_from_its_change() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.frames(40)
    before, other = burnt(session, "A"), burnt(session, "B")
    assert before > 0
    session.battery_changed("A")
    assert (burnt(session, "A"), burnt(session, "B")) == (0, other)
    session.frames(8)
    light = session.view.setup.light["A"] if session.view.setup else None
    assert light is not None
    assert burnt(session, "A") == pytest.approx(8 * light.power.share)
    (used,) = [e for e in battery_use(session.plan, session.state, session.counted) if e.head == "A"]
    assert (used.changed, used.charge) == (1, True)
    session.undo()
    session.undo()
    assert burnt(session, "A") == before


def test_a_battery_of_a_head_that_has_none_cannot_be_changed() -> None:
    assert refused(begun().battery_changed, "Z")


def test_an_unplanned_break_holds_the_day_up_for_its_minutes(changes: Changeovers) -> None:
    clock = SetClock()
    session = begun(clock=clock)
    session.begin(FIRST)
    start = day_from_now(moment_of(session), changes).now_s
    session.begin_unplanned_break(20, "fire alarm")
    assert day_from_now(moment_of(session), changes).now_s == start + 1200
    clock.move(5)
    assert day_from_now(moment_of(session), changes).now_s == start + 1200
    clock.move(25)
    assert day_from_now(moment_of(session), changes).now_s == start + 1800
    session.resume()
    assert session.state.on_break is None


def test_an_unplanned_break_leaves_the_planned_ones_to_come(changes: Changeovers) -> None:
    session = begun()
    session.begin(FIRST)
    planned = day_from_now(moment_of(session), changes).breaks
    session.begin_unplanned_break(20, "fire alarm")
    session.resume()
    assert day_from_now(moment_of(session), changes).breaks == planned


def test_what_happened_is_in_the_journal_and_the_handover() -> None:
    session = begun()
    session.begin(FIRST)
    talent = sitter_of(session.plan, demo().day.order[-1])
    session.talent_is_late(talent, "13:40")
    session.battery_changed("A")
    session.begin_unplanned_break(20, "fire alarm")
    assert [event_text(entry) for entry in session.entries[-3:]] == [
        f"late: {talent}, expected at 13:40",
        "battery changed: A",
        "break: unplanned, 20 min, because: fire alarm",
    ]
    lines = {line.text for line in handover_lines(session, session.clock())}
    assert f"{talent} is late: expected at 13:40" in lines
    assert any(line.startswith("A: about 0 of") for line in lines)
