"""Jobs that wait for each other, and what is known of them before anybody has begun.

Times are whole units. A crew is one kind of hands; there may be several.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from heapq import heapify, heappop, heappush
from operator import add
from typing import Final, NamedTuple

_FIELD: Final = 10  # bits that hold one kind of hands, the top one a guard against borrowing


class Job(NamedTuple):
    """One thing to do without a break.

    ``needs`` counts hands of each kind. ``after`` pairs an earlier job's index with the time from
    that job's *start* after which this one may begin, at most that job's own length.
    """

    length: int
    needs: tuple[int, ...]
    after: tuple[tuple[int, int], ...] = ()


class Net:
    """The jobs with everything about them that does not change while searching."""

    def __init__(self, jobs: Sequence[Job], hands: tuple[int, ...]) -> None:
        self.jobs = jobs
        self.hands = hands
        self.count = len(jobs)
        self.length = [job.length for job in jobs]
        self.needs = [_packed(job.needs) for job in jobs]
        self.guard = _packed((1 << (_FIELD - 1),) * len(hands))
        self.free = _packed(hands) | self.guard
        self.before = [job.after for job in jobs]
        self.next: list[list[tuple[int, int]]] = [[] for _ in jobs]
        for index, job in enumerate(jobs):
            for earlier, lag in job.after:
                self.next[earlier].append((index, lag))

    @cached_property
    def order(self) -> list[int]:
        """Every job behind all it follows."""
        return _sorted_by_before(self.before, self.next)

    @cached_property
    def head(self) -> list[int]:
        """The longest chain before each job."""
        head = [0] * self.count
        for index in self.order:
            head[index] = max([head[p] + lag for p, lag in self.before[index]], default=0)
        return head

    @cached_property
    def tail(self) -> list[int]:
        """The longest chain from each job's own start to the end of everything."""
        tail = list(self.length)
        for index in reversed(self.order):
            for later, lag in self.next[index]:
                tail[index] = max(tail[index], lag + tail[later])
        return tail

    @cached_property
    def behind(self) -> list[int]:
        """The longest chain behind each job's end."""
        return [tail - length for tail, length in zip(self.tail, self.length, strict=True)]

    @cached_property
    def partway(self) -> list[list[tuple[int, int]]]:
        """Each job's followers that may begin while it still goes on."""
        return [
            [(later, lag) for later, lag in after if lag < self.length[index]]
            for index, after in enumerate(self.next)
        ]

    @cached_property
    def alone(self) -> frozenset[int]:
        """The jobs beside which nothing else that takes hands can go on."""
        busy = [i for i, job in enumerate(self.jobs) if job.length and any(job.needs)]
        found: set[int] = set()
        for kind, most in enumerate(self.hands):
            least = min((self.jobs[i].needs[kind] for i in busy), default=0)
            found.update(i for i in busy if self.jobs[i].needs[kind] + least > most)
        return frozenset(found)

    @cached_property
    def apart(self) -> list[int]:
        """From each job on, the most time of one chain in which no ``alone`` job can go on."""
        longest = [0] * self.count
        for index in reversed(self.order):
            idle = index in self.alone or not self.needs[index]
            if not idle:
                longest[index] = self.length[index]
            for later, lag in self.next[index]:
                longest[index] = max(longest[index], longest[later] + (0 if idle else lag))
        return longest

    def end(self, starts: Sequence[int]) -> int:
        end: int = max(map(add, starts, self.length))
        return end

    def turned(self, starts: Sequence[int]) -> list[int]:
        """The starts when time runs the other way."""
        end = self.end(starts)
        return [end - start - length for start, length in zip(starts, self.length, strict=True)]

    @cached_property
    def mirrored(self) -> tuple[list[list[tuple[int, int]]], list[list[tuple[int, int]]]]:
        """What each job follows and precedes when time runs backwards.

        Running backwards, a job's mirror may begin its lag after the mirror of its follower begins;
        that lag can be below zero where the follower starts while the job still goes on.
        """
        before: list[list[tuple[int, int]]] = [[] for _ in self.jobs]
        after: list[list[tuple[int, int]]] = [[] for _ in self.jobs]
        for index in range(self.count):
            for later, lag in self.next[index]:
                back = self.length[later] + lag - self.length[index]
                before[index].append((later, back))
                after[later].append((index, back))
        return before, after

    def backwards(self) -> Net | None:
        """The same jobs when time runs backwards; None where one could begin before it may."""
        before = self.mirrored[0]
        if any(lag < 0 for lags in before for _, lag in lags):
            return None
        jobs = [job._replace(after=tuple(b)) for job, b in zip(self.jobs, before, strict=True)]
        return Net(jobs, self.hands)


def _packed(counts: tuple[int, ...]) -> int:
    """Counts side by side in one number, so that one subtraction tests all of them."""
    return sum(count << (_FIELD * place) for place, count in enumerate(counts))


def _sorted_by_before(
    before: Sequence[Sequence[tuple[int, int]]], after: Sequence[Sequence[tuple[int, int]]]
) -> list[int]:
    waits = [len(earlier) for earlier in before]
    ready = [index for index, left in enumerate(waits) if not left]
    heapify(ready)
    order = []
    while ready:
        index = heappop(ready)
        order.append(index)
        for later, _ in after[index]:
            waits[later] -= 1
            if not waits[later]:
                heappush(ready, later)
    return order
