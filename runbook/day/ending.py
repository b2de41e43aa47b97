"""When the day ends, in words."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Final, NamedTuple

from runbook.model.day import Day

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


def stands_at(day: Day, now: datetime, *, begun: bool) -> datetime:
    """Where the day's clock stands: at its call, until its date has come or somebody begins it."""
    if begun or now.date() >= day.date:
        return now
    return datetime.combine(day.date, day.call, now.tzinfo)


def ends_in_words(end: datetime, wrap: datetime) -> str:
    """``ends about 17:20, 40 min to spare``, or how long over."""
    late = round((end.astimezone(UTC) - wrap.astimezone(UTC)).total_seconds() / 60)
    against = f"{span_said(abs(late))} {'over' if late > 0 else 'to spare'}"
    return f"ends about {end:%H:%M}, {against if late else 'on time'}"


def span_said(minutes: int) -> str:
    """``40 min``, ``2 h``, ``3 h 18``."""
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02}" if rest else f"{hours} h"
