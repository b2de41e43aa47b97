"""The least time in which jobs that share scarce hands can all be done, proven where it can be.

The problem is resource-constrained project scheduling. The way taken: a lower bound from the
longest chains and from the work itself; list schedules by several rules, improved by pushing
everything to the right and back to the left (Valls, Ballestin and Quintanilla, 2005, from memory);
and where the two do not meet, in turns: a branch and bound from the end backwards, another from the
start, and an iterated local search that moves a few jobs of the best list (Lourenco, Martin and
Stuetzle, 2003, from memory).

Backwards is most often by far the shorter proof. Hands stand idle mostly at the end, where the last
jobs wait for each other; whoever begins there soon knows how little idleness is left for the rest.

Times are whole units. A crew is one kind of hands; several kinds may be given, which is how the
published instances test this module.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from heapq import heapify, heappop, heappush
from typing import Final, NamedTuple

from runbook.change.branching import Search
from runbook.change.net import Job, Net

SHAKES: Final = 3000
_NODES_A_TURN: Final = 128  # what a search tries before it is another's turn


class Schedule(NamedTuple):
    """Start of every job, when the last one ends, and the least any schedule could take."""

    starts: tuple[int, ...]
    total: int
    bound: int
    nodes: int

    @property
    def proven(self) -> bool:
        return self.total <= self.bound


def never() -> bool:
    """The ``should_stop`` of a search that may run to its node limit."""
    return False


def schedule(
    jobs: Sequence[Job],
    hands: tuple[int, ...],
    *,
    nodes: int = 200_000,
    shakes: int = SHAKES,
    should_stop: Callable[[], bool] = never,
) -> Schedule:
    """Start times with the least total, or the best found in ``nodes`` nodes with a lower bound.

    ``shakes`` is how many list schedules are tried at the most, besides the first. ``jobs`` may
    stand in any order, but ``after`` must have no loop and no job may need more than ``hands``.
    The answer depends on nothing but the arguments, unless ``should_stop`` ends it.
    """
    if not jobs:
        return Schedule((), 0, 0, 0)
    net = Net(jobs, hands)
    bound = _lower_bound(net)
    starts = _list_schedule(net, net.before, net.next, [-tail for tail in net.tail])
    if net.end(starts) <= bound:
        return Schedule(tuple(starts), net.end(starts), bound, 0)
    return _Improving(net, starts, bound, should_stop).run(nodes, shakes)


# --- lower bound


def _lower_bound(net: Net) -> int:
    """The most of what the longest chain, a chain with all that goes on alone, and the work take.

    No two jobs of a chain, nor one of them and one that goes on alone, can share a moment
    (Mingozzi, Maniezzo, Ricciardelli and Bianco, 1998, from memory: a bound from such jobs). And
    for every pair of thresholds: the jobs with at least that much before and behind them need
    their work shared out over the hands, or, where each needs more than half the hands, one after
    another.
    """
    bound = max(head + tail for head, tail in zip(net.head, net.tail, strict=True))
    if net.alone:
        bound = max(bound, max(net.apart) + sum(net.length[index] for index in net.alone))
    for kind, hands in enumerate(net.hands):
        if not hands:
            continue
        work = [job.needs[kind] * job.length for job in net.jobs]
        wide = [job.length if 2 * job.needs[kind] > hands else 0 for job in net.jobs]
        for amount, share in ((work, hands), (wide, 1)):
            bound = max(bound, _threshold_bound(net.head, net.behind, amount, share))
    return bound


def _threshold_bound(head: list[int], behind: list[int], amount: list[int], share: int) -> int:
    best = 0
    by_behind = sorted((i for i in range(len(head)) if amount[i]), key=lambda i: -behind[i])
    for early in {head[i] for i in by_behind}:
        done = 0
        for index in by_behind:
            if head[index] >= early:
                done += amount[index]
                best = max(best, early - (-done // share) + behind[index])
    return best


# --- list schedules


def _list_schedule(
    net: Net,
    before: Sequence[Sequence[tuple[int, int]]],
    after: Sequence[Sequence[tuple[int, int]]],
    rank: Sequence[float],
) -> list[int]:
    """Place jobs one by one, lowest rank first among those whose predecessors are placed."""
    waits = [len(earlier) for earlier in before]
    ready = [(rank[i], i) for i, left in enumerate(waits) if not left]
    heapify(ready)
    starts = [0] * net.count
    times, free = [0], [net.free]
    while ready:
        _, index = heappop(ready)
        soonest = max([0, *[starts[p] + lag for p, lag in before[index]]])
        starts[index] = _place(net, index, soonest, times, free)
        for later, _ in after[index]:
            waits[later] -= 1
            if not waits[later]:
                heappush(ready, (rank[later], later))
    return starts


def _place(net: Net, job: int, soonest: int, times: list[int], free: list[int]) -> int:
    """Take the job's hands from the first moment they are free for long enough; give that moment.

    From ``times[k]`` on, ``free[k]`` hands are free.
    """
    length, need, guard = net.length[job], net.needs[job], net.guard
    if not length or not need:
        return soonest
    start = soonest
    first = look = bisect_right(times, start) - 1
    while look < len(times) and times[look] < start + length:
        if (free[look] - need) & guard == guard:
            look += 1
        else:
            look += 1
            first, start = look, times[look]
    end = start + length
    if times[first] < start:
        first += 1
        times.insert(first, start)
        free.insert(first, free[first - 1])
    last = bisect_left(times, end)
    if last == len(times) or times[last] != end:
        times.insert(last, end)
        free.insert(last, free[last - 1])
    for place in range(first, last):
        free[place] -= need
    return start


def _justified(net: Net, starts: list[int]) -> list[int]:
    """Push every job as late, then as early as it goes, for as long as that shortens the whole."""
    while True:
        end = net.end(starts)
        mirror = _list_schedule(net, *net.mirrored, net.turned(starts))
        again = _list_schedule(net, net.before, net.next, net.turned(mirror))
        if net.end(again) >= end:
            return again if net.end(again) == end else starts
        starts = again


def _rules(net: Net) -> Iterator[list[float]]:
    """Ranks by most work behind, by most jobs behind, by the jobs' own work."""
    behind = [0] * net.count
    for index in reversed(net.order):
        for later, _ in net.next[index]:
            behind[index] |= behind[later] | 1 << later
    work = [sum(job.needs) * job.length for job in net.jobs]
    yield [
        -float(work[i] + sum(work[j] for j in range(net.count) if behind[i] >> j & 1))
        for i in range(net.count)
    ]
    yield [-float(mask.bit_count()) for mask in behind]
    yield [-tail - own / 4 for tail, own in zip(net.tail, work, strict=True)]


def _dice() -> Iterator[float]:
    """Throws from 0 to 1, of our own so that the same jobs always give the same plan."""
    seed = 1
    while True:
        seed = (1103515245 * seed + 12345) & 0x7FFFFFFF
        yield (seed >> 8) / 0x800000


# --- improving


class _Improving:
    """The best schedule so far, and what is tried in turn to better it or to prove it."""

    def __init__(
        self, net: Net, starts: list[int], bound: int, should_stop: Callable[[], bool]
    ) -> None:
        self.net = net
        self.bound = bound
        self.should_stop = should_stop
        self.best = _justified(net, starts)
        self.rules = _rules(net)
        self.dice = _dice()
        self.searches: dict[Net, Search] = {}

    @cached_property
    def ways(self) -> list[Net]:
        """From the end backwards, where that can be, and from the start."""
        return [net for net in (self.net.backwards(), self.net) if net is not None]

    def run(self, nodes: int, shakes: int) -> Schedule:
        """Take turns until all is proven or spent."""
        spent, lists = 0, max(self.net.count // 4, 1)
        while not self._done() and (spent < nodes or shakes > 0):
            for _ in range(min(lists, shakes)):
                self._shake()
            shakes -= lists
            lists = 1  # a long list is soon bettered by some shakes; later they seldom help
            for net in self.ways:
                spent += self._go_on(net, min(nodes - spent, _NODES_A_TURN))
        return Schedule(tuple(self.best), self.net.end(self.best), self.bound, spent)

    def _done(self) -> bool:
        return self.net.end(self.best) <= self.bound or self.should_stop()

    def _go_on(self, net: Net, nodes: int) -> int:
        """Search one way for so many more ``nodes``, or a few more; how many it took."""
        if nodes <= 0 or self._done():
            return 0
        search = self.searches.get(net) or self.searches.setdefault(net, Search(net))
        before = search.spent
        found = search.run(self.net.end(self.best), self.bound, nodes)
        if found:
            self.best = found if net is self.net else self.net.turned(found)
        if search.over:
            self.bound = self.net.end(self.best)
        return search.spent - before

    def _shake(self) -> None:
        """Try one more list: of the next rule, or the best one with a few jobs moved.

        As good as the best is good enough: going from one to the other leaves dead ends behind.
        """
        if self._done():
            return
        rank = next(self.rules, None) or self._moved()
        net = self.net
        starts = _justified(net, _list_schedule(net, net.before, net.next, rank))
        if net.end(starts) <= net.end(self.best):
            self.best = starts

    def _moved(self) -> list[float]:
        rank = [float(start) for start in self.best]
        far = 0.6 * self.net.end(self.best)
        for _ in range(max(2, self.net.count // 10)):
            index = int(next(self.dice) * self.net.count)
            rank[index] += far * (next(self.dice) - 0.5)
        return rank
