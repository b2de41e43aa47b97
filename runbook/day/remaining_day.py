"""A day to come, built from the plan, what is true now, and what is believed of its kinds of work.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Final, NamedTuple

from runbook.changeover.steps import Step
from runbook.clock.estimates import Pace
from runbook.clock.timetable import BreakToCome, DayToCome, Done, Look, SetupToCome
from runbook.day.planned_day import (
    NO_TIMINGS,
    Changeovers,
    Timings,
    beliefs_of,
    break_to_come,
    first_start_s,
    looks_of,
    overtime_of,
    setup_to_come,
    shooting_of,
    with_packing,
)
from runbook.day.state import UNPLANNED, DayState, StepKey
from runbook.day.timeline import DayClock, Span, Timeline, day_clock, working_s
from runbook.day.timings import step_key
from runbook.journal.entries import Entry, Skipped, StepTicked, live
from runbook.model.day import Plan

_OWED_S: Final = 3600.0  # a break nobody took an hour after its window is not coming
_LEAST_TIMED_S: Final = 20.0  # a changeover ticked faster was not walked
_MOST_OFF: Final = 4.0  # nor was one so many times off


class Moment(NamedTuple):
    """A running day at one moment, as its clock needs it: safe to work on beside the screen.

    ``left`` are the steps of the changeover at hand, ``waiting`` the setups still to begin.
    """

    plan: Plan
    state: DayState
    entries: tuple[Entry, ...]
    now: dt.datetime
    left: tuple[Step, ...]
    waiting: tuple[str, ...]
    known: Timings = NO_TIMINGS


def day_from_now(moment: Moment, changes: Changeovers, *, bridges: bool = False) -> DayToCome:
    """All that is left of a running day. ``bridges`` works out what dropping each setup leaves."""
    plan, state = moment.plan, moment.state
    real = moment.state.times
    clock, now_s = _clock_of(moment)
    setups = _setups_left(moment, real, changes, bridges)
    start = setups[-1].id if setups else state.at_work
    strike = changes.of(moment.left) if state.wrapping else changes.between(start, None).pieces
    strike = with_packing(plan.day, strike)
    ready, free_s = _looks_now(moment, real, clock)
    known = changes.known
    done = tuple(_done_today(moment, real, changes))
    return DayToCome(
        now_s + _pause_left_s(moment, real),
        setups,
        beliefs_of(plan, known, setups, strike, *(each.pieces for each in done)),
        _looks_called(moment, clock),
        ready,
        free_s,
        _breaks_left(moment, clock, now_s),
        strike,
        overtime_of(plan.day, clock.seconds_of),
        Pace(0.0, known.day_sd),
        done,
    )


def _clock_of(moment: Moment) -> tuple[DayClock, float]:
    """Return the day's clock, and the seconds now; before any setup, not before the load-in ends"""
    clock = day_clock(moment.plan.day, moment.now)
    now_s = clock.seconds(moment.now)
    if not moment.state.begun:
        now_s = max(now_s, first_start_s(moment.plan.day, clock.seconds_of))
    return clock, now_s


def _setups_left(moment: Moment, real: Timeline, changes: Changeovers, bridges: bool) -> tuple[SetupToCome, ...]:
    plan, state = moment.plan, moment.state
    setups: list[SetupToCome] = []
    here = state.at_work
    if here in plan.setups and here not in state.shot and here not in state.setups_skipped:
        setups.append(_at_work(moment, real, changes))
    ahead: dict[str | None, set[StepKey]] = {}
    for of, done in state.ahead:
        ahead.setdefault(of, set()).add(done.step.key)
    before = here
    for setup_id in moment.waiting:
        worked = changes.between(before, setup_id, frozenset(ahead.get(setup_id, ())))
        setups.append(setup_to_come(plan, setup_id, worked.pieces))
        before = setup_id
    if bridges and setups:
        goals = [*(each.id for each in setups[1:]), None]
        starts = [here, *(each.id for each in setups[:-1])]
        setups = [
            each._replace(skip=changes.between(start, goal).pieces)
            for each, start, goal in zip(setups, starts, goals, strict=True)
        ]
    return tuple(setups)


def _at_work(moment: Moment, real: Timeline, changes: Changeovers) -> SetupToCome:
    """The setup at work: steps still to do; or being shot, by its frames, or since when."""
    plan, state, here = moment.plan, moment.state, str(moment.state.at_work)
    setup = plan.setups[here]
    taken = state.frames.get(here, 0)
    if taken and setup.frames:
        left = max(1 - taken / setup.frames, 0.0)
        return setup_to_come(plan, here, changes.of(moment.left), left)
    found = setup_to_come(plan, here, changes.of(moment.left))
    span = real.last(here)
    if moment.left or span is None or not setup.shoot_min:
        return found
    since = span.changed or span.begun
    return found._replace(shot_s=max(working_s(moment.state.times, since, moment.now), 1.0))


def _looks_now(moment: Moment, real: Timeline, clock: DayClock) -> tuple[frozenset[str], dict[str, float]]:
    """Return the looks ready and worn, and since when each talent who was on set is off it.

    Nobody journals preparing: it is taken to begin at the call, or when the talent left the set.
    """
    plan, here = moment.plan, moment.state.at_work
    free_s: dict[str, float] = {}
    worn: dict[str, str] = {}
    for n, span in enumerate(real.spans):
        look = plan.setups[span.setup].look if span.setup in plan.setups else None
        if look is None or look not in plan.day.look:
            continue
        talent = plan.day.look[look].talent or f"look {look}"
        first_time = worn.get(talent) != look
        if n == len(real.spans) - 1 and span.setup == here and moment.left and first_time:
            worn.pop(talent, None)  # not on set in it yet: it may still be prepared
            continue
        worn[talent] = look
        free_s[talent] = clock.seconds(span.shot or moment.now)
    return frozenset(worn.values()), free_s


def _looks_called(moment: Moment, clock: DayClock) -> tuple[Look, ...]:
    """Return the day's looks, those of late talents from when they are expected."""
    late_s = {sitter: clock.seconds(due) for sitter, due in moment.state.late.items()}
    return tuple(
        look._replace(call_s=max(look.call_s or 0.0, late_s.get(look.sitter, 0.0)))
        for look in looks_of(moment.plan, clock.seconds_of)
    )


def _breaks_left(moment: Moment, clock: DayClock, now_s: float) -> tuple[BreakToCome, ...]:
    left = [break_to_come(e, clock.seconds_of) for e in moment.plan.day.breaks if e.id not in moment.state.breaks]
    return tuple(each for each in left if now_s < each.latest_s + _OWED_S)


def _pause_left_s(moment: Moment, real: Timeline) -> float:
    """What is left of the break that is on."""
    if real.on_break is None:
        return 0.0
    lengths = {each.id: 60 * each.minutes for each in moment.plan.day.breaks}
    if moment.state.break_min is not None:
        lengths[UNPLANNED] = 60 * moment.state.break_min
    gone = (moment.now - real.on_break).total_seconds()
    return max(lengths.get(moment.state.on_break or "", 0.0) - gone, 0.0)


def _done_today(moment: Moment, real: Timeline, changes: Changeovers) -> Iterator[Done]:
    """Yield today's whole changeovers and shootings, with what each took.

    Not the load-in, which is unpacking too; nor what was too quick to be walked, or too far off.
    """
    for span in real.spans:
        over = span.setup != moment.state.at_work or not moment.left
        worked = changes.known_between(span.before, span.setup, _not_walked(moment, span))
        if over and span.before is not None and worked is not None:
            usual = worked.shares.total_s
            if usual and span.changing_s >= _LEAST_TIMED_S and _about(span.changing_s, usual):
                yield Done(worked.pieces, span.changing_s)
        setup = moment.plan.setups.get(span.setup or "")
        if setup is not None and span.changed is not None and span.shot is not None:
            took = working_s(real, span.changed, span.shot)
            if _about(took, 60 * setup.shoot_min):
                yield Done((shooting_of(setup),), took)


def _about(took_s: float, usual_s: float) -> bool:
    """Return whether a time is near enough to its plan to tell something of the pace."""
    return 1 / _MOST_OFF < took_s / usual_s < _MOST_OFF if usual_s else False


def _not_walked(moment: Moment, span: Span) -> frozenset[StepKey]:
    """Return the steps of a changeover that were done ahead of it, or skipped."""
    return frozenset(
        step_key(entry.data.step)
        for entry in live(moment.entries)
        if (isinstance(entry.data, StepTicked) and entry.at <= span.begun)
        or (isinstance(entry.data, Skipped) and entry.data.what == "step")
        if entry.data.setup == span.setup and entry.data.step
    )
