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
from runbook.clock.timetable import DayClock, DayToCome, Done, SetupToCome, day_clock
from runbook.day.changeovers import Changeovers, StepKeys
from runbook.day.frames import shots_of
from runbook.day.planned_day import day_as_planned, first_start_s, setup_to_come, shooting_of, strike_of
from runbook.day.state import UNPLANNED, DayState, step_key
from runbook.day.timeline import Span
from runbook.journal.events import Entry, Skipped, StepTicked, live
from runbook.model.day import Plan

_OWED_S: Final = 3600.0  # a break nobody took an hour after its window is not coming
_LEAST_TIMED_S: Final = 20.0  # a changeover ticked faster was not walked
_MOST_OFF: Final = 4.0  # nor was one so many times off


@dataclass(frozen=True, slots=True)
class DayMoment:
    """A running day at one moment, as its clock needs it: safe to work on in another thread.

    ``left`` are the steps of the changeover at hand, ``waiting`` the setups still to begin.
    """

    plan: Plan
    state: DayState
    entries: tuple[Entry, ...]
    now: dt.datetime
    left: tuple[Step, ...]
    waiting: tuple[str, ...]

    @property
    def reached(self) -> tuple[int, dt.datetime]:
        """How far the day has come, in entries and time; of two moments the later one has more."""
        return len(self.entries), self.now

    @property
    def unshot(self) -> str | None:
        """The setup at work, unless it is shot or skipped."""
        state, here = self.state, self.state.at_work
        return here if here in self.plan.setups and here not in {*state.shot, *state.setups_skipped} else None

    def without(self, setup_id: str) -> DayMoment:
        """Return the day if this setup is dropped."""
        state = replace(self.state, setups_skipped={**self.state.setups_skipped, setup_id: ""})
        return replace(self, state=state, waiting=tuple(name for name in self.waiting if name != setup_id))


def day_from_now(moment: DayMoment, changes: Changeovers) -> DayToCome:
    """Return all that is left of a running day."""
    state, clock = moment.state, day_clock(moment.plan.day, moment.now)
    planned = day_as_planned(moment.plan, changes, (), clock)
    now_s = clock.seconds(moment.now)
    if not state.begun:
        now_s = max(now_s, first_start_s(moment.plan.day, clock))
    setups = tuple(_setups_left(moment, changes))
    last = setups[-1].id if setups else state.at_work
    late_s = {sitter: clock.seconds(due) for sitter, due in state.late.items()}
    ready, free_s = _looks_now(moment, clock)
    return replace(
        planned,
        now_s=now_s + _break_left_s(moment),
        setups=setups,
        looks=tuple(replace(look, call_s=max(look.call_s, late_s.get(look.talent, 0.0))) for look in planned.looks),
        ready=ready,
        free_s=free_s,
        breaks=tuple(
            coming
            for coming, pause in zip(planned.breaks, moment.plan.day.breaks, strict=True)
            if pause.id not in state.breaks and now_s < coming.latest_s + _OWED_S
        ),
        strike=strike_of(changes.of(moment.left) if state.wrapping else changes.between(last, None)),
        done=tuple(_done_today(moment, changes)),
    )


def _setups_left(moment: DayMoment, changes: Changeovers) -> Iterator[SetupToCome]:
    """Yield the setups still to shoot, the one at work first."""
    if moment.unshot is not None:
        yield _setup_at_work(moment, moment.unshot, changes)
    for before, setup_id in pairwise((moment.state.at_work, *moment.waiting)):
        ahead = frozenset(done.step.key for of, done in moment.state.ahead if of == setup_id)
        yield setup_to_come(moment.plan, str(setup_id), changes.between(before, setup_id, ahead))


def _setup_at_work(moment: DayMoment, here: str, changes: Changeovers) -> SetupToCome:
    """Return the setup at work: its steps still to do, and its shooting by its frames or since when it is shot."""
    state, setup = moment.state, moment.plan.setups[here]
    taken, span = max(state.frames.get(here, 0), 0), state.times.last(here)
    by_frames = bool(taken and setup.frames)
    share_left = max(1 - taken / setup.frames, 0.0) if by_frames else 1.0
    if by_frames and span is not None and setup.shoot_min and any(shot.setup == here for shot in shots_of(state.shots)):
        share_left *= _pace(
            state.times.working_s(span.ready, moment.now) / (60 * setup.shoot_min), taken / setup.frames
        )
    to_come = setup_to_come(moment.plan, here, changes.of(moment.left), share_left)
    if by_frames or moment.left or span is None or not setup.shoot_min:
        return to_come
    return replace(to_come, shot_s=max(state.times.working_s(span.ready, moment.now), 1.0))


def _pace(time_share: float, frames_share: float) -> float:
    """Return by how much the rest of a shooting is longer than planned, from the shares of its time and frames so far.

    The first frames say little of it: they count by the share that is shot.
    """
    ratio = min(max(time_share / frames_share, 1 / _MOST_OFF), _MOST_OFF)
    return float(ratio ** min(frames_share, 1.0))


def _looks_now(moment: DayMoment, clock: DayClock) -> tuple[frozenset[str], dict[str, float]]:
    """Return the looks ready and worn, and since when each talent who was on set is off it.

    Nobody journals preparing: it is taken to begin at the call, or when the talent left the set.
    """
    plan, spans = moment.plan, moment.state.times.spans
    free_s: dict[str, float] = {}
    worn: dict[str, str] = {}
    for span in spans:
        setup = plan.setups.get(span.setup or "")
        look = plan.day.look.get(setup.look or "") if setup else None
        if look is None:
            continue
        changing = span is spans[-1] and span.setup == moment.state.at_work and moment.left
        if changing and worn.get(look.sitter) != look.id:
            worn.pop(look.sitter, None)  # not on set in it yet: it may still be prepared
            continue
        worn[look.sitter] = look.id
        free_s[look.sitter] = clock.seconds(span.shot or moment.now)
    return frozenset(worn.values()), free_s


def _break_left_s(moment: DayMoment) -> float:
    """Return what is left of the break that is on."""
    state = moment.state
    if state.times.on_break is None:
        return 0.0
    lengths = {planned.id: planned.minutes for planned in moment.plan.day.breaks}
    minutes = (lengths | {UNPLANNED: state.break_min or 0.0}).get(state.on_break or "", 0.0)
    return max(60 * minutes - (moment.now - state.times.on_break).total_seconds(), 0.0)


def _done_today(moment: DayMoment, changes: Changeovers) -> Iterator[Done]:
    """Yield today's whole changeovers and shootings, with what each took.

    Not the load-in, which is unpacking too; nor what was too quick to be walked, or too far off.
    """
    timeline = moment.state.times
    for span in timeline.spans:
        over = span.before is not None and (span.setup != moment.state.at_work or not moment.left)
        if over and span.changing_s >= _LEAST_TIMED_S:
            planned = changes.known_between(span.before, span.setup, _not_walked(moment, span))
            if planned is not None and _about(span.changing_s, planned.total_s):
                yield Done(planned.pieces, span.changing_s)
        setup = moment.plan.setups.get(span.setup or "")
        if setup is not None and span.changed is not None and span.shot is not None:
            took_s = timeline.working_s(span.changed, span.shot)
            if _about(took_s, 60 * setup.shoot_min):
                yield Done((shooting_of(setup),), took_s)


def _about(took_s: float, usual_s: float) -> bool:
    """Return whether a time is near enough to its plan to say something about the pace."""
    return 1 / _MOST_OFF < took_s / usual_s < _MOST_OFF if usual_s else False


def _not_walked(moment: DayMoment, span: Span) -> StepKeys:
    """Return the steps of a changeover that were done ahead of it, or skipped."""
    return frozenset(
        step_key(entry.data.step)
        for entry in live(moment.entries)
        if (isinstance(entry.data, StepTicked) and entry.at <= span.begun)
        or (isinstance(entry.data, Skipped) and entry.data.what == "step")
        if entry.data.setup == span.setup and entry.data.step
    )
