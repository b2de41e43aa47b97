"""Branch and bound over the moments at which a job that shares scarce hands ends.

Depth-first, cut by cutset dominance and left shifts (Demeulemeester and Herroelen, 1992, from
memory). What is known of the jobs not yet begun is worked out once for every set of them: most
moments of a search share theirs with many others.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from runbook.change.net import Net


class _Moment(NamedTuple):
    """Where a search stands: jobs as bits, running jobs with their ends.

    ``barred`` are the jobs that had room at the moment before and were not begun.
    """

    now: int
    begun: int
    running: dict[int, int]
    free: int
    barred: int


class _Rest(NamedTuple):
    """What is known of the jobs not yet begun, whenever that is.

    ``open`` wait for no other of them. ``alone`` is what those take together beside which nothing
    else can go on, ``apart`` the most that a chain of the others takes. ``work`` has each kind of
    hands, how many they are, and times with the work that has so much behind it. ``seen`` are the
    moments met before with these jobs left, and the ends of what was running.
    """

    open: list[int]
    apart: int
    alone: int
    work: list[tuple[list[int], int, list[tuple[int, int]]]]
    seen: list[tuple[int, list[tuple[int, int]]]]


class Search:
    """Depth-first over what to start at each moment; starting more is always tried before less.

    That order carries the proof of the left-shift rule: a job that could have gone on at an earlier
    moment without being in the way was tried there already, so it may not be started late.
    No job of ``net`` may begin before what it follows does. A search can be gone on with.
    """

    def __init__(self, net: Net) -> None:
        self.net = net
        self.total = 0
        self.best: list[int] = []
        self.spent = 0
        self.starts = [-1] * net.count
        self.all = (1 << net.count) - 1
        self.rests: dict[int, _Rest] = {}
        self.earlier = [sum(1 << p for p, _ in before) for before in net.before]
        self.by_tail = sorted(range(net.count), key=lambda i: (-net.tail[i], i))
        # take no hands or no time, so are never worth holding back
        self.costless = {i for i in range(net.count) if not net.needs[i] or not net.length[i]}
        # have a follower that may begin while they go on, and when they begin
        self.partway = {i for i in range(net.count) if net.partway[i]}
        self.at_once = {i for i in range(net.count) if any(not lag for _, lag in net.partway[i])}
        self.kinds = []
        for kind, hands in enumerate(net.hands):
            needs = [job.needs[kind] for job in net.jobs]
            self.kinds.append((needs, hands, self._by_behind(needs)))
        self.path = [self._following(_Moment(0, 0, {}, net.free, 0))]

    def _by_behind(self, needs: list[int]) -> list[tuple[int, int, int]]:
        """What is behind each job, the job, and its work; the longest behind first."""
        net = self.net
        works = [need * length for need, length in zip(needs, net.length, strict=True)]
        return sorted(
            ((net.behind[i], i, work) for i, work in enumerate(works) if work), reverse=True
        )

    @property
    def over(self) -> bool:
        """Nothing is left to try: there is no less than the least total known."""
        return not self.path

    def run(self, total: int, bound: int, nodes: int) -> list[int]:
        """Try so many more nodes, or a few more, for less than ``total``; the best starts, if any.

        A search that finds ``bound`` stops, for there is nothing better.
        """
        self.total, self.best = total, []
        most = self.spent + nodes
        while self.path and self.total > bound and self.spent < most:
            at = next(self.path[-1], None)
            if at is None:
                self.path.pop()
            else:
                self.path.append(self._following(at))
        return self.best

    def _following(self, moment: _Moment) -> Iterator[_Moment]:
        """Everything that may follow at this moment and later."""
        at: _Moment | None = moment
        rest = self._rest(moment.begun)
        while at is not None:
            ready = self._ready(at, rest)
            if not self.costless.isdisjoint(ready):
                costless = [i for i in ready if i in self.costless]
                then = self._begin(at, costless, at.free, ready)
                if then is not None:
                    yield then
                return
            open_now = [i for i in ready if not at.barred >> i & 1]
            for chosen, still_free in self._choices(open_now, at.free):
                then = self._begin(at, chosen, still_free, ready)
                if then is not None:
                    yield then
            at = self._next(at, self._with_room(ready, at))
            if at is not None and self._too_late(at, rest):
                return

    def _too_late(self, at: _Moment, rest: _Rest) -> bool:
        left = self.total - at.now
        return self._longest(at) >= left or self._work_left(at, rest) >= left

    def _rest(self, begun: int) -> _Rest:
        rest = self.rests.get(begun)
        if rest is None:
            rest = self.rests[begun] = self._new_rest(begun)
        return rest

    def _new_rest(self, begun: int) -> _Rest:
        net = self.net
        left = [i for i in self.by_tail if not begun >> i & 1]
        return _Rest(
            open=[i for i in left if not self.earlier[i] & ~begun],
            apart=max([net.apart[i] for i in left]) if net.alone else 0,
            alone=sum([net.length[i] for i in net.alone if not begun >> i & 1]),
            work=[
                (needs, hands, self._work(begun, hands, by_behind))
                for needs, hands, by_behind in self.kinds
            ],
            seen=[],
        )

    @staticmethod
    def _work(
        begun: int, hands: int, by_behind: list[tuple[int, int, int]]
    ) -> list[tuple[int, int]]:
        """Times, with the work of the jobs that have at least so much behind them.

        Those only that may bind, whatever work of running jobs comes on top.
        """
        binding: list[tuple[int, int]] = []
        work = 0
        for behind, job, amount in by_behind:
            if not begun >> job & 1:
                work += amount
                while binding and hands * (binding[-1][0] - behind) + binding[-1][1] <= work:
                    binding.pop()
                binding.append((behind, work))
        return binding

    def _ready(self, at: _Moment, rest: _Rest) -> list[int]:
        """Jobs not begun whose predecessors let them start now, longest tail first."""
        starts, before, now = self.starts, self.net.before, at.now
        return [
            i for i in rest.open if max([starts[p] + lag for p, lag in before[i]], default=0) <= now
        ]

    def _longest(self, at: _Moment) -> int:
        """The longest chain from now on."""
        tail, starts, now, begun = self.net.tail, self.starts, at.now, at.begun
        longest = max([starts[i] + tail[i] - now for i in at.running], default=0)
        for i in self.by_tail:
            if not begun >> i & 1:
                return max(longest, tail[i])
        return longest

    def _work_left(self, at: _Moment, rest: _Rest) -> int:
        """The time from now on that work over hands takes, or a chain with all that goes alone."""
        net, now, running, starts = self.net, at.now, at.running, self.starts
        least = 0
        if rest.alone:
            apart = max([starts[i] + net.apart[i] - now for i in running], default=0)
            least = rest.alone + max(apart, rest.apart)
        behind = net.behind
        for needs, hands, levels in rest.work:
            going = [(behind[i], (end - now) * needs[i]) for i, end in running.items()]
            for time, ahead in levels:
                work = ahead
                for later, more in going:
                    if later >= time:
                        work += more
                least = max(least, time - (-work // hands))
        return least

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

        return sets(0, [], free)

    def _begin(self, at: _Moment, chosen: list[int], free: int, ready: list[int]) -> _Moment | None:
        """Begin the ``chosen`` jobs, which leaves ``free`` hands; where to go on, if anywhere."""
        self.spent += 1
        now, begun, ends, length = at.now, at.begun, dict(at.running), self.net.length
        for job in chosen:
            self.starts[job] = now
            begun |= 1 << job
            if length[job]:
                ends[job] = now + length[job]
        if begun == self.all:
            self._keep(now, ends)
            return None
        then = self._after(_Moment(now, begun, ends, free, at.barred), chosen, ready)
        # chains first: they are soon looked through, and nothing need be known of the rest
        if then is None or self._longest(then) >= self.total - then.now:
            return None
        rest = self._rest(begun)
        if self._work_left(then, rest) >= self.total - then.now:
            return None
        return None if self._dominated(now, rest, ends) else then

    def _after(self, at: _Moment, chosen: list[int], ready: list[int]) -> _Moment | None:
        """The moment to go on from once the ``chosen`` of the ``ready`` jobs have begun."""
        if not self.costless.isdisjoint(chosen):
            return at  # what they let begin may begin at this very moment
        barred = self._with_room(ready, at) & ~at.begun
        if not self.at_once.isdisjoint(chosen):
            return at._replace(barred=at.barred | barred)
        return self._next(at, barred)

    def _keep(self, now: int, ends: dict[int, int]) -> None:
        total = max(ends.values(), default=now)
        if total < self.total:
            self.total, self.best = total, list(self.starts)

    def _dominated(self, now: int, rest: _Rest, ends: dict[int, int]) -> bool:
        """True when the same jobs were begun before with none of them ending later."""
        for then, others in reversed(rest.seen):
            if then <= now:
                for job, end in others:
                    if end > now and end > ends.get(job, now):
                        break
                else:
                    return True
        rest.seen.append((now, list(ends.items())))
        return False

    def _with_room(self, ready: list[int], at: _Moment) -> int:
        needs, guard, free = self.net.needs, self.net.guard, at.free
        barred = 0
        for job in ready:
            if (free - needs[job]) & guard == guard:
                barred |= 1 << job
        return barred

    def _next(self, at: _Moment, barred: int) -> _Moment | None:
        """When next a job ends, or lets another begin; None when nothing more will happen."""
        if not at.running:
            return None
        now = min(at.running.values())
        for job in self.partway.intersection(at.running):
            for later, lag in self.net.partway[job]:
                if at.now < self.starts[job] + lag < now and not at.begun >> later & 1:
                    now = self.starts[job] + lag
        free, still = at.free, {}
        for job, end in at.running.items():
            if end <= now:
                free += self.net.needs[job]
            else:
                still[job] = end
        return _Moment(now, at.begun, still, free, barred)
