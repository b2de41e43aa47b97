"""What can be done while the last setup is still shot, what needs the set, and what can wait.

The single-minute exchange of dies, taken to a set (S. Shingo, A Revolution in Manufacturing,
1985): work that does not need the machine stopped is done before it stops, or after it runs again.
Here the machine is the shooting, and only the time between last and first frame counts.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from runbook.change.unbroken import Task


class Phases(NamedTuple):
    """Step numbers: done before the last frame, in the stopped time, after the first frame."""

    before: frozenset[int]
    inside: frozenset[int]
    after: frozenset[int]


def phases(tasks: Sequence[Task], can_wait: Collection[int] = ()) -> Phases:
    """Part the steps by their own ``ahead`` and by ``can_wait``, and by what they hang on.

    A step goes before only if everything it follows does, and after only if everything that
    follows it does; the steps of one hold stay together, inside if any of them must be. Where a
    step could be either, it goes before.
    """
    before = _closed(tasks, {task.n for task in tasks if task.ahead}, waits_on=True)
    can = {task.n for task in tasks if task.n in can_wait and task.n not in before}
    after = _closed(tasks, can, waits_on=False)
    inside = {task.n for task in tasks} - before - after
    return Phases(frozenset(before), frozenset(inside), frozenset(after))


def of_phase(tasks: Sequence[Task], steps: Collection[int]) -> tuple[Task, ...]:
    """The tasks of one phase, waiting only for each other: the phases follow one another."""
    return tuple(
        task._replace(after=tuple(n for n in task.after if n in steps))
        for task in tasks
        if task.n in steps
    )


def _closed(tasks: Sequence[Task], steps: set[int], *, waits_on: bool) -> set[int]:
    """The steps left when those that hang on, or are hung on by, others have been taken out."""
    kept = set(steps)
    while True:
        broken = {task.hold for task in tasks if task.hold and task.n not in kept}
        out = {task.n for task in tasks if task.n in kept and task.hold in broken}
        for task in tasks:
            for earlier in task.after:
                if waits_on and task.n in kept and earlier not in kept:
                    out.add(task.n)
                if not waits_on and earlier in kept and task.n not in kept:
                    out.add(earlier)
        if not out:
            return kept
        kept -= out
