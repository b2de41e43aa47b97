"""What happened when on a shoot day: setups, changeovers and breaks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from runbook.clock.timetable import wrap_at
from runbook.journal.events import BreakBegun, BreakEnded, Entry, SetupBegun, SetupShot, Skipped, StepTicked, live
from runbook.model.day import Day


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
    """Every time a setup was at work, in order; the breaks that are over, with their ids; since when one is on."""

    spans: tuple[Span, ...] = ()
    on_break: datetime | None = None
    pauses: tuple[tuple[datetime, datetime, str], ...] = ()

    def last(self, setup_id: str | None) -> Span | None:
        """Return the last time that a setup was at work."""
        return next((span for span in reversed(self.spans) if span.setup == setup_id), None)

    def working_s(self, start: datetime, end: datetime) -> float:
        """Return the seconds between two moments, without the breaks."""
        pauses = self.pauses if self.on_break is None else (*self.pauses, (self.on_break, end, ""))
        overlaps = ((min(until, end) - max(since, start)).total_seconds() for since, until, _ in pauses)
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
            return replace(timeline, on_break=None, pauses=(*timeline.pauses, (timeline.on_break, at, data.id)))
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


def clock_time(day: Day, now: datetime, *, begun: bool) -> datetime:
    """Return the time to plan from: the day's call until the day has come or somebody begins it, then now."""
    is_day = begun or wrap_at(day, now).date() >= day.date  # the small hours may belong to the day before
    return now if is_day else datetime.combine(day.date, day.call, now.tzinfo)
