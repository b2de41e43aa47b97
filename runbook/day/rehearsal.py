"""The rehearsal: a stopwatch for the step at hand, and afterwards a report of what was slow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from runbook.changeover.schedule import critical_steps
from runbook.day.changeovers import Changeovers, people_of
from runbook.day.day_view import DayView
from runbook.day.reduce import reduce
from runbook.day.state import DayState, step_key
from runbook.day.timeline import timeline_of
from runbook.journal.events import Entry, SetupBegun, StepTicked, live
from runbook.model.day import Plan
from runbook.model.units import minutes_text

_SLOW: Final = 1.5  # slow enough to talk about, with the seconds below; our own figures
_SLOW_S: Final = 15.0
_MOST_STEPS: Final = 8  # in the report


@dataclass(frozen=True, slots=True)
class SlowStep:
    """A step that was slow: its changeover, its text, what it took and should take, and a remedy."""

    setup: str | None
    text: str
    took_s: float
    usual_s: float
    do: str


def stopwatch_text(running_s: float, usual_s: float) -> str:
    """Return ``0:35 of 0:40``, with OVER behind it once it is."""
    return f"{_clock(running_s)} of {_clock(usual_s)}{', OVER' if running_s > usual_s else ''}"


def _clock(seconds: float) -> str:
    return f"{max(int(seconds), 0) // 60}:{max(int(seconds), 0) % 60:02}"


def slow_steps(entries: Sequence[Entry], changes: Changeovers) -> tuple[SlowStep, ...]:
    """Return the steps that were slow against their estimate, most seconds lost first, with what to change."""
    before = {span.setup: span.before for span in timeline_of(entries).spans}
    slow = []
    for entry in live(entries):
        data = entry.data
        if not isinstance(data, StepTicked) or data.seconds is None:
            continue
        usual_s = float(data.step.get("seconds") or 0)
        if data.seconds >= _SLOW * usual_s and data.seconds >= usual_s + _SLOW_S:
            text = str(data.step.get("text") or data.step.get("verb"))
            do = _remedy(changes, data, before.get(data.setup))
            slow.append(SlowStep(data.setup, text, data.seconds, usual_s, do))
    return tuple(sorted(slow, key=lambda step: step.usual_s - step.took_s))


def _remedy(changes: Changeovers, data: StepTicked, start: str | None) -> str:
    planned = changes.known_between(start, data.setup)
    steps = planned.steps if planned else ()
    step = next((step for step in steps if step.key == step_key(data.step)), None)
    crew = people_of(changes.plan)
    if planned is None or step is None:
        return "rehearse it again"
    if step.ahead and start is not None:
        return f"do it ahead, while {start} is still being shot"
    if step.n not in critical_steps(planned.tasks, planned.schedule.work):
        return "no step waits for it: do it beside the others"
    if crew > step.hands:
        return "other steps wait for it: give it another person"
    if not step.after:
        return "other steps wait for it: begin with it"
    return "other steps wait for it: set out what it needs beforehand"


def _states_at_ends(entries: Sequence[Entry], plan: Plan) -> Iterator[DayState]:
    """Yield the state at the end of each changeover of the journal: when the next was begun, or now."""
    state = DayState()
    for entry in live(entries):
        if isinstance(entry.data, SetupBegun) and state.begun:
            yield state
        state = reduce(plan, state, entry)
    if state.begun:
        yield state


def rehearsal_report(entries: Sequence[Entry], changes: Changeovers) -> Iterator[str]:
    """Yield the report: each changeover against its plan, then what was slow.

    A changeover that was not rehearsed to its end is not compared with its plan.
    """
    yield "REHEARSAL: report"
    yield ""
    rehearsed = []
    for span, state in zip(timeline_of(entries).spans, _states_at_ends(entries, changes.plan), strict=True):
        if span.changed is None:
            continue
        left, over = len(DayView(changes, state, (), ()).pending.left), len(state.done) + len(state.steps_skipped)
        rehearsed.append(left)
        line = f"to {span.setup or 'wrap'}: "
        planned = changes.known_between(span.before, span.setup)
        if left:
            yield f"{line}{over} of {over + left} steps, {_clock(span.changing_s)} so far"
        else:
            yield line + _clock(span.changing_s) + (f", planned {_clock(planned.total_s)}" if planned else "")
    if not rehearsed:
        yield "No changeover was rehearsed yet."
        return
    yield ""
    slow = slow_steps(entries, changes)
    if not slow:
        yield "No changeover was rehearsed to its end yet." if all(rehearsed) else "No step was slow."
    for step in slow[:_MOST_STEPS]:
        yield f"{step.text}: {_clock(step.took_s)} instead of {_clock(step.usual_s)}"
        yield f"   {step.do}"
    lost_s = sum(step.took_s - step.usual_s for step in slow)
    if lost_s >= 60:
        yield f"In total, slow steps lost {minutes_text(round(lost_s / 60))}."
    yield "The plan uses these times the next time the day is opened."
