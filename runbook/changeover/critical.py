"""The critical path of a schedule: what makes the whole late, and the slack of everything else.

Forward: a step starts when the last one it waits for has ended. Backward: it must end before the
first that waits for it has to start. Slack is what lies between (the critical path method).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter

from runbook.changeover.schedule import Work
from runbook.changeover.tasks import Task


@dataclass(frozen=True, slots=True)
class Slack:
    """Earliest and latest start of a step, in seconds from the beginning."""

    earliest_s: float
    latest_s: float

    @property
    def slack_s(self) -> float:
        """How late the step may start without making the whole late."""
        return self.latest_s - self.earliest_s


def critical_path(seconds: Mapping[int, float], after: Mapping[int, Sequence[int]]) -> dict[int, Slack]:
    """Return the earliest and latest starts that keep the shortest total, for steps by number.

    ``after`` may leave out steps that wait for nothing. Raises ValueError for a loop, and KeyError
    for a step that has no duration.
    """
    order = tuple(TopologicalSorter({n: after.get(n, ()) for n in seconds}).static_order())
    earliest: dict[int, float] = {}
    for n in order:
        earliest[n] = max((earliest[p] + seconds[p] for p in after.get(n, ())), default=0.0)
    end = max((earliest[n] + seconds[n] for n in order), default=0.0)
    latest = {n: end - seconds[n] for n in order}
    for n in reversed(order):
        for earlier in after.get(n, ()):
            latest[earlier] = min(latest[earlier], latest[n] - seconds[earlier])
    return {n: Slack(earliest[n], latest[n]) for n in seconds}


def predecessors(tasks: Sequence[Task], work: Sequence[Work]) -> dict[int, tuple[int, ...]]:
    """Return what each step waits for: its own ``after``, and what its people do just before."""
    by_n = {task.n: task for task in tasks}
    latest: dict[int, int] = {}
    before = {}
    for done in work:
        first = set(by_n[done.n].after)
        if by_n[done.n].seconds:
            first |= {latest[person] for person in done.crew if person in latest}
            latest.update(dict.fromkeys(done.crew, done.n))
        before[done.n] = tuple(sorted(first))
    return before


def critical_steps(tasks: Sequence[Task], work: Sequence[Work]) -> frozenset[int]:
    """Return the steps that make the whole a second late when any of them is a second late."""
    slack = critical_path({task.n: task.seconds for task in tasks}, predecessors(tasks, work))
    return frozenset(n for n in slack if slack[n].slack_s < 1e-6)
