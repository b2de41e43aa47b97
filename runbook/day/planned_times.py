"""The clock times of the day as planned: of setups, breaks, the strike, and single steps.

Times are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from runbook.clock.timetable import DayClock, Run, median_run
from runbook.day.changeovers import Changeovers
from runbook.day.planned_day import day_as_planned


@dataclass(frozen=True, slots=True)
class PlannedTimes:
    """The day if everything takes its median."""

    clock: DayClock
    run: Run

    @property
    def change_starts_s(self) -> tuple[float, ...]:
        """When each changeover begins, the strike last."""
        return (*(slot.start_s for slot in self.run.slots), self.run.strike_s)

    def step_s(self, start_s: float, work_s: float) -> float:
        """Return when so much of the work that begins at ``start_s`` is done; the breaks that cut into it count."""
        at = start_s + work_s
        for pause in self.run.pauses:
            if start_s <= pause.start_s <= at:
                at += pause.end_s - pause.start_s
        return at


def planned_times(changes: Changeovers, zone: dt.tzinfo) -> PlannedTimes:
    """Return the times of the day as planned, from its call on."""
    clock = DayClock(dt.datetime.combine(changes.plan.day.date, dt.time(), zone))
    return PlannedTimes(clock, median_run(day_as_planned(changes.plan, changes, clock=clock)))
