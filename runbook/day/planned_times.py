"""The clock times of the day as planned: of setups, breaks, the strike, and single steps.

Times are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from runbook.clock.timetable import DayClock, Slot, median_run
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
    run, by_id = (
        median_run(day_as_planned(changes.plan, changes, clock=clock)),
        {pause.id: pause for pause in day.breaks},
    )
    breaks = tuple(PlannedBreak(by_id[pause.id], pause.start_s, pause.end_s) for pause in run.pauses)
    return PlannedTimes(clock, run.slots, breaks, run.strike_s, run.finish_s)
