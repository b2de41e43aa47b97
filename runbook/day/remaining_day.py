"""The rest of a running day, from its plan, its state, and the beliefs about its kinds of work.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

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
from runbook.day.state import UNPLANNED, DayState, StepKey, step_key
from runbook.day.timeline import DayClock, Span, day_clock
from runbook.journal.events import Entry, Skipped, StepTicked, live
from runbook.model.day import Plan

_OWED_S: Final = 3600.0  # a break nobody took an hour after its window is not coming
_LEAST_TIMED_S: Final = 20.0  # a changeover ticked faster was not walked
_MOST_OFF: Final = 4.0  # nor was one so many times off


@dataclass(frozen=True, slots=True)
class Moment:
    """A running day at one moment, as its clock needs it: safe to work on in another thread.

    ``left`` are the steps of the changeover at hand, ``waiting`` the setups still to begin.
    """

    plan: Plan
    state: DayState
    entries: tuple[Entry, ...]
    now: dt.datetime
    left: tuple[Step, ...]
    waiting: tuple[str, ...]
    timings: Timings = NO_TIMINGS


def day_from_now(moment: Moment, changes: Changeovers, *, bridges: bool = False) -> DayToCome:
    """Return all that is left of a running day. ``bridges`` works out the changeover past each setup, if dropped."""
    plan, state = moment.plan, moment.state
    clock = day_clock(plan.day, moment.now)
    now_s = clock.seconds(moment.now)
    if not state.begun:
        now_s = max(now_s, first_start_s(plan.day, clock.seconds_of))
    setups = _setups_left(moment, changes)
    if bridges:
        setups = _with_bridges(moment, changes, setups)
    start = setups[-1].id if setups else state.at_work
    strike = changes.of(moment.left) if state.wrapping else changes.between(start, None).pieces
    strike = with_packing(plan.day, strike)
    ready, free_s = _looks_now(moment, clock)
    done = tuple(_done_today(moment, changes))
    return DayToCome(
        now_s + _break_left_s(moment),
        tuple(setups),
        beliefs_of(plan, changes.timings, setups, strike, *(stretch.pieces for stretch in done)),
        _looks_called(moment, clock),
        ready,
        free_s,
        _breaks_left(moment, clock, now_s),
        strike,
        overtime_of(plan.day, clock.seconds_of),
        Pace(0.0, changes.timings.day_sd),
        done,
    )


def _setups_left(moment: Moment, changes: Changeovers) -> list[SetupToCome]:
    """Return the setups still to shoot, the one at work first."""
    plan, state = moment.plan, moment.state
    setups: list[SetupToCome] = []
    here = state.at_work
    if here in plan.setups and here not in state.shot and here not in state.setups_skipped:
        setups.append(_setup_at_work(moment, changes))
    for before, setup_id in pairwise((here, *moment.waiting)):
        ahead = frozenset(done.step.key for of, done in state.ahead if of == setup_id)
        setups.append(setup_to_come(plan, str(setup_id), changes.between(before, setup_id, ahead).pieces))
    return setups


def _setup_at_work(moment: Moment, changes: Changeovers) -> SetupToCome:
    """Return the setup at work: its steps still to do, and its shooting by its frames or since when it is shot."""
    state, here = moment.state, str(moment.state.at_work)
    setup, steps = moment.plan.setups[here], changes.of(moment.left)
    taken = state.frames.get(here, 0)
    if taken and setup.frames:
        return setup_to_come(moment.plan, here, steps, max(1 - taken / setup.frames, 0.0))
    to_come = setup_to_come(moment.plan, here, steps)
    span = state.times.last(here)
    if moment.left or span is None or not setup.shoot_min:
        return to_come
    return replace(to_come, shot_s=max(state.times.working_s(span.ready, moment.now), 1.0))


def _with_bridges(moment: Moment, changes: Changeovers, setups: list[SetupToCome]) -> list[SetupToCome]:
    """Return setups with the changeover past each of them; past the last it is the strike."""
    stops = [moment.state.at_work, *(setup.id for setup in setups), None]
    bridges = [changes.between(start, goal).pieces for start, goal in zip(stops, stops[2:], strict=False)]
    if bridges:
        bridges[-1] = with_packing(moment.plan.day, bridges[-1])
    return [replace(setup, skip=bridge) for setup, bridge in zip(setups, bridges, strict=True)]


def _looks_now(moment: Moment, clock: DayClock) -> tuple[frozenset[str], dict[str, float]]:
    """Return the looks ready and worn, and since when each talent who was on set is off it.

    Nobody journals preparing: it is taken to begin at the call, or when the talent left the set.
    """
    plan, spans = moment.plan, moment.state.times.spans
    free_s: dict[str, float] = {}
    worn: dict[str, str] = {}
    for span in spans:
        look = plan.setups[span.setup].look if span.setup in plan.setups else None
        if look is None or look not in plan.day.look:
            continue
        talent = plan.day.look[look].talent or f"look {look}"
        first_time = worn.get(talent) != look
        if span is spans[-1] and span.setup == moment.state.at_work and moment.left and first_time:
            worn.pop(talent, None)  # not on set in it yet: it may still be prepared
            continue
        worn[talent] = look
        free_s[talent] = clock.seconds(span.shot or moment.now)
    return frozenset(worn.values()), free_s


def _looks_called(moment: Moment, clock: DayClock) -> tuple[Look, ...]:
    """Return the day's looks, those of late talents from when they are expected."""
    late_s = {sitter: clock.seconds(due) for sitter, due in moment.state.late.items()}
    return tuple(
        replace(look, call_s=max(look.call_s or 0.0, late_s.get(look.sitter, 0.0)))
        for look in looks_of(moment.plan, clock.seconds_of)
    )


def _breaks_left(moment: Moment, clock: DayClock, now_s: float) -> tuple[BreakToCome, ...]:
    """Return the planned breaks not taken yet, as long as they may still come."""
    left = (break_to_come(b, clock.seconds_of) for b in moment.plan.day.breaks if b.id not in moment.state.breaks)
    return tuple(coming for coming in left if now_s < coming.latest_s + _OWED_S)


def _break_left_s(moment: Moment) -> float:
    """Return what is left of the break that is on."""
    state = moment.state
    if state.times.on_break is None:
        return 0.0
    lengths = {UNPLANNED: 60 * (state.break_min or 0.0)}
    lengths |= {planned.id: 60 * planned.minutes for planned in moment.plan.day.breaks}
    gone = (moment.now - state.times.on_break).total_seconds()
    return max(lengths.get(state.on_break or "", 0.0) - gone, 0.0)


def _done_today(moment: Moment, changes: Changeovers) -> Iterator[Done]:
    """Yield today's whole changeovers and shootings, with what each took.

    Not the load-in, which is unpacking too; nor what was too quick to be walked, or too far off.
    """
    timeline = moment.state.times
    for span in timeline.spans:
        over = span.setup != moment.state.at_work or not moment.left
        planned = changes.known_between(span.before, span.setup, _not_walked(moment, span))
        if over and span.before is not None and planned is not None:
            walked = span.changing_s >= _LEAST_TIMED_S
            if walked and _about(span.changing_s, planned.shares.total_s):
                yield Done(planned.pieces, span.changing_s)
        setup = moment.plan.setups.get(span.setup or "")
        if setup is not None and span.changed is not None and span.shot is not None:
            took_s = timeline.working_s(span.changed, span.shot)
            if _about(took_s, 60 * setup.shoot_min):
                yield Done((shooting_of(setup),), took_s)


def _about(took_s: float, usual_s: float) -> bool:
    """Return whether a time is near enough to its plan to say something about the pace."""
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
