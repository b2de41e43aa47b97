"""How long kinds of work took: measured as steps are ticked, and read back from journals.

Timings come from the day's own journal and rehearsal, and from those of the days in the folders
beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from math import log
from pathlib import Path
from typing import Final

from runbook.clock.estimates import spread_of_days
from runbook.journal.entries import (
    BreakBegun,
    BreakEnded,
    DayOpened,
    Entry,
    SetupBegun,
    SetupShot,
    StepTicked,
    live,
)
from runbook.journal.store import Journal
from runbook.journal.trouble import JournalTrouble
from runbook.plan.setup import Setup
from runbook.session.beliefs import NOTHING, SHOOTING, Known, usual_s
from runbook.session.near import journals_near
from runbook.session.real_times import Real, ends_step, worked_s

# Ticked sooner after the one before, a step was ticked along with it: neither was timed.
TOGETHER_S: Final = 2.0
_MOST_TIMES: Final = 8  # a gap longer than so many estimates, and two minutes, was no step
_MORE_S: Final = 120.0
_SIZE_MAX: Final = 16 * 2**20  # bytes of a journal to learn from: weeks of shooting
_MOST_OFF: Final = 4.0  # a shooting so many times longer or shorter than planned was not one


def measured_s(
    counted: Sequence[Entry], who: str, now: datetime, usual: float, *, alone: bool
) -> float | None:
    """The seconds a step took that somebody says is done now; None where they are not known.

    From whatever that person ticked before, or the beginning of the setup, the end of a break or
    the opening of the day. A step ticked along with another has no time of its own; nor has one
    after a gap in which something else must have happened. ``alone`` says that whoever ticks may
    tick for others too: then when they ticked last tells nothing of how long it took.
    """
    since = busy_since(counted, who)
    if since is None or alone:
        return None
    gap = (now - since).total_seconds()
    if gap < TOGETHER_S or gap > _MOST_TIMES * usual + _MORE_S:
        return None
    return round(gap, 1)


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


def share_shot(real: Real, setup: Setup, now: datetime) -> float | None:
    """What a shooting that ends now took of the time planned; None where that tells nothing."""
    span = real.last(setup.id)
    if span is None or not setup.shoot_min:
        return None
    took = worked_s(real, span.changed or span.begun, now)
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
    kept = {
        kind: tuple(seconds for n, seconds in each if n not in along)
        for kind, each in found.items()
    }
    return {kind: each for kind, each in kept.items() if each}


# --- from files


def known_from(paths: Iterable[Path]) -> Known:
    """The timings of some journals. One that cannot be read teaches nothing, and stops nothing."""
    known = NOTHING
    days: list[dict[str, tuple[float, ...]]] = []
    for path in paths:
        try:
            timings = timings_of(Journal.look(path, _SIZE_MAX).entries)
        except JournalTrouble:
            continue
        if timings:
            days.append(timings)
            known = known.with_timings(timings)
    return known._replace(
        days=len(days), day_sd=spread_of_days([_residuals(known, d) for d in days])
    )


def _residuals(known: Known, timings: Mapping[str, tuple[float, ...]]) -> list[float]:
    """ln(taken / believed) of a day's steps."""
    found = []
    for kind, taken in timings.items():
        with suppress(KeyError, ValueError):
            believed = log(known.belief(kind, usual_s(kind)).median_s)
            found += [log(seconds) - believed for seconds in taken]
    return found


def known_beside(records: Path) -> Known:
    """What the journals near a day teach: its own, its rehearsal, and those of the days beside."""
    return known_from(journals_near(records))
