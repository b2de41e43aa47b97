"""What a rehearsal shows: the step at hand against a stopwatch, and afterwards what to change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from runbook.change.crew import waited_for
from runbook.change.unbroken import tasks_of
from runbook.journal.entries import Entry, SetupBegun, Skipped, StepTicked, live
from runbook.plan.tuples import NamedTuple
from runbook.session.changeovers import people_of
from runbook.session.ending import span_said
from runbook.session.planned_day import Changes, Worked
from runbook.session.real_times import real_times
from runbook.session.timings import busy_since

# Slow enough to talk about; our own figures.
_SLOW: Final = 1.5
_SLOW_S: Final = 15.0


class Lesson(NamedTuple):
    """A step that was slow: in which changeover, what it took and should take, and what to do."""

    setup: str | None
    text: str
    took_s: float
    usual_s: float
    do: str


def running_s(entries: Sequence[Entry], who: str, now: datetime) -> float | None:
    """How long somebody is at the step at hand; None where no stopwatch runs."""
    since = busy_since(entries, who)
    return None if since is None else max((now - since).total_seconds(), 0.0)


def stopwatch_said(running: float, usual: float) -> str:
    """``0:35 of 0:40``, and a word when it is over."""
    said = f"{_minutes(running)} of {_minutes(usual)}"
    return f"{said}, OVER" if running > usual else said


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"


def lessons(entries: Sequence[Entry], changes: Changes) -> tuple[Lesson, ...]:
    """What was slow against the estimate, most seconds lost first, with what to change."""
    before = {span.setup: span.before for span in real_times(entries).spans}
    setups = changes.plan.setups
    found = []
    for entry in live(entries):
        data = entry.data
        if not isinstance(data, StepTicked) or data.seconds is None:
            continue
        usual = float(data.step.get("seconds") or 0)
        if data.seconds < _SLOW * usual or data.seconds < usual + _SLOW_S:
            continue
        start = before.get(data.setup)
        known = all(each is None or each in setups for each in (start, data.setup))
        worked = changes.between(start, data.setup) if known else None
        do = _advice(worked, data, start, people_of(changes.plan))
        text = str(data.step.get("text") or data.step.get("verb"))
        found.append(Lesson(data.setup, text, data.seconds, usual, do))
    return tuple(sorted(found, key=lambda each: each.usual_s - each.took_s))


def _advice(worked: Worked | None, data: StepTicked, start: str | None, crew: int) -> str:
    key = tuple(str(data.step.get(part)) for part in ("verb", "kind", "item"))
    steps = worked.change.steps if worked else ()
    step = next((each for each in steps if each.key == key), None)
    if worked is None or step is None:
        return "walk it again"
    if step.ahead and start is not None:
        return f"do it ahead, while {start} is still shot"
    if step.n not in waited_for(tasks_of(steps, crew), worked.shares.work):
        return "nobody waits for it: let it run beside the others"
    if crew > step.hands:
        return "everybody waits for it: give it another hand"
    if len(step.after) == 0:
        return "everybody waits for it: begin with it"
    return "everybody waits for it: set out what it needs beforehand"


def _ticked(entries: Sequence[Entry]) -> dict[str | None, int]:
    """How many steps of each changeover were ticked or skipped."""
    found: dict[str | None, set[str]] = {}
    for entry in live(entries):
        data = entry.data
        if isinstance(data, SetupBegun):
            found[data.setup] = set()
        step = data.step if isinstance(data, StepTicked | Skipped) else None
        if step is not None:
            key = " ".join(str(step.get(part)) for part in ("verb", "kind", "item"))
            found.setdefault(data.setup, set()).add(key)
    return {setup: len(keys) for setup, keys in found.items()}


def page(entries: Sequence[Entry], changes: Changes) -> Iterator[str]:
    """The rehearsal in words: each changeover against its plan, then what was slow."""
    yield "REHEARSAL: what it showed"
    yield ""
    ticked = _ticked(entries)
    walked = [span for span in real_times(entries).spans if span.changed is not None]
    for span in walked:
        known = all(
            each is None or each in changes.plan.setups for each in (span.before, span.setup)
        )
        planned = so_far = ""
        if known:
            worked = changes.between(span.before, span.setup)
            planned = f", planned {_minutes(worked.shares.total_s)}"
            done = ticked.get(span.setup, 0)
            if done < len(worked.change.steps):
                so_far = f" for {done} of {len(worked.change.steps)} steps"
        yield f"to {span.setup or 'wrap'}: {_minutes(span.changing_s)}{so_far}{planned}"
    if not walked:
        yield "No changeover was walked yet."
        return
    yield ""
    slow = lessons(entries, changes)
    if not slow:
        yield "No step was slow against its estimate."
    for each in slow[:8]:
        yield f"{each.text}: {_minutes(each.took_s)} instead of {_minutes(each.usual_s)}"
        yield f"   {each.do}"
    lost = sum(each.took_s - each.usual_s for each in slow)
    if lost >= 60:
        yield f"In all, slow steps lost {span_said(round(lost / 60))}."
    yield "The day plans with these times from now on; open it again to see."
