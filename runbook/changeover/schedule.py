"""Who does which step when, so that a changeover takes little time and people stay with one thing.

A priority list schedule: steps go one by one, in the order of a list, to the people who are free
first. A few lists are tried, then the best schedule's own order with some of its entries moved,
always the same so that the same steps give the same schedule. A shorter schedule is better; of two
that are equally long, the one in which people change less often from thing to thing.

A lower bound comes from the longest chain of steps and from the work that has to be shared out. A
schedule that meets it is the fastest possible; for any other that stays open. What makes the whole
late is its critical path: the steps whose earliest start is also their latest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from graphlib import TopologicalSorter
from heapq import heapify, heappop, heappush
from itertools import accumulate, groupby
from math import gcd, inf
from operator import add
from random import Random
from typing import Final, TypeVar

from runbook.changeover.tasks import Task, demands_of, unbroken_groups

MOST_PEOPLE: Final = 6
_UNITS_PER_SECOND: Final = 10
# How many schedules are tried for a shorter total, and for fewer changes of thing.
_TO_SHORTEN: Final = 14
_TO_SETTLE: Final = 6
_SEED: Final = 2
Time = TypeVar("Time", int, float)


@dataclass(frozen=True, slots=True)
class Assignment:
    """Who does step ``n``, as indexes into the crew, and when it starts."""

    n: int
    crew: tuple[int, ...]
    start_s: float


@dataclass(frozen=True, slots=True)
class Share:
    """All steps in the order they start, the total time, and a lower bound on the total of any share."""

    work: tuple[Assignment, ...]
    total_s: float
    bound_s: float

    @property
    def proven(self) -> bool:
        """Whether no shorter share exists."""
        return self.total_s <= self.bound_s


@dataclass(frozen=True, slots=True)
class Job:
    """What is done without a break: its length, the people it takes, and the thing it is done to.

    ``after`` pairs an earlier job's index with the time from that job's start after which this one
    may begin. Times are whole units. ``must`` are the people, as bits, who are among those who do it, and ``never``
    those who cannot be.
    """

    length: int
    people: int
    after: tuple[tuple[int, int], ...] = ()
    thing: str = ""
    must: int = 0
    never: int = 0


@dataclass(frozen=True, slots=True)
class Schedule:
    """Start and people (as bits) of every job, the end of the last one, and a lower bound of that end."""

    starts: tuple[int, ...] = ()
    crews: tuple[int, ...] = ()
    total: int = 0
    changes: int = 0
    bound: int = 0


def share(tasks: Sequence[Task], people: int, crew_ids: Sequence[str] = (), *, only_total: bool = False) -> Share:
    """Share the steps over 1 to 6 ``people``, in little time and with few changes of thing.

    A step that needs more people than there are takes all of them; those that tasks name are found in ``crew_ids``.
    What only one person can do and waits for nothing is done at once: a panel is put down before its holder does
    anything else. An unbroken group begins when
    everything that any of its steps waits for is ready; what waits for one of its steps may begin
    when that step is done. Seconds count to the tenth. With ``only_total`` people may change things
    more often. Raises ValueError for a step that waits for a later one or one that is not there.
    """
    if not 1 <= people <= MOST_PEOPLE:
        raise ValueError(f"a crew is 1 to {MOST_PEOPLE} people, not {people}")
    by_n = {task.n: task for task in tasks}
    if any(n not in by_n or n >= task.n for task in tasks for n in task.after):
        raise ValueError("a step waits for one that is later or not there")
    units = {task.n: round(task.seconds * _UNITS_PER_SECOND) for task in tasks}
    grid = gcd(*units.values()) or 1
    groups = unbroken_groups(tasks)
    slots = [[demand.crew for demand in demands_of(group, by_n)] for group in groups]
    needs = [min(1 + max(map(max, crews)), people) for crews in slots]
    jobs = _jobs(groups, by_n, {n: length // grid for n, length in units.items()}, needs)
    bit_of = {who: 1 << n for n, who in enumerate(crew_ids[:people])}
    jobs = [_with_named(job, [by_n[n] for n in group], bit_of, people) for job, group in zip(jobs, groups, strict=True)]
    plan = schedule(jobs, people, only_total=only_total)
    work = []
    for group, crews, start, bits in zip(groups, slots, plan.starts, plan.crews, strict=True):
        crew = tuple(person for person in range(people) if bits >> person & 1)
        ends = accumulate((units[n] for n in group), initial=start * grid)
        for n, wanted, at in zip(group, crews, ends, strict=False):
            # with fewer people than it takes, those who are there do what they can
            mine = tuple(sorted(crew[person] for person in wanted if person < len(crew)))
            work.append(Assignment(n, mine or crew[:1], at / _UNITS_PER_SECOND))
    work.sort(key=lambda done: (done.start_s, done.n))
    scale = grid / _UNITS_PER_SECOND
    return Share(tuple(work), plan.total * scale, plan.bound * scale)


def _jobs(
    groups: Sequence[Sequence[int]], by_n: Mapping[int, Task], units: Mapping[int, int], needs: Sequence[int]
) -> list[Job]:
    index = {n: at for at, group in enumerate(groups) for n in group}
    # from the start of the group to the end of the step
    done_at = {n: end for group in groups for n, end in zip(group, accumulate(units[n] for n in group), strict=True)}
    jobs = []
    for at, (group, need) in enumerate(zip(groups, needs, strict=True)):
        lags: dict[int, int] = {}
        for earlier in (earlier for n in group for earlier in by_n[n].after if index[earlier] != at):
            lags[index[earlier]] = max(lags.get(index[earlier], 0), done_at[earlier])
        jobs.append(Job(done_at[group[-1]], need, tuple(lags.items()), by_n[group[0]].thing))
    return jobs


def _with_named(job: Job, tasks: Sequence[Task], bit_of: Mapping[str, int], people: int) -> Job:
    """Return a job with those who must do it and those who cannot; where nobody is left, all may."""
    must = sum({bit_of.get(task.by, 0) for task in tasks})
    never = sum({bit_of.get(who, 0) for task in tasks for who in task.busy}) & ~must
    free = people - never.bit_count()
    return replace(job, must=must, never=never, people=min(job.people, free)) if free else replace(job, must=must)


def schedule(jobs: Sequence[Job], people: int, *, only_total: bool = False) -> Schedule:
    """Schedule the jobs; ``after`` must have no loop, and no job needs more than ``people``."""
    if not jobs:
        return Schedule()
    net = _Net(jobs, people)
    bound, in_order = net.lower_bound(), [float(index) for index in range(len(jobs))]
    best = net.place(in_order)
    if people > 1:
        best = min(best, *map(net.place, net.lists(bound)), key=_worth)
        dice = Random(_SEED)
        for _ in range(_TO_SHORTEN if best.total > bound else 0):
            best = min(net.place(net.moved(best, dice)), best, key=_worth)
        for _ in range(0 if only_total or best.changes <= net.least_changes else _TO_SETTLE):
            trial = net.place(net.moved(best, dice), best.total)
            if _worth(trial) <= _worth(best):
                best = trial
    return replace(best, bound=bound)


def _worth(plan: Schedule) -> tuple[int, int]:
    return plan.total, plan.changes


class _Net:
    """The jobs with what is known of them before any is scheduled."""

    def __init__(self, jobs: Sequence[Job], people: int) -> None:
        self.jobs, self.people = jobs, people
        self.length, self.need = [job.length for job in jobs], [job.people for job in jobs]
        self.before = [job.after for job in jobs]
        self.must, self.never = [job.must for job in jobs], [job.never for job in jobs]
        self.then: list[list[int]] = [[] for _ in jobs]
        for index, job in enumerate(jobs):
            for earlier, _ in job.after:
                self.then[earlier].append(index)
        names = {job.thing: n for n, job in enumerate(jobs)}
        self.thing = [names[job.thing] for job in jobs]
        head, tail = longest_paths(dict(enumerate(self.length)), dict(enumerate(map(dict, self.before))))
        self.head, self.tail = ([path[index] for index in range(len(jobs))] for path in (head, tail))
        self.least_changes = sum(
            {thing: need for need, thing in sorted(zip(self.need, self.thing, strict=True))}.values()
        )

    def lower_bound(self) -> int:
        """Return a total that no schedule can beat.

        The longest chain; and for every pair of thresholds, the jobs with at least so much before
        and behind them need their work shared out over the people, or one after another where each
        takes more than half of them.
        """
        bound = max(head + tail for head, tail in zip(self.head, self.tail, strict=True))
        work = [need * length for need, length in zip(self.need, self.length, strict=True)]
        wide = [length if 2 * need > self.people else 0 for need, length in zip(self.need, self.length, strict=True)]
        behind = [tail - length for tail, length in zip(self.tail, self.length, strict=True)]
        for amount, sharers in ((work, self.people), (wide, 1)):
            rows = sorted(zip(behind, self.head, amount, strict=True), reverse=True)
            for early in {head for _, head, part in rows if part}:
                late = [(after, part) for after, head, part in rows if head >= early and part]
                done = accumulate(part for _, part in late)
                bound = max(bound, *(early - (-d // sharers) + after for (after, _), d in zip(late, done, strict=True)))
        return max(bound, self._alone_bound())

    def _alone_bound(self) -> int:
        """Return the time of all jobs beside which nothing else can go on, with the longest chain of the others."""
        alone = [need + min(self.need) > self.people for need in self.need]
        others = {index: 0 if alone[index] else length for index, length in enumerate(self.length)}
        lags = {index: {p: min(lag, others[p]) for p, lag in after} for index, after in enumerate(self.before)}
        _, tail = longest_paths(others, lags)
        return max(tail.values()) + sum(self.length) - sum(others.values())

    def lists(self, bound: int) -> Iterator[list[float]]:
        """Yield lists: the longest chain behind first, and thing by thing in that order."""
        yield [-float(tail) for tail in self.tail]
        longest = {thing: tail for tail, thing in sorted(zip(self.tail, self.thing, strict=True))}
        yield [head / (1 + bound) - longest[thing] for head, thing in zip(self.head, self.thing, strict=True)]

    def moved(self, plan: Schedule, dice: Random) -> list[float]:
        """Return a schedule's order as a list in which some jobs, or one thing, are moved."""
        rank = [float(start) for start in plan.starts]
        far = dice.random() * plan.total
        if dice.random() < 0.5:
            thing, by = dice.choice(self.thing), far * (dice.random() - 0.5)
            return [at + by if mine == thing else at for at, mine in zip(rank, self.thing, strict=True)]
        for _ in range(max(2, len(rank) // 10)):
            rank[dice.randrange(len(rank))] += far * (dice.random() - 0.5)
        return rank

    def place(self, rank: Sequence[float], deadline: int = 0) -> Schedule:
        """Place the jobs one by one, lowest rank first among those whose predecessors are placed.

        Each goes to the first time at which enough people are free. With a ``deadline`` it waits for whoever was last
        at its thing, as long as what comes behind it can still be done in time; it gives up once a job would miss it.
        """
        unmet = [len(earlier) for earlier in self.before]
        ready = [(-inf if self.must[index] else rank[index], index) for index, left in enumerate(unmet) if not left]
        heapify(ready)
        diary = _Diary(self.people)
        starts, crews = [0] * len(rank), [0] * len(rank)
        there: dict[int, int] = {}
        while ready:
            _, index = heappop(ready)
            need, thing, length, must = self.need[index], self.thing[index], self.length[index], self.must[index]
            soonest = max([starts[earlier] + lag for earlier, lag in self.before[index]], default=0)
            start, idle = diary.first_slot(soonest, length, need, ~self.never[index], must)
            who = must or there.get(thing, 0) & ~self.never[index]
            if deadline and who and need == 1 and not idle & who:
                stay = diary.first_slot(soonest, length, need, who)
                if stay[0] + self.tail[index] <= deadline:
                    start, idle = stay
            if deadline and start + self.tail[index] > deadline:
                return Schedule(total=start + self.tail[index])
            starts[index], crews[index] = start, _crew(idle, who, need)
            diary.book(crews[index], start, length)
            there[thing] = crews[index]
            for later in self.then[index]:
                unmet[later] -= 1
                if not unmet[later]:
                    heappush(ready, (rank[later], later))
        total = max(map(add, starts, self.length))
        return Schedule(tuple(starts), tuple(crews), total, self._changes(starts, crews))

    def _changes(self, starts: list[int], crews: list[int]) -> int:
        """Return how often anybody takes up a thing, summed over the people."""
        order = sorted(range(len(starts)), key=starts.__getitem__)
        walks = ([self.thing[n] for n in order if crews[n] >> person & 1] for person in range(self.people))
        return sum(sum(1 for _ in groupby(walk)) for walk in walks)


@lru_cache(maxsize=4096)
def _crew(idle: int, who: int, need: int) -> int:
    """Return as many of the idle people as needed, as bits: those among ``who`` first."""
    people = [bit for bit in (1 << person for person in range(idle.bit_length())) if idle & bit]
    return sum(sorted(people, key=lambda bit: not bit & who)[:need])


class _Diary:
    """Who is free when: from ``times[k]`` on, the people ``free[k]`` as bits."""

    def __init__(self, people: int) -> None:
        self.times, self.free = [0], [(1 << people) - 1]

    def first_slot(self, soonest: int, length: int, need: int, among: int = -1, must: int = 0) -> tuple[int, int]:
        """Return the first time at which so many people are free for so long, ``must`` with them, and who they are."""
        times, free = self.times, self.free
        first = bisect_right(times, soonest) - 1
        start, last, idle = soonest, first, among & free[-1]
        while length and last < len(times) and times[last] < start + length:
            idle &= free[last]
            last += 1
            if idle.bit_count() < need or must & ~idle:
                first += 1
                start, last, idle = times[first], first, among & free[-1]
        return start, idle

    def book(self, crew: int, start: int, length: int) -> None:
        """Take people out of those who are free for a while."""
        if length:
            first, last = self._split(start), self._split(start + length)
            for at in range(first, last):
                self.free[at] &= ~crew

    def _split(self, time: int) -> int:
        """Return the index of the stretch that begins at a time, made if there is none."""
        at = bisect_left(self.times, time)
        if at == len(self.times) or self.times[at] != time:
            self.times.insert(at, time)
            self.free.insert(at, self.free[at - 1])
        return at


# --- the critical path


def longest_paths(
    lengths: Mapping[int, Time], before: Mapping[int, Mapping[int, Time]]
) -> tuple[dict[int, Time], dict[int, Time]]:
    """Return the longest way to the start of each job, and from its start to the end of all.

    ``before`` gives the time from an earlier job's start after which this one may begin. Raises ValueError for a loop.
    """
    order = tuple(TopologicalSorter(before).static_order())
    head: dict[int, Time] = {}
    for n in order:
        head[n] = max([head[p] + lag for p, lag in before[n].items()], default=lengths[n] * 0)
    tail = dict(lengths)
    for n in reversed(order):
        for p, lag in before[n].items():
            tail[p] = max(tail[p], lag + tail[n])
    return head, tail


def slack_s(seconds: Mapping[int, float], after: Mapping[int, Iterable[int]]) -> dict[int, float]:
    """Return how late each step may start without making the whole late, all starting as early as they can."""
    head, tail = longest_paths(seconds, {n: {p: seconds[p] for p in after.get(n, ())} for n in seconds})
    end = max(tail.values(), default=0.0)
    return {n: end - head[n] - tail[n] for n in seconds}


def predecessors(tasks: Sequence[Task], work: Sequence[Assignment]) -> dict[int, tuple[int, ...]]:
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


def critical_steps(tasks: Sequence[Task], work: Sequence[Assignment]) -> frozenset[int]:
    """Return the steps that make the whole a second late when any of them is a second late."""
    slack = slack_s({task.n: task.seconds for task in tasks}, predecessors(tasks, work))
    return frozenset(n for n in slack if slack[n] < 1e-6)
