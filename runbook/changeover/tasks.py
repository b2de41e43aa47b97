"""The steps of a changeover as work to schedule, and which of them one hold keeps together.

While somebody holds a stand it is not let go, so the steps of one hold form one unbroken group. A
step that has to come between two steps of a hold belongs to the group, and so do the steps of a
second hold that the first one waits for. Whoever holds a stand does nothing else: work on another
stand meanwhile takes another person.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter
from itertools import count, islice

from runbook.changeover.steps import Step, is_in_hands


@dataclass(frozen=True, slots=True)
class Task:
    """A step as a scheduler sees it.

    ``after`` names the steps it waits for by ``n``, all of them lower; the steps of one hold share ``hold``; ``thing``
    is what the step is done to, as the list of steps groups them. ``by`` is who alone can do it, ``busy`` are those
    who cannot.
    """

    n: int
    seconds: float
    hands: int = 1
    after: tuple[int, ...] = ()
    hold: str | None = None
    ahead: bool = False
    thing: str = ""
    by: str = ""
    busy: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Demand:
    """The people that step ``n`` takes, with those who hold other stands meanwhile (``holds``).

    ``crew`` is who does the step, as indexes into the people that its unbroken group takes.
    """

    n: int
    people: int
    holds: tuple[str, ...]
    crew: tuple[int, ...]


def tasks_of(steps: Sequence[Step], people: int | None = None) -> tuple[Task, ...]:
    """Return the steps as tasks; a stand in somebody's hands is one hold.

    A step that is not among ``steps`` counts as done. With ``people`` given, a step that needs
    more takes all of them.
    """
    present = {step.n for step in steps}
    open_holds: dict[str, str] = {}
    tasks = []
    for step in steps:
        hold = None
        for stand in sorted(step.hands_on):
            hold = hold or open_holds.setdefault(stand, f"{stand} from {step.n}")
            if step.grip == "leave":
                open_holds.pop(stand, None)
        after = tuple(n for n in step.after if n in present)
        hands = min(max(step.hands, 1), people or step.hands)
        by, busy = str(step.on) if is_in_hands(step) else "", frozenset(step.busy)
        tasks.append(Task(step.n, step.seconds, hands, after, hold, step.ahead, step.thing, by, busy))
    return tuple(tasks)


def unbroken_groups(tasks: Sequence[Task]) -> list[list[int]]:
    """Return the step numbers in groups that go unbroken, each in the order it is done."""
    first_of_hold: dict[str, int] = {}
    lead = {task.n: task.n if task.hold is None else first_of_hold.setdefault(task.hold, task.n) for task in tasks}
    while first_of_hold:
        waits: dict[int, set[int]] = {n: set() for n in lead.values()}
        for task in tasks:
            waits[lead[task.n]] |= {lead[n] for n in task.after} - {lead[task.n]}
        try:
            TopologicalSorter(waits).prepare()
            break
        except CycleError as cycle:  # groups that wait for each other are one
            ring = cycle.args[1]
            lead = {n: min(ring) if at in ring else at for n, at in lead.items()}
    members: dict[int, list[int]] = defaultdict(list)
    for n in sorted(lead):
        members[lead[n]].append(n)
    return list(members.values())


def demands_of(group: Sequence[int], by_n: Mapping[int, Task]) -> Iterator[Demand]:
    """Yield the people that each step of an unbroken group takes, and who of them does it.

    Whoever takes hold of a stand comes first on each of its steps until it is let go.
    """
    last = {by_n[n].hold: n for n in group}
    holding: dict[str, int] = {}
    for n in group:
        task = by_n[n]
        others = tuple(hold for hold in holding if hold != task.hold)
        if task.hold is not None and task.hold not in holding:
            holding[task.hold] = next(person for person in count() if person not in holding.values())
        holder = () if task.hold is None else (holding[task.hold],)
        idle = (person for person in count() if person not in holding.values())
        yield Demand(n, len(others) + task.hands, others, (*holder, *islice(idle, task.hands - len(holder))))
        if task.hold is not None and n == last[task.hold]:
            del holding[task.hold]


def demands(tasks: Sequence[Task]) -> Iterator[Demand]:
    """Yield for every step the people it takes, however the steps are scheduled."""
    by_n = {task.n: task for task in tasks}
    for group in unbroken_groups(tasks):
        yield from demands_of(group, by_n)


def without_ahead(tasks: Sequence[Task]) -> tuple[Task, ...]:
    """Return the tasks that are left once those that can be done ahead are done."""
    ahead = {task.n for task in tasks if task.ahead}
    return tuple(
        replace(task, after=tuple(n for n in task.after if n not in ahead)) for task in tasks if not task.ahead
    )
