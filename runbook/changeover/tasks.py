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
from itertools import count, islice

from runbook.changeover.steps import Step


@dataclass(frozen=True, slots=True)
class Task:
    """A step as a scheduler sees it.

    ``after`` names the steps it waits for by ``n``; the steps of one hold share ``hold``; ``thing``
    is what the step is done to, as the list of steps groups them.
    """

    n: int
    seconds: float
    hands: int = 1
    after: tuple[int, ...] = ()
    hold: str | None = None
    ahead: bool = False
    thing: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """The people that step ``n`` takes, with those who hold other stands meanwhile (``holds``)."""

    people: int
    n: int
    holds: tuple[str, ...]


def tasks_of(steps: Sequence[Step], people: int | None = None) -> tuple[Task, ...]:
    """Return the steps as tasks; a stand in somebody's hands is one hold.

    A step that is not among ``steps`` is taken as done. With ``people`` given, a step that needs
    more takes all of them.
    """
    present = {step.n for step in steps}
    open_holds: dict[str, str] = {}
    tasks = []
    for step in steps:
        hold = None
        if step.held is not None:
            hold = open_holds.setdefault(step.held, f"{step.held} from {step.n}")
            if step.grip == "leave":
                del open_holds[step.held]
        after = tuple(n for n in step.after if n in present)
        hands = max(step.hands, 1)
        if people is not None:
            hands = min(hands, people)
        tasks.append(Task(step.n, step.seconds, hands, after, hold, step.ahead, step.thing))
    return tuple(tasks)


def unbroken_groups(tasks: Sequence[Task]) -> list[list[int]]:
    """Return the step numbers in groups that go unbroken, each in the order it is done."""
    by_n = {task.n: task for task in tasks}
    first: dict[str, int] = {}
    lead = {task.n: task.n if task.hold is None else first.setdefault(task.hold, task.n) for task in tasks}
    waits: dict[int, set[int]] = {n: set() for n in lead.values()}
    for task in tasks:
        waits[lead[task.n]] |= {lead[n] for n in task.after} - {lead[task.n]}
    if first:
        merged = _mutual(waits)
        lead = {n: merged[at] for n, at in lead.items()}
    members: dict[int, list[int]] = defaultdict(list)
    for task in tasks:
        members[lead[task.n]].append(task.n)
    return [_in_order(group, by_n) for group in members.values()]


def crew_slots(group: Sequence[int], by_n: Mapping[int, Task]) -> list[tuple[int, ...]]:
    """Return who does each step of an unbroken group, as indexes into the people it takes.

    Whoever takes hold of a stand comes first on each of its steps until it is let go.
    """
    last = {by_n[n].hold: n for n in group}
    holding: dict[str, int] = {}
    slots = []
    for n in group:
        task = by_n[n]
        free = (person for person in count() if person not in holding.values())
        if task.hold is None:
            slots.append(tuple(islice(free, task.hands)))
            continue
        if task.hold not in holding:
            holding[task.hold] = next(free)
        holder = holding[task.hold]
        others = (person for person in count() if person not in holding.values())
        slots.append((holder, *islice(others, task.hands - 1)))
        if n == last[task.hold]:
            del holding[task.hold]
    return slots


def demands(tasks: Sequence[Task]) -> Iterator[Demand]:
    """Yield for every step the people it takes, however the steps are scheduled."""
    by_n = {task.n: task for task in tasks}
    for group in unbroken_groups(tasks):
        last = {by_n[n].hold: n for n in group}
        held: list[str] = []
        for n in group:
            hold = by_n[n].hold
            others = tuple(other for other in held if other != hold)
            yield Demand(len(others) + by_n[n].hands, n, others)
            if hold is not None and hold not in held:
                held.append(hold)
            if hold is not None and n == last[hold]:
                held.remove(hold)


def ahead_steps(tasks: Sequence[Task]) -> frozenset[int]:
    """Return the steps that can be done while the last setup is still shot.

    A step goes ahead only if all that it waits for does; the steps of one hold go together.
    """
    ahead = {task.n for task in tasks if task.ahead}
    while True:
        broken = {task.hold for task in tasks if task.hold and task.n not in ahead}
        held_back = {
            task.n for task in tasks if task.n in ahead and (task.hold in broken or not ahead.issuperset(task.after))
        }
        if not held_back:
            return frozenset(ahead)
        ahead -= held_back


def without(tasks: Sequence[Task], done: frozenset[int]) -> tuple[Task, ...]:
    """Return the tasks that are left when the steps ``done`` are done."""
    return tuple(
        replace(task, after=tuple(n for n in task.after if n not in done)) for task in tasks if task.n not in done
    )


def _mutual(waits: Mapping[int, set[int]]) -> dict[int, int]:
    """Return for each node the first one of those that wait for it and that it waits for."""
    place = {node: at for at, node in enumerate(waits)}
    reach = [sum(1 << place[other] for other in others) for others in waits.values()]
    for via in range(len(reach)):
        onward = reach[via]
        reach = [others | onward if others >> via & 1 else others for others in reach]
    nodes = list(waits)
    return {
        node: next((nodes[i] for i in range(at) if reach[at] >> i & 1 and reach[i] >> at & 1), node)
        for at, node in enumerate(nodes)
    }


def _in_order(numbers: list[int], by_n: Mapping[int, Task]) -> list[int]:
    """Return the steps with the lowest number first, as far as ``after`` allows."""
    left = sorted(numbers)
    done: list[int] = []
    while left:
        n = next(n for n in left if not any(earlier in left for earlier in by_n[n].after))
        left.remove(n)
        done.append(n)
    return done
