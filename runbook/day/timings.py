"""How long steps took: measured as they are ticked, and read back from the journals nearby."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from math import log
from pathlib import Path
from typing import Final

from runbook.changeover.schedule import predecessors
from runbook.changeover.steps import Step
from runbook.clock.estimates import spread_of_days
from runbook.day.changeovers import NO_TIMINGS, SHOOTING, Changeover, Timings
from runbook.day.state import StepKey, step_key
from runbook.day.timeline import Timeline, ends_step
from runbook.files.paths import journals_near
from runbook.journal.errors import JournalError
from runbook.journal.events import BreakBegun, BreakEnded, DayOpened, Entry, SetupBegun, SetupShot, StepTicked, live
from runbook.journal.journal import Journal
from runbook.model.setup import Setup

TOGETHER_S: Final = 2.0  # ticked sooner after the one before, a step was ticked along with it: neither was timed
_MOST_TIMES: Final = 8  # a gap longer than so many estimates, and two minutes, was no step
_MORE_S: Final = 120.0
_LATER_S: Final = 0.5  # a step planned later than it could begin has no known start
_SIZE_MAX: Final = 16 * 2**20  # bytes of a journal to learn from: weeks of shooting
_MOST_OFF: Final = 4.0  # a shooting so many times longer or shorter than planned was not one

_Tick = tuple[datetime, str, StepKey]  # a step over: when, by whom, which


# --- a step ticked now


def step_time_s(
    counted: Sequence[Entry],
    who: str,
    now: datetime,
    step: Step,
    worked: Changeover | None,
    *,
    people: int,
    alone: bool,
) -> float | None:
    """Return the seconds a step took that somebody ticks now; None where they are not known.

    They run from the latest of: the last tick of whoever does the step, the ticks of what it waited for, the start of
    the setup, the end of a break, the opening of the day. ``worked`` is the changeover as shared over a crew of so many
    ``people``. ``alone`` says that one of them ticks for all: then a step is timed only where it does not matter who
    did the ones before. Not timed: a step ticked along with another, one not of the changeover or planned later than it
    could begin, and one after a gap in which something else must have happened.
    """
    recent = _ticks_since_start(counted)
    if recent is None:
        return None
    start, ticks = recent
    since = last = max([start, *(at for at, _, _ in ticks)])
    if people > 1:
        starts = _starts(ticks, who, step, worked, alone=alone)
        if starts is None:
            return None
        since = max([start, *starts])
        if alone and since < last:
            return None
    gap = (now - since).total_seconds()
    if gap < TOGETHER_S or gap > _MOST_TIMES * step.seconds + _MORE_S:
        return None
    return round(gap, 1)


def _ticks_since_start(counted: Sequence[Entry]) -> tuple[datetime, list[_Tick]] | None:
    """Return the start and the steps over of the changeover at hand; None on a break, or before any setup."""
    begun = next((n for n in reversed(range(len(counted))) if isinstance(counted[n].data, SetupBegun)), None)
    if begun is None:
        return None
    start: datetime | None = counted[begun].at
    ticks: list[_Tick] = []
    for entry in counted[begun + 1 :]:
        data = entry.data
        if isinstance(data, BreakBegun):
            start = None
        elif isinstance(data, (BreakEnded, DayOpened)):
            start = entry.at
        elif ends_step(data) and data.setup == counted[begun].data.setup:
            ticks.append((entry.at, entry.who, step_key(data.step or {})))
    return None if start is None else (start, ticks)


def _starts(
    ticks: Sequence[_Tick], who: str, step: Step, worked: Changeover | None, *, alone: bool
) -> list[datetime] | None:
    """Return when whoever does a step was free and what it waited for was over; None: not known."""
    by_key = {shared.step.key: shared for shared in worked.shared} if worked else {}
    mine = by_key.get(step.key)
    if worked is None or mine is None:
        return None
    by_n = {shared.step.n: shared for shared in worked.shared}
    waited = [by_n[n] for n in predecessors(worked.tasks, worked.schedule.work)[mine.step.n]]
    if mine.start_s > max((one.start_s + one.step.seconds for one in waited), default=0.0) + _LATER_S:
        return None

    def doers(by: str, key: StepKey) -> tuple[str, ...]:
        crew = by_key[key].crew if key in by_key else ()
        return crew if alone or by in crew else (by,)

    crew = doers(who, step.key)
    if step.hands > 1 and who not in crew and not alone:
        return None
    keys = {one.step.key for one in waited}
    return [at for at, by, key in ticks if key in keys or {*crew} & {*doers(by, key)}]


def busy_since(counted: Sequence[Entry], who: str) -> datetime | None:
    """Return since when somebody is at the step they tick next; None on a break, or before any setup."""
    recent = _ticks_since_start(counted)
    return recent and max([recent[0], *(at for at, by, _ in recent[1] if by == who)])


def shooting_share(timeline: Timeline, setup: Setup, now: datetime) -> float | None:
    """Return what a shooting that ends now took of the time planned; None where that is not a timing."""
    span = timeline.last(setup.id)
    if span is None or not setup.shoot_min:
        return None
    share = timeline.working_s(span.ready, now) / (60 * setup.shoot_min)
    return round(share, 3) if 1 / _MOST_OFF < share < _MOST_OFF else None


# --- what journals hold


def timings_of(entries: Iterable[Entry]) -> dict[str, tuple[float, ...]]:
    """Return a journal's timings: of steps by kind, of shooting in shares of the plan."""
    timed: list[tuple[str, int, float]] = []
    last: dict[str, Entry] = {}
    ticked_along: set[int] = set()
    for entry in live(entries):
        data = entry.data
        if isinstance(data, SetupShot) and data.share:
            timed.append((SHOOTING, entry.n, data.share))
        if not isinstance(data, StepTicked):
            continue
        before = last.get(entry.who)
        last[entry.who] = entry
        if data.seconds and data.work is not None:
            timed.append((data.work, entry.n, data.seconds))
        elif before is not None and (entry.at - before.at).total_seconds() < TOGETHER_S:
            ticked_along.add(before.n)  # its time was that of both
    by_kind: dict[str, tuple[float, ...]] = {}
    for kind, n, seconds in timed:
        if n not in ticked_along:
            by_kind[kind] = (*by_kind.get(kind, ()), seconds)
    return by_kind


def timings_near(records: Path) -> Timings:
    """Return the timings of the journals near a day: its own, its rehearsal, and those of the days beside it.

    One that cannot be read is left out.
    """
    timings = NO_TIMINGS
    days: list[dict[str, tuple[float, ...]]] = []
    for path in journals_near(records):
        with suppress(JournalError):
            day = timings_of(Journal.read(path, _SIZE_MAX).entries)
            if day:
                days.append(day)
                timings = timings.with_day(day)
    return replace(timings, day_sd=spread_of_days([_residuals(timings, day) for day in days]))


def _residuals(timings: Timings, day: Mapping[str, tuple[float, ...]]) -> list[float]:
    """Return ln(taken / believed) of a day's steps."""
    residuals: list[float] = []
    for kind, taken in day.items():
        with suppress(KeyError, ValueError):
            believed = log(timings.belief(kind).median_s)
            residuals += [log(seconds) - believed for seconds in taken]
    return residuals
