"""What a rehearsal shows: the step at hand against a stopwatch, and afterwards what to change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final, NamedTuple

from runbook.changeover.critical import critical_steps
from runbook.changeover.tasks import tasks_of
from runbook.changeover.telling import told
from runbook.day.changeovers import people_of, scene_of
from runbook.day.gates import without_repeats
from runbook.day.hours_text import minutes_text
from runbook.day.planned_day import Changeovers, PlannedChangeover
from runbook.day.reduce import reduce
from runbook.day.state import DayState, target_floor, target_setup
from runbook.day.timeline import timeline_of
from runbook.day.timings import busy_since
from runbook.journal.entries import Entry, SetupBegun, StepTicked, live
from runbook.model.day import Plan

# Slow enough to talk about; our own figures.
_SLOW: Final = 1.5
_SLOW_S: Final = 15.0


class SlowStep(NamedTuple):
    """A step that was slow: in which changeover, what it took and should take, and what to do."""

    setup: str | None
    text: str
    took_s: float
    usual_s: float
    do: str


def stopwatch_s(entries: Sequence[Entry], who: str, now: datetime) -> float | None:
    """How long somebody is at the step at hand; None where no stopwatch runs."""
    since = busy_since(entries, who)
    return None if since is None else max((now - since).total_seconds(), 0.0)


def stopwatch_text(running: float, usual: float) -> str:
    """``0:35 of 0:40``, and a word when it is over."""
    said = f"{_minutes(running)} of {_minutes(usual)}"
    return f"{said}, OVER" if running > usual else said


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"


def slow_steps(entries: Sequence[Entry], changes: Changeovers) -> tuple[SlowStep, ...]:
    """What was slow against the estimate, most seconds lost first, with what to change."""
    before = {span.setup: span.before for span in timeline_of(entries).spans}
    found = []
    for entry in live(entries):
        data = entry.data
        if not isinstance(data, StepTicked) or data.seconds is None:
            continue
        usual = float(data.step.get("seconds") or 0)
        if data.seconds < _SLOW * usual or data.seconds < usual + _SLOW_S:
            continue
        start = before.get(data.setup)
        worked = changes.known_between(start, data.setup)
        do = _advice(worked, data, start, people_of(changes.plan))
        text = str(data.step.get("text") or data.step.get("verb"))
        found.append(SlowStep(data.setup, text, data.seconds, usual, do))
    return tuple(sorted(found, key=lambda each: each.usual_s - each.took_s))


def _advice(worked: PlannedChangeover | None, data: StepTicked, start: str | None, crew: int) -> str:
    key = tuple(str(data.step.get(part)) for part in ("verb", "kind", "item"))
    steps = worked.change.steps if worked else ()
    step = next((each for each in steps if each.key == key), None)
    if worked is None or step is None:
        return "walk it again"
    if step.ahead and start is not None:
        return f"do it ahead, while {start} is still shot"
    if step.n not in critical_steps(tasks_of(steps, crew), worked.shares.work):
        return "nobody waits for it: let it run beside the others"
    if crew > step.hands:
        return "everybody waits for it: give it another hand"
    if len(step.after) == 0:
        return "everybody waits for it: begin with it"
    return "everybody waits for it: set out what it needs beforehand"


class _Walked(NamedTuple):
    """How much of a changeover was walked: steps done or skipped, and those left."""

    over: int
    left: int


def _walked(entries: Sequence[Entry], plan: Plan) -> Iterator[_Walked]:
    """How far each changeover of the journal was walked when the next was begun, or is now.

    By what stood there, not by the plan: what was done ahead is done, and what one changeover left
    undone is the next one's.
    """
    state = DayState()
    for entry in live(entries):
        if isinstance(entry.data, SetupBegun) and state.begun:
            yield _how_far(plan, state)
        state = reduce(plan, state, entry)
    if state.begun:
        yield _how_far(plan, state)


def _how_far(plan: Plan, state: DayState) -> _Walked:
    here = state.at_work
    if here is not None and here not in plan.setups:
        return _Walked(len(state.done), 0)  # the plan knows no more what was asked
    setup = None if here is None else target_setup(plan, state, here)
    scene = scene_of(plan, setup)
    steps = told(state.floor, target_floor(plan, state, here), scene, plan.day.place)
    left = [s for s in without_repeats(steps, state) if s.key not in state.steps_skipped]
    return _Walked(len(state.done) + len(state.steps_skipped), len(left))


def rehearsal_report(entries: Sequence[Entry], changes: Changeovers) -> Iterator[str]:
    """The rehearsal in words: each changeover against its plan, then what was slow.

    A changeover that was not walked to its end is not held against its plan.
    """
    yield "REHEARSAL: what it showed"
    yield ""
    spans = timeline_of(entries).spans
    walked = [
        (span, how_far)
        for span, how_far in zip(spans, _walked(entries, changes.plan), strict=True)
        if span.changed is not None
    ]
    for span, (over, left) in walked:
        name, took = span.setup or "wrap", _minutes(span.changing_s)
        if left:
            yield f"to {name}: {over} of {over + left} steps, {took} so far"
            continue
        worked = changes.known_between(span.before, span.setup)
        planned = "" if worked is None else f", planned {_minutes(worked.shares.total_s)}"
        yield f"to {name}: {took}{planned}"
    if not walked:
        yield "No changeover was walked yet."
        return
    yield ""
    slow = slow_steps(entries, changes)
    if not slow and all(how_far.left for _, how_far in walked):
        yield "No changeover was walked to its end yet."
    elif not slow:
        yield "No step was slow against its estimate."
    for each in slow[:8]:
        yield f"{each.text}: {_minutes(each.took_s)} instead of {_minutes(each.usual_s)}"
        yield f"   {each.do}"
    lost = sum(each.took_s - each.usual_s for each in slow)
    if lost >= 60:
        yield f"In all, slow steps lost {minutes_text(round(lost / 60))}."
    yield "The day plans with these times from now on; open it again to see."
