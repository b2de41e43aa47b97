"""How long steps took: measured as they are ticked, and read back from the journals nearby."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from math import log
from pathlib import Path
from typing import Any, Final, NamedTuple

from runbook.changeover.steps import Step
from runbook.clock.estimates import spread_of_days
from runbook.day.planned_day import NO_TIMINGS, SHOOTING, PlannedChangeover, Timings, estimated_s
from runbook.day.state import StepKey
from runbook.day.timeline import Timeline, ends_step, working_s
from runbook.journal.entries import (
    BreakBegun,
    BreakEnded,
    DayOpened,
    Entry,
    SetupBegun,
    SetupShot,
    Skipped,
    StepTicked,
    live,
)
from runbook.journal.store import Journal
from runbook.journal.trouble import JournalTrouble
from runbook.model.setup import Setup

# Ticked sooner after the one before, a step was ticked along with it: neither was timed.
TOGETHER_S: Final = 2.0
_MOST_TIMES: Final = 8  # a gap longer than so many estimates, and two minutes, was no step
_MORE_S: Final = 120.0
_LATER_S: Final = 0.5  # a step planned later than it could begin has no start that is known
_SIZE_MAX: Final = 16 * 2**20  # bytes of a journal to learn from: weeks of shooting
_MOST_OFF: Final = 4.0  # a shooting so many times longer or shorter than planned was not one


def step_time_s(
    counted: Sequence[Entry],
    who: str,
    now: datetime,
    step: Step,
    worked: PlannedChangeover | None,
    *,
    people: int,
    alone: bool,
) -> float | None:
    """Return the seconds a step took that somebody ticks now; None where they are not known.

    They run from the latest of the last tick of whoever does the step, the ticks of what it waited
    for, and the beginning of the setup, the end of a break or the opening of the day. ``worked`` is
    the changeover as it is shared over a crew of so many ``people``. ``alone`` says that one of
    them ticks for all: then a step is timed only if it does not matter whose the ticks before were.
    A step ticked along with another has no time of its own, nor has one that is not of the
    changeover or begins later than it could, nor one after a gap in which something else must have
    happened.
    """
    ticks = _ticks_since_start(counted)
    if ticks is None:
        return None
    every = [ticks.start, *(at for at, _, _ in ticks.over)]
    since = every
    if people > 1:
        starts = _starts(ticks, who, step, worked, alone=alone)
        if starts is None or (alone and max([ticks.start, *starts]) < max(every)):
            return None
        since = [ticks.start, *starts]
    gap = (now - max(since)).total_seconds()
    if gap < TOGETHER_S or gap > _MOST_TIMES * step.seconds + _MORE_S:
        return None
    return round(gap, 1)


class _Ticks(NamedTuple):
    """The steps over since ``start``: when, by whom, and which."""

    start: datetime
    over: tuple[tuple[datetime, str, StepKey], ...]


def _ticks_since_start(counted: Sequence[Entry]) -> _Ticks | None:
    """Return the steps over in the changeover at hand; None on a break, or before any setup."""
    begun = next((n for n in reversed(range(len(counted))) if isinstance(counted[n].data, SetupBegun)), None)
    if begun is None:
        return None
    start: datetime | None = counted[begun].at
    over: list[tuple[datetime, str, StepKey]] = []
    at_work = counted[begun].data.setup
    for entry in counted[begun + 1 :]:
        data = entry.data
        if isinstance(data, BreakBegun):
            start = None
        elif isinstance(data, (BreakEnded, DayOpened)):
            start = entry.at
        elif isinstance(data, (StepTicked, Skipped)) and ends_step(data) and data.setup == at_work:
            over.append((entry.at, entry.who, step_key(data.step or {})))
    return None if start is None else _Ticks(start, tuple(over))


def _starts(
    ticks: _Ticks, who: str, step: Step, worked: PlannedChangeover | None, *, alone: bool
) -> list[datetime] | None:
    """Return when whoever does a step was free and what it waited for was over; None: not known."""
    if worked is None:
        return None
    shared = {each.step.key: each for each in worked.shares.steps}
    mine = shared.get(step.key)
    if mine is None:
        return None
    order = [work.n for work in worked.shares.work]
    by_n = {each.step.n: each for each in worked.shares.steps}
    waited = [by_n[order[n]] for n in worked.pieces[order.index(mine.step.n)].after]
    could = max((each.start_s + each.step.seconds for each in waited), default=0.0)
    if mine.start_s > could + _LATER_S:
        return None

    def doers(by: str, key: StepKey) -> tuple[str, ...]:
        crew = shared[key].crew if key in shared else ()
        return crew if alone or by in crew else (by,)

    do_it = doers(who, step.key)
    if step.hands > 1 and who not in do_it and not alone:
        return None
    keys = {each.step.key for each in waited}
    return [at for at, by, key in ticks.over if key in keys or {*do_it} & {*doers(by, key)}]


def step_key(step: Mapping[str, Any]) -> StepKey:
    """Return what tells one step from another, from a step as an entry of the journal has it."""
    return str(step.get("verb")), str(step.get("kind")), str(step.get("item"))


def busy_since(counted: Sequence[Entry], who: str) -> datetime | None:
    """Since when somebody is at the step they will tick next; None on a break, or before all."""
    entry: Entry
    for entry in reversed(counted):
        if isinstance(entry.data, BreakBegun):
            return None
        if isinstance(entry.data, (SetupBegun, BreakEnded, DayOpened)):
            return entry.at
        if ends_step(entry.data) and entry.who == who:
            return entry.at
    return None


def shooting_share(real: Timeline, setup: Setup, now: datetime) -> float | None:
    """What a shooting that ends now took of the time planned; None where that tells nothing."""
    span = real.last(setup.id)
    if span is None or not setup.shoot_min:
        return None
    took = working_s(real, span.changed or span.begun, now)
    share = took / (60 * setup.shoot_min)
    return round(share, 3) if 1 / _MOST_OFF < share < _MOST_OFF else None


def timings_of(entries: Iterable[Entry]) -> dict[str, tuple[float, ...]]:
    """The timings that a journal holds: of steps by kind, of shooting in shares of the plan."""
    found: dict[str, list[tuple[int, float]]] = {}
    last: dict[str, Entry] = {}
    along: set[int] = set()
    for entry in live(entries):
        data = entry.data
        if isinstance(data, SetupShot) and data.share:
            found.setdefault(SHOOTING, []).append((entry.n, data.share))
        if not isinstance(data, StepTicked):
            continue
        before = last.get(entry.who)
        last[entry.who] = entry
        if data.seconds and data.work is not None:
            found.setdefault(data.work, []).append((entry.n, data.seconds))
        elif before is not None and (entry.at - before.at).total_seconds() < TOGETHER_S:
            along.add(before.n)  # its time was that of both
    kept = {kind: tuple(seconds for n, seconds in each if n not in along) for kind, each in found.items()}
    return {kind: each for kind, each in kept.items() if each}


# --- from files


def timings_from(paths: Iterable[Path]) -> Timings:
    """The timings of some journals. One that cannot be read teaches nothing, and stops nothing."""
    known = NO_TIMINGS
    days: list[dict[str, tuple[float, ...]]] = []
    for path in paths:
        try:
            timings = timings_of(Journal.look(path, _SIZE_MAX).entries)
        except JournalTrouble:
            continue
        if timings:
            days.append(timings)
            known = known.with_timings(timings)
    return known._replace(days=len(days), day_sd=spread_of_days([_residuals(known, d) for d in days]))


def _residuals(known: Timings, timings: Mapping[str, tuple[float, ...]]) -> list[float]:
    """ln(taken / believed) of a day's steps."""
    found = []
    for kind, taken in timings.items():
        with suppress(KeyError, ValueError):
            believed = log(known.belief(kind, estimated_s(kind)).median_s)
            found += [log(seconds) - believed for seconds in taken]
    return found


def timings_near(records: Path) -> Timings:
    """What the journals near a day teach: its own, its rehearsal, and those of the days beside."""
    return timings_from(journals_near(records))


_NAMES: Final = ("journal.runlog", "rehearsal.runlog")
_READ: Final = 30  # the newest; older ones had other hands


def journals_near(records: Path) -> tuple[Path, ...]:
    """The journals to learn from, the newest first: the day's own, its rehearsal, and those of the
    folders beside it. ``records`` is where the day keeps its own.
    """
    own = records.resolve()
    found: list[tuple[float, Path]] = []
    for folder in (str(own), *_beside(own)):
        for name in _NAMES:
            path = os.path.join(folder, name)  # noqa: PTH118 - a thousand folders, at every start
            try:
                there = os.stat(path)  # noqa: PTH116
            except OSError:
                continue
            if stat.S_ISREG(there.st_mode):
                found.append((there.st_mtime, Path(path)))
    found.sort(key=lambda each: -each[0])
    return tuple(path for _, path in found[:_READ])


def has_journal(records: Path) -> bool:
    """Whether the day that keeps its records there was ever opened."""
    return os.path.exists(records / _NAMES[0])  # noqa: PTH110 (never raises, as a Path may)


def _beside(own: Path) -> list[str]:
    try:
        with os.scandir(own.parent) as entries:
            return [each.path for each in entries if each.is_dir() and each.name != own.name]
    except OSError:
        return []
