"""When things really happened today, as the journal says: setups, breaks, changeovers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from runbook.journal.entries import BreakBegun, BreakEnded, Entry, SetupBegun, SetupShot, Skipped, StepTicked, live


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
    """Every time a setup was at work, in order, and the breaks: those over, and the one on now."""

    spans: tuple[Span, ...] = ()
    on_break: datetime | None = None
    pauses: tuple[tuple[datetime, datetime], ...] = ()

    def last(self, setup_id: str | None) -> Span | None:
        """The last time that a setup was at work."""
        return next((span for span in reversed(self.spans) if span.setup == setup_id), None)


def real_times(entries: Sequence[Entry]) -> Real:
    """The day's real times from the entries of its journal that count."""
    real = Real()
    for entry in live(entries):
        real = advance_times(real, entry)
    return real


def advance_times(real: Real, entry: Entry) -> Real:
    """The real times after one more entry that counts; the same object where it tells no time."""
    data, now = entry.data, real.spans[-1] if real.spans else None
    if isinstance(data, BreakBegun):
        return real._replace(on_break=entry.at)
    if isinstance(data, BreakEnded) and real.on_break is not None:
        over = (real.on_break, entry.at)
        return real._replace(on_break=None, pauses=(*real.pauses, over))
    if isinstance(data, SetupBegun):
        begun = Span(data.setup, now.setup if now else None, entry.at)
        return real._replace(spans=(*real.spans, begun))
    if now is None:
        return real
    if ends_step(data) and data.setup == now.setup:
        on = () if real.on_break is None else ((real.on_break, entry.at),)
        took = entry.at - now.begun - _paused((*real.pauses, *on), now.begun, entry.at)
        now = now._replace(changed=entry.at, changing_s=took.total_seconds())
    elif isinstance(data, SetupShot) and data.setup == now.setup:
        now = now._replace(shot=entry.at)
    else:
        return real
    return real._replace(spans=(*real.spans[:-1], now))


def worked_s(real: Real, start: datetime, end: datetime) -> float:
    """The seconds between two moments, without the breaks."""
    on = () if real.on_break is None else ((real.on_break, end),)
    return (end - start - _paused((*real.pauses, *on), start, end)).total_seconds()


def ends_step(data: object) -> bool:
    """Whether an entry's data is of a step that is over: done, or left out."""
    return isinstance(data, StepTicked) or (isinstance(data, Skipped) and data.what == "step")


def _paused(pauses: Sequence[tuple[datetime, datetime]], start: datetime, end: datetime) -> timedelta:
    return sum((max(min(till, end) - max(since, start), timedelta()) for since, till in pauses), timedelta())
