"""The clock times of the day as planned: of setups, breaks, the strike, and single steps.

Times are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from runbook.clock.timetable import DayClock, Slot, breaks_taken, median_day
from runbook.day.changeovers import Changeovers
from runbook.day.planned_day import day_as_planned
from runbook.model.day import Break


@dataclass(frozen=True, slots=True)
class PlannedBreak:
    """A break, and when it begins and ends."""

    of: Break
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class PlannedTimes:
    """When everything happens if it all takes its median: setups in order, breaks, and the end."""

    clock: DayClock
    slots: tuple[Slot, ...]
    breaks: tuple[PlannedBreak, ...]
    strike_s: float
    finish_s: float

    def step_s(self, start_s: float, work_s: float) -> float:
        """Return when so much of the work that begins at ``start_s`` is done; the breaks that cut into it count."""
        at = start_s + work_s
        for pause in self.breaks:
            if start_s <= pause.start_s <= at:
                at += pause.end_s - pause.start_s
        return at


def planned_times(changes: Changeovers, zone: dt.tzinfo) -> PlannedTimes:
    """Return the times of the day as planned, from its call on."""
    day = changes.plan.day
    clock = DayClock(dt.datetime.combine(day.date, dt.time(), zone))
    to_come = day_as_planned(changes.plan, changes, clock=clock)
    slots, finish_s = median_day(to_come)
    in_order = sorted(day.breaks, key=lambda pause: (pause.earliest, pause.latest))
    breaks = tuple(PlannedBreak(pause, *times) for pause, times in zip(in_order, breaks_taken(to_come), strict=False))
    strike_s = slots[-1].end_s if slots else to_come.now_s
    for pause in breaks:
        if pause.start_s == strike_s:
            strike_s = pause.end_s
    return PlannedTimes(clock, slots, breaks, strike_s, finish_s)
