"""When the day ends, in words."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from runbook.plan.day import Day

# A night that runs long still belongs to the day it began: so long before the call the next begins.
_BEFORE_CALL: Final = timedelta(hours=4)


def wrap_at(day: Day, now: datetime) -> datetime:
    """The wrap of the shoot day that this moment belongs to, on whatever date it is shot."""
    call = timedelta(hours=day.call.hour, minutes=day.call.minute)
    began = now - max(call - _BEFORE_CALL, timedelta())
    return datetime.combine(began.date(), day.wrap, now.tzinfo)


def stands_at(day: Day, now: datetime, *, begun: bool) -> datetime:
    """Where the day's clock stands: at its call, until its date has come or somebody begins it."""
    if begun or now.date() >= day.date:
        return now
    return datetime.combine(day.date, day.call, now.tzinfo)


def ends_in_words(end: datetime, wrap: datetime) -> str:
    """``ends about 17:20, 40 min in hand``, or how long over."""
    late = round((end - wrap).total_seconds() / 60)
    against = f"{span_said(abs(late))} {'over' if late > 0 else 'in hand'}"
    return f"ends about {end:%H:%M}, {against if late else 'on time'}"


def span_said(minutes: int) -> str:
    """``40 min``, ``2 h``, ``3 h 18``."""
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02}" if rest else f"{hours} h"
