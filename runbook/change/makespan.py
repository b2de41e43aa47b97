"""The least time in which jobs that share scarce hands can all be done, proven where it can be.

The problem is resource-constrained project scheduling. The way taken: a lower bound from the
longest chain and from the work itself; list schedules by several rules, improved by pushing
everything to the right and back to the left (Valls, Ballestin and Quintanilla, 2005, from memory);
and where the two do not meet, a depth-first branch and bound over the moments at which something
ends, cut by cutset dominance and left shifts (Demeulemeester and Herroelen, 1992, from memory).

Times are whole units. A crew is one kind of hands; several kinds may be given, which is how the
published instances test this module.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from heapq import heapify, heappop, heappush
from itertools import islice
from typing import Final

from runbook.plan.tuples import NamedTuple

SHAKES: Final = 200
_FIELD: Final = 10  # bits that hold one kind of hands, the top one a guard against borrowing


class Job(NamedTuple):
    """One thing to do without a break.

    ``needs`` counts hands of each kind. ``after`` pairs an earlier job's index with the time from
    that job's *start* after which this one may begin, at most that job's own length.
    """

    length: int
    needs: tuple[int, ...]
    after: tuple[tuple[int, int], ...] = ()


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

    ``shakes`` is how many shaken rules a list schedule is tried with at the most.
    ``jobs`` may stand in any order, but ``after`` must have no loop and no job may need more than
    ``hands``. The answer depends on nothing but the arguments, unless ``should_stop`` ends it.
    """
    if not jobs:
        return Schedule((), 0, 0, 0)
    net = _Net(jobs, hands)
    bound = _lower_bound(net)
    best: list[int] = []
    spent = 0
    rules = _rules(net)
    # most are settled by a few rules and a short search; only the others deserve more of both
    for tries, share in ((min(16 + len(jobs), shakes), 20), (shakes, 1)):
        best = _best_list_schedule(net, islice(rules, tries), best, bound, should_stop)
        if net.end(best) <= bound:
            break
        search = _Search(net, best, bound, nodes // share, should_stop)
        search.run()
        best, spent = search.best, spent + search.spent
        if not search.cut_short:
            bound = net.end(best)
        if net.end(best) <= bound or should_stop():
            break
    return Schedule(tuple(best), net.end(best), bound, spent)


class _Net:
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
        self.order = _sorted_by_before(self.before, self.next)
        self.head = [0] * self.count
        # followers that may begin while the job still goes on
        self.partway = [
            [(later, lag) for later, lag in after if lag < self.length[index]]
            for index, after in enumerate(self.next)
        ]
        self.tail = list(self.length)  # from a job's own start to the end of everything
        for index in self.order:
            self.head[index] = max((self.head[p] + lag for p, lag in self.before[index]), default=0)
        for index in reversed(self.order):
            for later, lag in self.next[index]:
                self.tail[index] = max(self.tail[index], lag + self.tail[later])

    def end(self, starts: Sequence[int]) -> int:
        return max(start + length for start, length in zip(starts, self.length, strict=True))

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


# --- lower bound


def _lower_bound(net: _Net) -> int:
    """The longest chain; or, for jobs that cannot begin early nor be followed late, their work.

    For every pair of thresholds: the jobs with at least that much before and behind them need
    their work shared out over the hands, or, where each needs more than half the hands, one after
    another.
    """
    bound = max(head + tail for head, tail in zip(net.head, net.tail, strict=True))
    behind = [tail - length for tail, length in zip(net.tail, net.length, strict=True)]
    for kind, hands in enumerate(net.hands):
        if not hands:
            continue
        work = [job.needs[kind] * job.length for job in net.jobs]
        alone = [job.length if 2 * job.needs[kind] > hands else 0 for job in net.jobs]
        for amount, share in ((work, hands), (alone, 1)):
            bound = max(bound, _threshold_bound(net.head, behind, amount, share))
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
    net: _Net,
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
        soonest = max((starts[p] + lag for p, lag in before[index]), default=0)
        starts[index] = _place(net, index, max(soonest, 0), times, free)
        for later, _ in after[index]:
            waits[later] -= 1
            if not waits[later]:
                heappush(ready, (rank[later], later))
    return starts


def _place(net: _Net, job: int, soonest: int, times: list[int], free: list[int]) -> int:
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


def _rules(net: _Net) -> Iterator[list[float]]:
    """Ranks by longest tail, by most work behind, by most jobs behind, by the jobs' own work."""
    behind = [0] * net.count
    for index in reversed(net.order):
        for later, _ in net.next[index]:
            behind[index] |= behind[later] | 1 << later
    work = [sum(job.needs) * job.length for job in net.jobs]
    yield [-float(tail) for tail in net.tail]
    yield [
        -float(work[i] + sum(work[j] for j in range(net.count) if behind[i] >> j & 1))
        for i in range(net.count)
    ]
    yield [-float(mask.bit_count()) for mask in behind]
    yield [-tail - own / 4 for tail, own in zip(net.tail, work, strict=True)]
    # shaken tails, from a generator of our own so that the same jobs always give the same plan
    seed = 1
    for _ in range(SHAKES):
        shaken = []
        for tail in net.tail:
            seed = (1103515245 * seed + 12345) & 0x7FFFFFFF
            shaken.append(-tail * (0.7 + 0.6 * (seed >> 8) / 0x7FFFFF))
        yield shaken


def _best_list_schedule(
    net: _Net,
    rules: Iterable[list[float]],
    best: list[int],
    bound: int,
    should_stop: Callable[[], bool],
) -> list[int]:
    back = net.mirrored()
    for rank in rules:
        starts = _list_schedule(net, net.before, net.next, rank)
        if net.end(starts) > bound:
            starts = _justified(net, back, starts)
        if not best or net.end(starts) < net.end(best):
            best = starts
        if net.end(best) <= bound or should_stop():
            break
    return best


def _justified(
    net: _Net,
    back: tuple[list[list[tuple[int, int]]], list[list[tuple[int, int]]]],
    starts: list[int],
) -> list[int]:
    """Push every job as late, then as early as it goes, for as long as that shortens the whole."""
    while True:
        end = net.end(starts)
        late = [end - start - length for start, length in zip(starts, net.length, strict=True)]
        mirror = _list_schedule(net, back[0], back[1], late)
        reach = net.end(mirror)
        early = [reach - start - length for start, length in zip(mirror, net.length, strict=True)]
        again = _list_schedule(net, net.before, net.next, early)
        if net.end(again) >= end:
            return again if net.end(again) == end else starts
        starts = again


# --- branch and bound


class _Moment(NamedTuple):
    """Where a search stands: jobs as bits, running jobs with their ends.

    ``barred`` are the jobs that had room at the moment before and were not begun.
    """

    now: int
    begun: int
    running: dict[int, int]
    free: int
    barred: int


class _Search:
    """Depth-first over what to start at each moment; starting more is always tried before less.

    That order carries the proof of the left-shift rule: a job that could have gone on at an earlier
    moment without being in the way was tried there already, so it may not be started late.
    """

    def __init__(
        self,
        net: _Net,
        best: list[int],
        bound: int,
        nodes: int,
        should_stop: Callable[[], bool],
    ) -> None:
        self.net = net
        self.best = best
        self.total = net.end(best)
        self.bound = bound
        self.nodes = nodes
        self.should_stop = should_stop
        self.spent = 0
        self.cut_short = False
        self.starts = [-1] * net.count
        self.seen: dict[int, list[tuple[int, dict[int, int]]]] = {}
        self.earlier = [sum(1 << p for p, _ in before) for before in net.before]
        behind = [tail - length for tail, length in zip(net.tail, net.length, strict=True)]
        self.by_behind = [
            (
                hands,
                [
                    (i, behind[i], net.length[i], net.jobs[i].needs[kind])
                    for i in sorted(range(net.count), key=lambda i: -behind[i])
                    if net.length[i] and net.jobs[i].needs[kind]
                ],
            )
            for kind, hands in enumerate(net.hands)
            if hands
        ]
        self.by_tail = sorted(range(net.count), key=lambda i: (-net.tail[i], i))

    def run(self) -> None:
        self._from(_Moment(0, 0, {}, self.net.free, 0))

    def _over(self) -> bool:
        return self.cut_short or self.total <= self.bound

    def _from(self, at: _Moment) -> None:
        """Try everything that may follow at this moment and later."""
        following: _Moment | None = at
        while following is not None and not self._over():
            at = following
            ready = self._ready(at)
            if at.now + self._least(at, ready) >= self.total:
                return
            charge_free = self._free_of_charge(ready)
            if charge_free:
                self._try(at, charge_free, at.free, ready)
                return
            open_now = [i for i in ready if not at.barred >> i & 1]
            for chosen, still_free in self._choices(open_now, at.free):
                self._try(at, chosen, still_free, ready)
                if self._over():
                    return
            following = self._next(at._replace(barred=self._with_room(ready, at.free)))

    def _ready(self, at: _Moment) -> list[int]:
        """Jobs not begun whose predecessors let them start now, longest tail first."""
        starts, before, begun, now = self.starts, self.net.before, at.begun, at.now
        return [
            i
            for i in self.by_tail
            if not begun >> i & 1
            and not self.earlier[i] & ~begun
            and all(starts[p] + lag <= now for p, lag in before[i])
        ]

    def _least(self, at: _Moment, ready: list[int]) -> int:
        """The least time from now to the end of everything: chains, and work over hands."""
        net, now = self.net, at.now
        least = max((self.starts[i] + net.tail[i] - now for i in at.running), default=0)
        if ready:
            least = max(least, net.tail[ready[0]])
        return max(least, self._work_before_tails(at))

    def _work_before_tails(self, at: _Moment) -> int:
        """Work with at least so much behind it, shared out over the hands, and what is behind."""
        longest, now, running, begun = 0, at.now, at.running, at.begun
        for hands, by_behind in self.by_behind:
            work = 0
            for job, behind, length, need in by_behind:
                if not begun >> job & 1:
                    work += length * need
                elif job in running:
                    work += (running[job] - now) * need
                else:
                    continue
                least = behind - (-work // hands)
                longest = max(longest, least)
        return longest

    def _choices(self, ready: list[int], free: int) -> Iterator[tuple[list[int], int]]:
        """Every non-empty set of ``ready`` jobs that fits, supersets before their subsets."""
        needs, guard = self.net.needs, self.net.guard
        fitting = [i for i in ready if (free - needs[i]) & guard == guard]

        def sets(place: int, chosen: list[int], room: int) -> Iterator[tuple[list[int], int]]:
            if place == len(fitting):
                if chosen:
                    yield chosen, room
                return
            job = fitting[place]
            if (room - needs[job]) & guard == guard:
                yield from sets(place + 1, [*chosen, job], room - needs[job])
            yield from sets(place + 1, chosen, room)

        yield from sets(0, [], free)

    def _free_of_charge(self, ready: list[int]) -> list[int]:
        """Jobs that take no hands or no time, so are never worth holding back."""
        return [i for i in ready if not self.net.needs[i] or not self.net.length[i]]

    def _try(self, at: _Moment, chosen: list[int], free: int, ready: list[int]) -> None:
        """Begin the ``chosen`` jobs, which leaves ``free`` hands, and go on from there."""
        self.spent += 1
        if self.spent > self.nodes or (self.spent % 256 == 0 and self.should_stop()):
            self.cut_short = True
            return
        net, now = self.net, at.now
        begun, ends = at.begun, dict(at.running)
        for job in chosen:
            self.starts[job] = now
            begun |= 1 << job
            if net.length[job]:
                ends[job] = now + net.length[job]
        if begun + 1 == 1 << net.count:
            self._keep(now, ends)
            return
        if self._dominated(now, begun, ends):
            return
        if self._free_of_charge(chosen):
            # what they let begin may begin at this very moment
            self._from(_Moment(now, begun, ends, free, at.barred))
            return
        barred = self._with_room([i for i in ready if not begun >> i & 1], free)
        if any(lag == 0 for job in chosen for _, lag in net.partway[job]):
            self._from(_Moment(now, begun, ends, free, at.barred | barred))
            return
        later = self._next(_Moment(now, begun, ends, free, barred))
        if later is not None:
            self._from(later)

    def _keep(self, now: int, ends: dict[int, int]) -> None:
        total = max(ends.values(), default=now)
        if total < self.total:
            self.total, self.best = total, list(self.starts)

    def _dominated(self, now: int, begun: int, ends: dict[int, int]) -> bool:
        """True when the same jobs were begun before with none of them ending later."""
        known = self.seen.setdefault(begun, [])
        for then, others in known:
            if then <= now and all(end <= ends.get(job, now) for job, end in others.items()):
                return True
        known.append((now, ends))
        return False

    def _with_room(self, ready: list[int], free: int) -> int:
        needs, guard = self.net.needs, self.net.guard
        barred = 0
        for job in ready:
            if (free - needs[job]) & guard == guard:
                barred |= 1 << job
        return barred

    def _next(self, at: _Moment) -> _Moment | None:
        """When next a job ends, or lets another begin; None when nothing more will happen."""
        moments = list(at.running.values())
        for job in at.running:
            for later, lag in self.net.partway[job]:
                if self.starts[job] + lag > at.now and not at.begun >> later & 1:
                    moments.append(self.starts[job] + lag)
        if not moments:
            return None
        now = min(moments)
        free, still = at.free, {}
        for job, end in at.running.items():
            if end <= now:
                free += self.net.needs[job]
            else:
                still[job] = end
        return _Moment(now, at.begun, still, free, at.barred)
