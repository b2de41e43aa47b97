"""A day to come, built from the plan, what is true now, and what is believed of its kinds of work.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from math import log
from typing import Final

from runbook.change.steps import Step
from runbook.clock.durations import Pace, pace_so_far, pace_to_come
from runbook.clock.forecast import BreakToCome, DayToCome, Look, SetupToCome
from runbook.journal.entries import Entry
from runbook.plan.day import Day, Plan
from runbook.plan.tuples import NamedTuple
from runbook.session.beliefs import NOTHING, Known
from runbook.session.ending import wrap_at
from runbook.session.planned_day import (
    Changes,
    beliefs_of,
    break_of,
    looks_of,
    overtime_of,
    seconds_of_day,
    to_come,
)
from runbook.session.real_times import Real, worked_s
from runbook.session.state import DayState, StepKey

_OWED_S: Final = 3600.0  # a break nobody took an hour after its window is not coming
_LEAST_TIMED_S: Final = 20.0  # a changeover ticked faster was not walked
_MOST_OFF: Final = 4.0  # nor was one so many times off


class Moment(NamedTuple):
    """A running day at one moment, as its clock needs it: safe to work on beside the screen.

    ``left`` are the steps of the changeover at hand, ``waiting`` the setups still to begin.
    """

    plan: Plan
    truth: DayState
    entries: tuple[Entry, ...]
    now: dt.datetime
    left: tuple[Step, ...]
    waiting: tuple[str, ...]
    known: Known = NOTHING


def midnight(day: Day, now: dt.datetime) -> dt.datetime:
    """The midnight that began the shoot day a moment belongs to."""
    return wrap_at(day, now).replace(hour=0, minute=0, second=0, microsecond=0)


def day_from_now(moment: Moment, changes: Changes, *, bridges: bool = False) -> DayToCome:
    """All that is left of a running day. ``bridges`` works out what dropping each setup leaves."""
    plan, truth = moment.plan, moment.truth
    real = moment.truth.times
    midnight_, now_s = _clock_of(moment)
    setups = _setups_left(moment, real, changes, bridges)
    start = setups[-1].id if setups else truth.at_work
    strike = changes.of(moment.left) if truth.wrapping else changes.between(start, None).pieces
    ready, begun_s = _looks_now(moment, real, midnight_, now_s)
    known = changes.known
    return DayToCome(
        now_s + _pause_left_s(moment, real),
        setups,
        beliefs_of(plan, known, setups, strike),
        looks_of(plan, begun_s),
        ready,
        _breaks_left(moment, now_s),
        strike,
        overtime_of(plan.day),
        _pace_now(moment, real, changes),
    )


def looks_in_order(moment: Moment) -> Callable[[Sequence[str]], tuple[Look, ...]]:
    """What tells the looks, with what is left to prepare, for the setups to begin in some order.

    A talent who is free is being prepared for whichever of their looks comes next.
    """
    real = moment.truth.times
    midnight_, now_s = _clock_of(moment)

    def looks(waiting: Sequence[str]) -> tuple[Look, ...]:
        turned = moment._replace(waiting=tuple(waiting))
        return looks_of(moment.plan, _looks_now(turned, real, midnight_, now_s)[1])

    return looks


def _clock_of(moment: Moment) -> tuple[dt.datetime, float]:
    """The midnight of the day, and the seconds since; before anything is begun, not before call."""
    midnight_ = midnight(moment.plan.day, moment.now)
    now_s = (moment.now - midnight_).total_seconds()
    if not moment.truth.begun:
        now_s = max(now_s, seconds_of_day(moment.plan.day.call))
    return midnight_, now_s


def _setups_left(
    moment: Moment, real: Real, changes: Changes, bridges: bool
) -> tuple[SetupToCome, ...]:
    plan, truth = moment.plan, moment.truth
    setups: list[SetupToCome] = []
    here = truth.at_work
    if here in plan.setups and here not in truth.shot and here not in truth.setups_skipped:
        setups.append(_at_work(moment, real, changes))
    ahead: dict[str | None, set[StepKey]] = {}
    for of, done in truth.ahead:
        ahead.setdefault(of, set()).add(done.step.key)
    before = here
    for setup_id in moment.waiting:
        worked = changes.between(before, setup_id, frozenset(ahead.get(setup_id, ())))
        setups.append(to_come(plan, setup_id, worked.pieces))
        before = setup_id
    if bridges and setups:
        goals = [*(each.id for each in setups[1:]), None]
        starts = [here, *(each.id for each in setups[:-1])]
        setups = [
            each._replace(skip=changes.between(start, goal).pieces)
            for each, start, goal in zip(setups, starts, goals, strict=True)
        ]
    return tuple(setups)


def _at_work(moment: Moment, real: Real, changes: Changes) -> SetupToCome:
    """The setup at work: steps still to do; or being shot, by its frames, or since when."""
    plan, truth, here = moment.plan, moment.truth, str(moment.truth.at_work)
    setup = plan.setups[here]
    taken = truth.frames.get(here, 0)
    if taken and setup.frames:
        left = max(1 - taken / setup.frames, 0.0)
        return to_come(plan, here, changes.of(moment.left), left)
    found = to_come(plan, here, changes.of(moment.left))
    span = real.last(here)
    if moment.left or span is None or not setup.shoot_min:
        return found
    since = span.changed or span.begun
    return found._replace(shot_s=max(worked_s(moment.truth.times, since, moment.now), 1.0))


def _looks_now(
    moment: Moment, real: Real, midnight_: dt.datetime, now_s: float
) -> tuple[frozenset[str], dict[str, float]]:
    """The looks ready and worn, and for how long the next look of each talent is being prepared.

    Nobody journals preparing: it is taken to begin at the call, or when the talent left the set.
    """
    plan = moment.plan
    free_s: dict[str, float] = {}
    worn: dict[str, str] = {}
    for span in real.spans:
        look = plan.setups[span.setup].look if span.setup in plan.setups else None
        if look is not None and look in plan.day.look:
            worn[_sits(plan, look)] = look
            end = span.shot or moment.now
            free_s[_sits(plan, look)] = (end - midnight_).total_seconds()
    here = moment.truth.at_work
    shooting = here in plan.setups and here not in moment.truth.shot
    look_here = plan.setups[str(here)].look if shooting else None
    ready, begun_s = set(worn.values()), {}
    if look_here in plan.day.look and moment.left and look_here is not None:
        first = [
            s
            for s in real.spans
            if s.setup in plan.setups and plan.setups[s.setup].look == look_here
        ]
        if len(first) == 1:  # not on set in it yet: it may still be prepared
            since = _left_before(plan, real, look_here, midnight_)
            begun_s[look_here] = now_s - (seconds_of_day(plan.day.call) if since is None else since)
            ready.discard(look_here)
    next_of: dict[str, str] = {}
    for setup_id in moment.waiting:
        look = plan.setups[setup_id].look
        if look is not None and look in plan.day.look:
            next_of.setdefault(_sits(plan, look), look)
    for talent, look in next_of.items():
        if worn.get(talent) == look or (look_here and _sits(plan, look_here) == talent):
            continue
        begun_s[look] = now_s - free_s.get(talent, seconds_of_day(plan.day.call))
    return frozenset(ready), begun_s


def _sits(plan: Plan, look_id: str) -> str:
    look = plan.day.look[look_id]
    return look.talent or f"look {look.id}"


def _left_before(plan: Plan, real: Real, look_id: str, midnight_: dt.datetime) -> float | None:
    """When the talent of a look last left the set in another look, in seconds of the day."""
    found = None
    for span in real.spans:
        look = plan.setups[span.setup].look if span.setup in plan.setups else None
        if look is None or look == look_id or look not in plan.day.look:
            continue
        if _sits(plan, look) == _sits(plan, look_id) and span.shot is not None:
            found = (span.shot - midnight_).total_seconds()
    return found


def _breaks_left(moment: Moment, now_s: float) -> tuple[BreakToCome, ...]:
    left = [break_of(e) for e in moment.plan.day.breaks if e.id not in moment.truth.breaks]
    return tuple(each for each in left if now_s < each.latest_s + _OWED_S)


def _pause_left_s(moment: Moment, real: Real) -> float:
    """What is left of the break that is on."""
    if real.on_break is None:
        return 0.0
    lengths = {each.id: 60 * each.minutes for each in moment.plan.day.breaks}
    gone = (moment.now - real.on_break).total_seconds()
    return max(lengths.get(moment.truth.on_break or "", 0.0) - gone, 0.0)


def _pace_now(moment: Moment, real: Real, changes: Changes) -> Pace:
    """Today's pace, from its whole changeovers so far: what each took against what was planned."""
    residuals = []
    for span in real.spans:
        over = span.setup != moment.truth.at_work or not moment.left
        if not over or span.changing_s < _LEAST_TIMED_S:
            continue
        worked = changes.known_between(span.before, span.setup)
        usual = worked.shares.total_s if worked is not None else 0.0
        if usual and 1 / _MOST_OFF < span.changing_s / usual < _MOST_OFF:
            residuals.append(log(span.changing_s / usual))
    if not residuals:
        return pace_to_come(changes.known.days, changes.known.day_sd)
    return pace_so_far(residuals, pace_to_come(changes.known.days, changes.known.day_sd).sd)
