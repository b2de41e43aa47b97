"""What goes unbroken in a changeover, and how many people that takes at once.

Steps of one unbroken hold are one job: a stand in somebody's hands is never let go between them.
A step that has to come between two steps of a hold is done within it, while somebody holds; so are
the steps of a second hold that waits for the first. Whoever holds does nothing else: another stand
worked on meanwhile takes another person.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import count, islice
from typing import NamedTuple

from runbook.change.steps import Step


class Task(NamedTuple):
    """A step as time sees it. ``after`` names steps by ``n``; ``hold`` is shared by one hold."""

    n: int
    seconds: float
    hands: int = 1
    after: tuple[int, ...] = ()
    hold: str | None = None
    ahead: bool = False


class Moment(NamedTuple):
    """A step: the people it takes with those who hold meanwhile, and the holds they see to."""

    people: int
    n: int
    holds: tuple[str, ...]


def tasks_of(steps: Sequence[Step], people: int | None = None) -> tuple[Task, ...]:
    """The steps as time sees them: a stand in somebody's hands is one unbroken hold.

    What a step follows that is not among them is done already. A step that needs more than all the
    ``people``, where so many are named, takes all of them: whoever else lends a hand does only
    that.
    """
    there = {step.n for step in steps}
    open_holds: dict[str, str] = {}
    tasks = []
    for step in steps:
        hold = None
        if step.held is not None:
            hold = open_holds.setdefault(step.held, f"{step.held} from {step.n}")
            if step.grip == "leave":
                del open_holds[step.held]
        after = tuple(n for n in step.after if n in there)
        hands = max(step.hands, 1)
        if people is not None:
            hands = min(hands, people)
        tasks.append(Task(step.n, step.seconds, hands, after, hold, step.ahead))
    return tuple(tasks)


def unbroken(tasks: Sequence[Task]) -> list[list[int]]:
    """The steps in the groups that go unbroken, each in the order it is done."""
    by_n = {task.n: task for task in tasks}
    first: dict[str, int] = {}
    lead = {
        task.n: task.n if task.hold is None else first.setdefault(task.hold, task.n)
        for task in tasks
    }
    waits: dict[int, set[int]] = {task.n: set() for task in tasks if lead[task.n] == task.n}
    for task in tasks:
        waits[lead[task.n]] |= {lead[n] for n in task.after} - {lead[task.n]}
    members = defaultdict(list)
    for task in tasks:
        members[lead[task.n]].append(task.n)
    return [
        _in_order([n for one in group for n in members[one]], by_n) for group in together(waits)
    ]


def hands_on(group: Sequence[int], by_n: Mapping[int, Task]) -> list[tuple[int, ...]]:
    """Who does each step of one unbroken group, as indexes into the people it takes.

    Whoever takes hold of a stand is the first on each of its steps until it is let go.
    """
    last = {by_n[n].hold: n for n in group}
    holding: dict[str, int] = {}
    crews = []
    for n in group:
        task = by_n[n]
        free = (person for person in count() if person not in holding.values())
        if task.hold is None:
            crews.append(tuple(islice(free, task.hands)))
            continue
        if task.hold not in holding:
            holding[task.hold] = next(free)
        mine = holding[task.hold]
        others = (person for person in count() if person not in holding.values())
        crews.append((mine, *islice(others, task.hands - 1)))
        if n == last[task.hold]:
            del holding[task.hold]
    return crews


def moments(tasks: Sequence[Task]) -> Iterator[Moment]:
    """Every step with the people it takes, however the steps are shared."""
    by_n = {task.n: task for task in tasks}
    for group in unbroken(tasks):
        last = {by_n[n].hold: n for n in group}
        held: list[str] = []
        for n in group:
            hold = by_n[n].hold
            others = tuple(each for each in held if each != hold)
            yield Moment(len(others) + by_n[n].hands, n, others)
            if hold is not None and hold not in held:
                held.append(hold)
            if hold is not None and n == last[hold]:
                held.remove(hold)


def together(after: Mapping[int, Collection[int]]) -> list[list[int]]:
    """The groups of nodes that wait for each other, earlier groups first (Tarjan's algorithm)."""
    found: list[list[int]] = []
    index: dict[int, int] = {}
    low: dict[int, int] = {}
    path: list[int] = []
    for root in after:
        if root in index:
            continue
        walk = [(root, iter(sorted(after[root])))]
        index[root] = low[root] = len(index)
        path.append(root)
        while walk:
            node, rest = walk[-1]
            for other in rest:
                if other not in index:
                    index[other] = low[other] = len(index)
                    path.append(other)
                    walk.append((other, iter(sorted(after[other]))))
                    break
                if low[other] >= 0:
                    low[node] = min(low[node], index[other])
            else:
                walk.pop()
                if walk:
                    low[walk[-1][0]] = min(low[walk[-1][0]], low[node])
                if low[node] == index[node]:
                    place = path.index(node)
                    group, path[place:] = path[place:], []
                    for member in group:
                        low[member] = -1  # done: no longer on the path
                    found.append(group)
    return found


def _in_order(numbers: list[int], by_n: Mapping[int, Task]) -> list[int]:
    """Lowest number first, as far as ``after`` allows."""
    left = sorted(numbers)
    done: list[int] = []
    while left:
        n = next(n for n in left if not any(earlier in left for earlier in by_n[n].after))
        left.remove(n)
        done.append(n)
    return done
