"""Who does which step when, so that a changeover takes little time and people stay with one thing.

A priority list schedule: steps go one by one, in the order of a list, to the earliest time at which
enough people are free. Several lists are tried, then the best one again with a few of its entries
moved, always the same so that the same steps give the same schedule. A shorter schedule is better;
of two that are equally long, the one in which people change less often from thing to thing.

A lower bound comes from the longest chain of steps and from the work that has to be shared out. A
schedule that meets it is the fastest possible; whether any other is stays open.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter
from heapq import heapify, heappop, heappush
from math import gcd
from operator import add
from random import Random
from typing import Final

from runbook.changeover.tasks import Task, crew_slots, unbroken_groups

MOST_PEOPLE: Final = 6
_UNITS_PER_SECOND: Final = 10
# How many entries of lists are tried for a shorter schedule, and for fewer changes of thing: some
# dozens of lists, more of them where they are short.
_TO_SHORTEN: Final = 8000
_TO_SETTLE: Final = 1600
_LEAST_LISTS: Final = 24
_SEED: Final = 1
_STAYING: Final = 0.3  # the share of the lists in which steps wait for whoever is at their thing


@dataclass(frozen=True, slots=True)
class Work:
    """Who does step ``n``, as indexes into the crew, and when it starts."""

    n: int
    crew: tuple[int, ...]
    start_s: float


@dataclass(frozen=True, slots=True)
class Share:
    """All steps in the order they start, the total time, and a time that no share can beat."""

    work: tuple[Work, ...]
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
    may begin. Times are whole units.
    """

    length: int
    people: int
    after: tuple[tuple[int, int], ...] = ()
    thing: str = ""


def share(tasks: Sequence[Task], people: int) -> Share:
    """Share the steps over 1 to 6 ``people``, in little time and with few changes of thing.

    A step that needs more people than there are takes all of them. An unbroken group begins when
    everything that any of its steps waits for is ready; what waits for one of its steps may begin
    when that step is done. Seconds count to the tenth. Raises ValueError for steps that wait for
    each other or for a step that is not there.
    """
    if not 1 <= people <= MOST_PEOPLE:
        raise ValueError(f"a crew is 1 to {MOST_PEOPLE} people, not {people}")
    by_n = {task.n: task for task in tasks}
    order = TopologicalSorter({task.n: task.after for task in tasks}).static_order()
    place = {n: at for at, n in enumerate(order)}
    if len(place) > len(tasks):
        raise ValueError("a step waits for one that is not there")
    units = {task.n: round(task.seconds * _UNITS_PER_SECOND) for task in tasks}
    grid = gcd(*units.values()) or 1
    groups = unbroken_groups(tasks)
    slots = [crew_slots(group, by_n) for group in groups]
    needs = [min(len(set().union(*slot)), people) for slot in slots]
    jobs = _jobs(groups, by_n, {n: length // grid for n, length in units.items()}, needs)
    plan = schedule(jobs, people)
    work = []
    for group, doing, start, crew in zip(groups, slots, plan.starts, plan.crews, strict=True):
        at = start * grid
        for n, wanted in zip(group, doing, strict=True):
            # with fewer people than it takes, whoever is there does what they can
            mine = tuple(sorted(crew[person] for person in wanted if person < len(crew)))
            work.append(Work(n, mine or crew[:1], at / _UNITS_PER_SECOND))
            at += units[n]
    work.sort(key=lambda done: (done.start_s, place[done.n]))
    scale = grid / _UNITS_PER_SECOND
    return Share(tuple(work), plan.total * scale, plan.bound * scale)


def _jobs(
    groups: Sequence[Sequence[int]], by_n: Mapping[int, Task], units: Mapping[int, int], needs: Sequence[int]
) -> list[Job]:
    place: dict[int, int] = {}
    done_at: dict[int, int] = {}  # from the start of the group to the end of the step
    for index, group in enumerate(groups):
        length = 0
        for n in group:
            length += units[n]
            place[n], done_at[n] = index, length
    jobs = []
    for index, group in enumerate(groups):
        lags: dict[int, int] = {}
        for n in group:
            for earlier in by_n[n].after:
                at = place[earlier]
                if at != index:
                    lags[at] = max(lags.get(at, 0), done_at[earlier])
        thing = by_n[group[0]].thing
        jobs.append(Job(done_at[group[-1]], needs[index], tuple(lags.items()), thing))
    return jobs


@dataclass(frozen=True, slots=True)
class Schedule:
    """Start and people of every job, the end of the last one, and a lower bound of that end."""

    starts: tuple[int, ...]
    crews: tuple[tuple[int, ...], ...]
    total: int
    bound: int


def schedule(jobs: Sequence[Job], people: int) -> Schedule:
    """Schedule the jobs; ``after`` must have no loop, and no job needs more than ``people``."""
    if not jobs:
        return Schedule((), (), 0, 0)
    net = _Net(jobs, people)
    bound = net.lower_bound()
    in_order = [float(index) for index in range(net.count)]
    best = _Best(net, in_order)
    if people > 1:
        lists = [*net.lists(), in_order]
        for rank in lists:
            best.try_list(rank)
        best.shorten(bound)
        for rank in lists:
            best.try_list(rank, best.total)
        best.settle()
    crews = (tuple(p for p in range(people) if crew >> p & 1) for crew in best.crews)
    return Schedule(tuple(best.starts), tuple(crews), best.total, bound)


class _Best:
    """The best schedule so far, and what is tried to better it."""

    def __init__(self, net: _Net, rank: Sequence[float]) -> None:
        self.net = net
        self.dice = Random(_SEED)
        self.starts, self.crews = net.place_all(rank)
        self.total, self.changes = net.end(self.starts), net.changes(self.starts, self.crews)

    def try_list(self, rank: Sequence[float], deadline: int | None = None, *, only_total: bool = False) -> None:
        """Keep the schedule of a list where it is shorter, or as short with fewer changes.

        One that is just as good is kept too: from it another may be reached. ``only_total`` lets
        the changes be.
        """
        starts, crews = self.net.place_all(rank, deadline)
        total, changes = self.net.end(starts), self.net.changes(starts, crews)
        if total < self.total or (total == self.total and (only_total or changes <= self.changes)):
            self.starts, self.crews, self.total, self.changes = starts, crews, total, changes

    def shorten(self, bound: int) -> None:
        """Try lists for a shorter total, until it meets the bound."""
        for _ in range(max(_LEAST_LISTS, _TO_SHORTEN // self.net.count)):
            if self.total <= bound:
                return
            self.try_list(self._moved(), only_total=True)

    def settle(self) -> None:
        """Try lists for fewer changes of thing."""
        for _ in range(max(_LEAST_LISTS, _TO_SETTLE // self.net.count)):
            deadline = self.total if self.dice.random() < _STAYING else None
            self.try_list(self._moved(), deadline)

    def _moved(self) -> list[float]:
        """Return the best schedule as a list in which some jobs, or one thing, are moved."""
        rank = [float(start) for start in self.starts]
        far = self.dice.random() * self.total
        things = self.net.thing
        if self.dice.random() < 0.5:
            thing, by = self.dice.choice(things), far * (self.dice.random() - 0.5)
            return [at + by if mine == thing else at for at, mine in zip(rank, things, strict=True)]
        for _ in range(max(2, len(rank) // 10)):
            rank[self.dice.randrange(len(rank))] += far * (self.dice.random() - 0.5)
        return rank


class _Net:
    """The jobs with what is known of them before any is scheduled."""

    def __init__(self, jobs: Sequence[Job], people: int) -> None:
        self.jobs, self.people, self.count = jobs, people, len(jobs)
        self.length = [job.length for job in jobs]
        self.need = [job.people for job in jobs]
        self.before = [job.after for job in jobs]
        self.next: list[list[tuple[int, int]]] = [[] for _ in jobs]
        for index, job in enumerate(jobs):
            for earlier, lag in job.after:
                self.next[earlier].append((index, lag))
        names = {thing: n for n, thing in enumerate(dict.fromkeys(job.thing for job in jobs))}
        self.thing = [names[job.thing] for job in jobs]
        order = TopologicalSorter({index: [earlier for earlier, _ in job.after] for index, job in enumerate(jobs)})
        self.order = tuple(order.static_order())
        self.head, self.tail = [0] * len(jobs), list(self.length)
        for index in self.order:
            self.head[index] = max([self.head[p] + lag for p, lag in self.before[index]], default=0)
        for index in reversed(self.order):
            for later, lag in self.next[index]:
                self.tail[index] = max(self.tail[index], lag + self.tail[later])

    # --- bounds

    def lower_bound(self) -> int:
        """Return a total that no schedule can beat.

        The longest chain; a chain with all the jobs beside which nothing else can go on; and for
        every pair of thresholds, the jobs with at least so much before and behind them need their
        work shared out over the people, or one after another where each takes more than half.
        """
        bound = max(head + tail for head, tail in zip(self.head, self.tail, strict=True))
        work = [need * length for need, length in zip(self.need, self.length, strict=True)]
        wide = [length if 2 * need > self.people else 0 for need, length in zip(self.need, self.length, strict=True)]
        for amount, sharers in ((work, self.people), (wide, 1)):
            bound = max(bound, self._threshold_bound(amount, sharers))
        return max(bound, self._alone_bound())

    def _alone_bound(self) -> int:
        least = min(self.need)
        alone = [need + least > self.people for need in self.need]
        longest = [0] * self.count  # the time of one chain from each job on, without the alone
        for index in reversed(self.order):
            later = max([longest[j] + (0 if alone[index] else d) for j, d in self.next[index]] or [0])
            longest[index] = max(later, 0 if alone[index] else self.length[index])
        return max(longest) + sum(d for d, one in zip(self.length, alone, strict=True) if one)

    def _threshold_bound(self, amount: list[int], sharers: int) -> int:
        best = 0
        behind = [tail - length for tail, length in zip(self.tail, self.length, strict=True)]
        by_behind = sorted((i for i in self.order if amount[i]), key=lambda i: -behind[i])
        for early in {self.head[i] for i in by_behind}:
            done = 0
            for index in by_behind:
                if self.head[index] >= early:
                    done += amount[index]
                    best = max(best, early - (-done // sharers) + behind[index])
        return best

    # --- lists

    def lists(self) -> Iterator[list[float]]:
        """Yield lists: the longest chain behind first, and thing by thing in that order."""
        yield [-float(tail) for tail in self.tail]
        longest: dict[int, int] = {}
        for thing, tail in zip(self.thing, self.tail, strict=True):
            longest[thing] = max(longest.get(thing, 0), tail)
        place = {index: n / self.count for n, index in enumerate(self.order)}
        yield [place[index] - longest[thing] for index, thing in enumerate(self.thing)]

    def end(self, starts: Sequence[int]) -> int:
        end: int = max(map(add, starts, self.length))
        return end

    def changes(self, starts: list[int], crews: list[int]) -> int:
        """Return how often anybody takes up a thing, summed over the people."""
        last = [-1] * self.people
        count = 0
        for index in sorted(self.order, key=starts.__getitem__):
            crew, thing = crews[index], self.thing[index]
            for person in range(self.people):
                if crew >> person & 1 and last[person] != thing:
                    last[person] = thing
                    count += 1
        return count

    # --- placing

    def place_all(self, rank: Sequence[float], deadline: int | None = None) -> tuple[list[int], list[int]]:
        """Place the jobs one by one, lowest rank first among those whose predecessors are placed.

        With a ``deadline``, a job waits for the person who was last at its thing, as long as what
        comes behind it can still be done in time. Returns the starts, and the people as bits.
        """
        unmet = [len(earlier) for earlier in self.before]
        ready = [(rank[i], i) for i, left in enumerate(unmet) if not left]
        heapify(ready)
        starts, crews = [0] * len(self.jobs), [0] * len(self.jobs)
        diary = _Diary(self.people)
        there: dict[int, int] = {}
        while ready:
            _, index = heappop(ready)
            soonest = max([0, *[starts[p] + lag for p, lag in self.before[index]]])
            length, need, thing = self.length[index], self.need[index], self.thing[index]
            slot = diary.first_slot(soonest, length, need)
            who = there.get(thing) or slot[1]
            if deadline is not None and need == 1 and not slot[1] & who:
                stay = diary.first_slot(soonest, length, need, who)
                if stay[0] + self.tail[index] <= deadline:
                    slot = stay
            starts[index], crews[index] = diary.book(slot, length, need, thing)
            there[thing] = crews[index]
            for later, _ in self.next[index]:
                unmet[later] -= 1
                if not unmet[later]:
                    heappush(ready, (rank[later], later))
        return starts, crews


class _Diary:
    """Who is free when, and what each person does before and after."""

    def __init__(self, people: int) -> None:
        self.all = (1 << people) - 1
        self.times, self.free = [0], [self.all]  # from times[k] on, the people free[k] as bits
        self.done: list[list[tuple[int, int]]] = [[(-1, -1)] for _ in range(people)]

    def first_slot(self, soonest: int, length: int, need: int, among: int | None = None) -> tuple[int, int]:
        """Return the first time at which so many people are free for so long, and who they are."""
        times, free = self.times, self.free
        everybody = self.all if among is None else among
        first = bisect_right(times, soonest) - 1
        start, last, crew = soonest, first, everybody
        while length and last < len(times) and (times[last] < start + length):
            crew &= free[last]
            last += 1
            if crew.bit_count() < need:
                first += 1
                start, last, crew = times[first], first, everybody
        return start, crew

    def book(self, slot: tuple[int, int], length: int, need: int, thing: int) -> tuple[int, int]:
        """Book as many people as needed of a slot; return time and people."""
        times, free = self.times, self.free
        start, crew = slot
        if crew.bit_count() > need:
            crew = self._nearest(crew, start, need, thing)
        if not length:
            return start, crew
        first = bisect_left(times, start)
        if first == len(times) or times[first] > start:
            times.insert(first, start)
            free.insert(first, free[first - 1])
        end = start + length
        last = bisect_left(times, end)
        if last == len(times) or times[last] != end:
            times.insert(last, end)
            free.insert(last, free[last - 1])
        for at in range(first, last):
            free[at] &= ~crew
        for person, mine in enumerate(self.done):
            if crew >> person & 1:
                insort(mine, (start, thing))
        return start, crew

    def _nearest(self, crew: int, start: int, need: int, thing: int) -> int:
        """Choose people: who was at the thing before, who is at it afterwards, who is idle longest.

        The idle first, so that the work is shared evenly.
        """
        nearest = []
        for person, mine in enumerate(self.done):
            if crew >> person & 1:
                at = bisect_right(mine, (start, thing))
                stays, goes = mine[at - 1][1] == thing, at < len(mine) and mine[at][1] == thing
                nearest.append((not stays, not goes, mine[at - 1][0], person))
        nearest.sort()
        return sum(1 << person for *_, person in nearest[:need])
