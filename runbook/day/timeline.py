"""The clock of a shoot day, and what happened when: setups, changeovers and breaks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from typing import Final, NamedTuple

from runbook.journal.entries import BreakBegun, BreakEnded, Entry, SetupBegun, SetupShot, Skipped, StepTicked, live
from runbook.model.day import Day


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


class Timeline(NamedTuple):
    """Every time a setup was at work, in order, and the breaks: those over, and the one on now."""

    spans: tuple[Span, ...] = ()
    on_break: datetime | None = None
    pauses: tuple[tuple[datetime, datetime], ...] = ()

    def last(self, setup_id: str | None) -> Span | None:
        """The last time that a setup was at work."""
        return next((span for span in reversed(self.spans) if span.setup == setup_id), None)


def timeline_of(entries: Sequence[Entry]) -> Timeline:
    """The day's real times from the entries of its journal that count."""
    real = Timeline()
    for entry in live(entries):
        real = advance_timeline(real, entry)
    return real


def advance_timeline(real: Timeline, entry: Entry) -> Timeline:
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


def working_s(real: Timeline, start: datetime, end: datetime) -> float:
    """The seconds between two moments, without the breaks."""
    on = () if real.on_break is None else ((real.on_break, end),)
    return (end - start - _paused((*real.pauses, *on), start, end)).total_seconds()


def ends_step(data: object) -> bool:
    """Whether an entry's data is of a step that is over: done, or left out."""
    return isinstance(data, StepTicked) or (isinstance(data, Skipped) and data.what == "step")


def _paused(pauses: Sequence[tuple[datetime, datetime]], start: datetime, end: datetime) -> timedelta:
    return sum((max(min(till, end) - max(since, start), timedelta()) for since, till in pauses), timedelta())


# A night that runs long still belongs to the day it began: so long before the call the next begins.
_BEFORE_CALL: Final = timedelta(hours=4)


def wrap_at(day: Day, now: datetime) -> datetime:
    """The wrap of the shoot day that this moment belongs to, on whatever date it is shot."""
    call = timedelta(hours=day.call.hour, minutes=day.call.minute)
    began = now - max(call - _BEFORE_CALL, timedelta())
    return datetime.combine(began.date(), day.wrap, now.tzinfo)


class DayClock(NamedTuple):
    """Times of a shoot day as the seconds that pass since its midnight, and back to clock time.

    In the night of a change of the clocks these are not the seconds that a clock on the wall shows.
    """

    midnight: datetime

    def seconds(self, moment: datetime) -> float:
        """Return the seconds from midnight to a moment."""
        return (moment.astimezone(UTC) - self.midnight.astimezone(UTC)).total_seconds()

    def seconds_of(self, wall: time) -> float:
        """Return the seconds from midnight to a time of day."""
        return self.seconds(datetime.combine(self.midnight.date(), wall, self.midnight.tzinfo))

    def moment(self, seconds: float) -> datetime:
        """Return the moment so many seconds after midnight."""
        utc = self.midnight.astimezone(UTC) + timedelta(seconds=seconds)
        return utc.astimezone(self.midnight.tzinfo)

    def short(self, seconds: float) -> str:
        """Return the time of day to the minute, as ``17:20``."""
        return f"{self.moment(60 * round(seconds / 60)):%H:%M}"

    def exact(self, seconds: float) -> str:
        """Return the time of day to the second, as ``17:20:05``."""
        return f"{self.moment(round(seconds)):%H:%M:%S}"


def day_clock(day: Day, now: datetime) -> DayClock:
    """Return the clock of the shoot day that a moment belongs to."""
    start = wrap_at(day, now).replace(hour=0, minute=0, second=0, microsecond=0)
    return DayClock(start)


def clock_time(day: Day, now: datetime, *, begun: bool) -> datetime:
    """Where the day's clock stands: at its call, until its date has come or somebody begins it."""
    if begun or now.date() >= day.date:
        return now
    return datetime.combine(day.date, day.call, now.tzinfo)
