"""The clock of a shoot day, and what happened when: setups, changeovers and breaks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from typing import Final

from runbook.journal.events import BreakBegun, BreakEnded, Entry, SetupBegun, SetupShot, Skipped, StepTicked, live
from runbook.model.day import Day

# A night that runs long still belongs to the day it began: the next day begins this long before the call.
_BEFORE_CALL: Final = timedelta(hours=4)


@dataclass(frozen=True, slots=True)
class Span:
    """The time a setup was at work (None: the wrap): begun, last step done, marked as shot.

    ``before`` is the setup that stood there; ``changing_s`` the changeover's time so far, without breaks.
    """

    setup: str | None
    before: str | None
    begun: datetime
    changed: datetime | None = None
    shot: datetime | None = None
    changing_s: float = 0.0

    @property
    def ready(self) -> datetime:
        """When the last step was done, else when it was begun."""
        return self.changed or self.begun


@dataclass(frozen=True, slots=True)
class Timeline:
    """Every time a setup was at work, in order; the breaks that are over; since when one is on."""

    spans: tuple[Span, ...] = ()
    on_break: datetime | None = None
    pauses: tuple[tuple[datetime, datetime], ...] = ()

    def last(self, setup_id: str | None) -> Span | None:
        """Return the last time that a setup was at work."""
        return next((span for span in reversed(self.spans) if span.setup == setup_id), None)

    def working_s(self, start: datetime, end: datetime) -> float:
        """Return the seconds between two moments, without the breaks."""
        pauses = self.pauses if self.on_break is None else (*self.pauses, (self.on_break, end))
        overlaps = ((min(until, end) - max(since, start)).total_seconds() for since, until in pauses)
        return (end - start).total_seconds() - sum(max(overlap, 0.0) for overlap in overlaps)


def timeline_of(entries: Iterable[Entry]) -> Timeline:
    """Return the timeline of a journal, from its entries that count."""
    timeline = Timeline()
    for entry in live(entries):
        timeline = advance_timeline(timeline, entry)
    return timeline


def advance_timeline(timeline: Timeline, entry: Entry) -> Timeline:
    """Return the timeline after one more entry that counts."""
    data, at = entry.data, entry.at
    span = timeline.spans[-1] if timeline.spans else None
    match data:
        case BreakBegun():
            return replace(timeline, on_break=at)
        case BreakEnded() if timeline.on_break is not None:
            return replace(timeline, on_break=None, pauses=(*timeline.pauses, (timeline.on_break, at)))
        case SetupBegun():
            return replace(timeline, spans=(*timeline.spans, Span(data.setup, span.setup if span else None, at)))
        case StepTicked() | Skipped() if ends_step(data) and span is not None and data.setup == span.setup:
            span = replace(span, changed=at, changing_s=timeline.working_s(span.begun, at))
        case SetupShot() if span is not None and data.setup == span.setup:
            span = replace(span, shot=at)
        case _:
            return timeline
    return replace(timeline, spans=(*timeline.spans[:-1], span))


def ends_step(data: object) -> bool:
    """Return whether an entry's data is of a step that is over: done or skipped."""
    return isinstance(data, StepTicked) or (isinstance(data, Skipped) and data.what == "step")


def wrap_at(day: Day, now: datetime) -> datetime:
    """Return the wrap of the shoot day that this moment belongs to, on whatever date it is shot."""
    call = timedelta(hours=day.call.hour, minutes=day.call.minute)
    began = now - max(call - _BEFORE_CALL, timedelta())
    return datetime.combine(began.date(), day.wrap, now.tzinfo)


@dataclass(frozen=True, slots=True)
class DayClock:
    """Converts between moments and the seconds that pass since the midnight of a shoot day.

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
    return DayClock(wrap_at(day, now).replace(hour=0, minute=0, second=0, microsecond=0))


def clock_time(day: Day, now: datetime, *, begun: bool) -> datetime:
    """Return the time to plan from: the day's call until its date has come or somebody begins it, then now."""
    is_day = begun or now.date() >= day.date
    return now if is_day else datetime.combine(day.date, day.call, now.tzinfo)
