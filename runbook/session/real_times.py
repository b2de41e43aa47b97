"""When things really happened today, as the journal says: setups, breaks, changeovers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from runbook.journal.entries import (
    BreakBegun,
    BreakEnded,
    Entry,
    SetupBegun,
    SetupShot,
    Skipped,
    StepTicked,
    live,
)
from runbook.plan.tuples import NamedTuple


class Span(NamedTuple):
    """One setup at work (None: the wrap): begun, its last step done, called shot.

    ``changing_s`` is what its changeover took so far, breaks left out; ``before`` is the setup that
    stood there.
    """

    setup: str | None
    before: str | None
    begun: datetime
    changed: datetime | None = None
    shot: datetime | None = None
    changing_s: float = 0.0


class Real(NamedTuple):
    """Every time a setup was at work, in order, and the break that is on since when."""

    spans: tuple[Span, ...] = ()
    on_break: datetime | None = None

    def last(self, setup_id: str | None) -> Span | None:
        """The last time that a setup was at work."""
        return next((span for span in reversed(self.spans) if span.setup == setup_id), None)


def real_times(entries: Sequence[Entry]) -> Real:
    """The day's real times from the entries of its journal that count."""
    kept = live(entries)
    pauses, on_break = _pauses(kept)
    spans: list[Span] = []
    for entry in kept:
        data, now = entry.data, spans[-1] if spans else None
        if isinstance(data, SetupBegun):
            spans.append(Span(data.setup, now.setup if now else None, entry.at))
        elif now is None:
            continue
        elif ends_step(data) and data.setup == now.setup:
            took = entry.at - now.begun - _paused(pauses, now.begun, entry.at)
            spans[-1] = now._replace(changed=entry.at, changing_s=took.total_seconds())
        elif isinstance(data, SetupShot) and data.setup == now.setup:
            spans[-1] = now._replace(shot=entry.at)
    return Real(tuple(spans), on_break)


def worked_s(entries: Sequence[Entry], start: datetime, end: datetime) -> float:
    """The seconds between two moments, without the breaks of the journal."""
    pauses, on_break = _pauses(live(entries))
    if on_break is not None:
        pauses.append((on_break, end))
    return (end - start - _paused(pauses, start, end)).total_seconds()


def _pauses(kept: Sequence[Entry]) -> tuple[list[tuple[datetime, datetime]], datetime | None]:
    """The breaks that are over, and since when one is on."""
    pauses: list[tuple[datetime, datetime]] = []
    on_break: datetime | None = None
    for entry in kept:
        if isinstance(entry.data, BreakBegun):
            on_break = entry.at
        elif isinstance(entry.data, BreakEnded) and on_break is not None:
            pauses.append((on_break, entry.at))
            on_break = None
    return pauses, on_break


def ends_step(data: object) -> bool:
    """Whether an entry's data is of a step that is over: done, or left out."""
    return isinstance(data, StepTicked) or (isinstance(data, Skipped) and data.what == "step")


def _paused(
    pauses: Sequence[tuple[datetime, datetime]], start: datetime, end: datetime
) -> timedelta:
    return sum(
        (max(min(till, end) - max(since, start), timedelta()) for since, till in pauses),
        timedelta(),
    )
