"""Who does which step when, so that a changeover takes the least time.

What goes unbroken (see ``unbroken``) is one job, seen through by the same people. Nobody waits
with a stand in their hands for others' work: such a job begins when everything that any of its
steps needs is ready; what follows one of its steps may begin when that step is done.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import gcd
from typing import Final, NamedTuple

from runbook.change.critical import critical_path
from runbook.change.makespan import SHAKES, Schedule, never, schedule
from runbook.change.net import Job
from runbook.change.unbroken import Task, hands_on, together, unbroken

_UNITS_A_SECOND: Final = 10


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

    Where even one unbroken job takes more people than there are, those there are do it: the audit
    of the changeovers warns of that.

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
    holds = unbroken(tasks)
    hands = [hands_on(hold, by_n) for hold in holds]
    needs = [min(len(set().union(*each)), people) for each in hands]
    jobs = _jobs(holds, by_n, {n: length // grid for n, length in units.items()}, needs)
    if people == 1:
        found = _one_by_one(jobs)
    else:
        found = schedule(jobs, (people,), nodes=nodes, shakes=shakes, should_stop=should_stop)
    crews = _named(jobs, found.starts, people)
    scale = grid / _UNITS_A_SECOND
    work = []
    for hold, doing, start, crew in zip(holds, hands, found.starts, crews, strict=True):
        at = start * grid
        for n, wanted in zip(hold, doing, strict=True):
            # with fewer people than it takes, whoever is there does what they can
            mine = tuple(sorted(crew[person] for person in wanted if person < len(crew)))
            work.append(Work(n, mine or crew[:1], at / _UNITS_A_SECOND))
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
    loop = [group for group in together({n: t.after for n, t in by_n.items()}) if len(group) > 1]
    if loop or any(task.n in task.after for task in tasks):
        named = loop[0] if loop else [task.n for task in tasks if task.n in task.after]
        raise ValueError(f"steps {', '.join(map(str, sorted(named)))} wait for each other")
    return by_n


def _jobs(
    holds: Sequence[Sequence[int]],
    by_n: Mapping[int, Task],
    units: Mapping[int, int],
    needs: Sequence[int],
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
        jobs.append(Job(done_at[hold[-1]], (needs[index],), tuple(lags.items())))
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
