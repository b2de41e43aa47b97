"""Who does which step when, so that a changeover takes the least time.

Steps of one unbroken hold are one job: a stand in somebody's hands is never let go between them,
and the same people see it through. A step that has to come between two steps of a hold is done
within it, by the same people. Nobody waits with a stand in their hands: a hold begins when
everything that any of its steps needs is ready; what follows one of its steps may begin when that
step is done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from math import gcd
from typing import Final

from runbook.change.critical import critical_path
from runbook.change.makespan import SHAKES, Job, Schedule, never, schedule
from runbook.plan.tuples import NamedTuple

_UNITS_A_SECOND: Final = 10


class Task(NamedTuple):
    """A step as time sees it. ``after`` names steps by ``n``; ``hold`` is shared by one hold."""

    n: int
    seconds: float
    hands: int = 1
    after: tuple[int, ...] = ()
    hold: str | None = None
    ahead: bool = False


class Work(NamedTuple):
    """Who does step ``n``, as indexes into the crew, and when it starts."""

    n: int
    crew: tuple[int, ...]
    start_s: float


class Share(NamedTuple):
    """All steps in the order they start, the whole time, and the least it could be."""

    work: tuple[Work, ...]
    total_s: float
    bound_s: float

    @property
    def proven(self) -> bool:
        """Nothing shorter exists."""
        return self.total_s <= self.bound_s

    @property
    def gap(self) -> float:
        """How much of the time might still be saved, at most: 0.02 is two per cent."""
        return 0.0 if self.proven else 1 - self.bound_s / self.total_s


class TooFewHands(ValueError):
    """Steps that need more people than there are. ``steps`` names them, ``hands`` is the most."""

    def __init__(self, steps: tuple[int, ...], hands: int, people: int) -> None:
        self.steps, self.hands, self.people = steps, hands, people
        named = ", ".join(str(n) for n in steps)
        crew = "1 person is" if people == 1 else f"{people} people are"
        super().__init__(
            f"step {named} needs {hands} people and {crew} here; get help or change the setup"
        )


def share(
    tasks: Sequence[Task],
    people: int,
    *,
    nodes: int = 60_000,
    shakes: int = SHAKES,
    should_stop: Callable[[], bool] = never,
) -> Share:
    """Share the steps over 1 to 6 ``people`` for the least total time, in seconds.

    Proven where the search ends within ``nodes``; else the best found, with a bound. Seconds count
    to the tenth; the proof comes soonest on a coarse grid such as 5 s. Raises TooFewHands, and
    ValueError for steps that wait for each other, for themselves, or for a step that is not there.
    """
    if not 1 <= people <= 6:
        raise ValueError(f"a crew is 1 to 6 people, not {people}")
    lacking = tuple(task.n for task in tasks if task.hands > people)
    if lacking:
        raise TooFewHands(lacking, max(task.hands for task in tasks), people)
    by_n = _checked(tasks)
    units = {task.n: round(task.seconds * _UNITS_A_SECOND) for task in tasks}
    grid = gcd(*units.values()) or 1
    holds = _holds(tasks, by_n)
    jobs = _jobs(holds, by_n, {n: length // grid for n, length in units.items()})
    if people == 1:
        found = _one_by_one(jobs)
    else:
        found = schedule(jobs, (people,), nodes=nodes, shakes=shakes, should_stop=should_stop)
    crews = _named(jobs, found.starts, people)
    scale = grid / _UNITS_A_SECOND
    work = []
    for hold, start, crew in zip(holds, found.starts, crews, strict=True):
        at = start * grid
        for n in hold:
            work.append(Work(n, crew[: by_n[n].hands], at / _UNITS_A_SECOND))
            at += units[n]
    work.sort(key=lambda done: done.start_s)  # stable: what follows stays behind what it follows
    return Share(tuple(work), found.total * scale, found.bound * scale)


def followed(tasks: Sequence[Task], work: Sequence[Work]) -> dict[int, tuple[int, ...]]:
    """What each step follows: its own ``after``, and what its people did just before."""
    by_n = {task.n: task for task in tasks}
    latest: dict[int, int] = {}
    found = {}
    for done in work:
        follows = set(by_n[done.n].after)
        if by_n[done.n].seconds:
            follows |= {latest[person] for person in done.crew if person in latest}
            latest.update(dict.fromkeys(done.crew, done.n))
        found[done.n] = tuple(sorted(follows))
    return found


def waited_for(tasks: Sequence[Task], work: Sequence[Work]) -> frozenset[int]:
    """The steps everybody waits for: any of them a second late makes the whole a second late."""
    seconds = {task.n: task.seconds for task in tasks}
    slack = critical_path(seconds, followed(tasks, work))
    return frozenset(n for n in slack if slack[n].slack_s < 1e-6)


def _checked(tasks: Sequence[Task]) -> dict[int, Task]:
    by_n = {task.n: task for task in tasks}
    if len(by_n) < len(tasks):
        raise ValueError("two steps have the same number; number them apart")
    for task in tasks:
        if task.seconds < 0 or task.hands < 1:
            raise ValueError(f"step {task.n} must take 0 s or more and one person or more")
        for earlier in task.after:
            if earlier not in by_n:
                raise ValueError(f"step {task.n} comes after step {earlier}, which is not there")
    loop = [group for group in _together({n: t.after for n, t in by_n.items()}) if len(group) > 1]
    if loop or any(task.n in task.after for task in tasks):
        named = loop[0] if loop else [task.n for task in tasks if task.n in task.after]
        raise ValueError(f"steps {', '.join(map(str, sorted(named)))} wait for each other")
    return by_n


def _together(after: Mapping[int, Collection[int]]) -> list[list[int]]:
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


def _holds(tasks: Sequence[Task], by_n: Mapping[int, Task]) -> list[list[int]]:
    """The steps in the groups that go unbroken, each in the order it is done."""
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
        _in_order([n for one in group for n in members[one]], by_n) for group in _together(waits)
    ]


def _in_order(numbers: list[int], by_n: Mapping[int, Task]) -> list[int]:
    """Lowest number first, as far as ``after`` allows."""
    left = sorted(numbers)
    done: list[int] = []
    while left:
        n = next(n for n in left if not any(earlier in left for earlier in by_n[n].after))
        left.remove(n)
        done.append(n)
    return done


def _jobs(
    holds: Sequence[Sequence[int]], by_n: Mapping[int, Task], units: Mapping[int, int]
) -> list[Job]:
    place: dict[int, int] = {}
    done_at: dict[int, int] = {}  # from the start of the hold to the end of the step
    for index, hold in enumerate(holds):
        length = 0
        for n in hold:
            length += units[n]
            place[n], done_at[n] = index, length
    jobs = []
    for index, hold in enumerate(holds):
        lags: dict[int, int] = {}
        for n in hold:
            for earlier in by_n[n].after:
                if place[earlier] != index:
                    lags[place[earlier]] = max(lags.get(place[earlier], 0), done_at[earlier])
        hands = max(by_n[n].hands for n in hold)
        jobs.append(Job(done_at[hold[-1]], (hands,), tuple(lags.items())))
    return jobs


def _one_by_one(jobs: Sequence[Job]) -> Schedule:
    """One person: every order takes the same time, so keep to the order given."""
    starts, now = [], 0
    for job in jobs:
        starts.append(now)
        now += job.length
    return Schedule(tuple(starts), now, now, 0)


def _named(jobs: Sequence[Job], starts: Sequence[int], people: int) -> list[tuple[int, ...]]:
    """Who does each job: somebody who did what it follows if they are free, else the longest idle.

    Jobs are never broken off, so whoever is free at the start is free to the end.
    """
    crews: list[tuple[int, ...]] = [()] * len(jobs)
    free_at = [0] * people
    for index in sorted(range(len(jobs)), key=lambda i: (starts[i], jobs[i].length > 0, i)):
        job = jobs[index]
        was_there = {person for earlier, _ in job.after for person in crews[earlier]}
        busy = [free_at[person] > starts[index] for person in range(people)]
        nearest = sorted(range(people), key=lambda p: (busy[p], p not in was_there, free_at[p], p))
        crews[index] = tuple(sorted(nearest[: job.needs[0]]))
        if job.length:  # what takes no time can be done by someone who is busy
            for person in crews[index]:
                free_at[person] = starts[index] + job.length
    return crews
