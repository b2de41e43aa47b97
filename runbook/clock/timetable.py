"""A day to come, and the day lived through with given lengths of all its work.

Changeovers go as they are shared over the crew, looks are prepared meanwhile where their talent is
free, and breaks are taken when they are due. Times of day are seconds from midnight.

A break starts at the first end of a changeover or a shoot within its window, and cuts into the work
when the window closes. Everybody takes it, those who prepare a look too. A look is prepared from
the time its talent is called, as soon as the talent has left the set and any earlier preparation of
that talent is done; shooting waits for it. The strike at the end counts as part of the day.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil

from runbook.changeover.schedule import Work, predecessors
from runbook.changeover.tasks import Task
from runbook.clock.estimates import Belief, Pace, quantile_running_s


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of work of one ``kind``: ``scale`` times what is drawn for the kind.

    ``after`` are indexes of earlier pieces in the same changeover: what the step follows, and what
    its people did before.
    """

    kind: str
    scale: float = 1.0
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Look:
    """A look's preparation, from ``call_s`` on at the earliest.

    ``talent`` is who sits for it; None sits for this look only. Without a ``call_s`` the talent is
    there when the day to come begins.
    """

    id: str
    prep: Piece | None
    talent: str | None = None
    call_s: float | None = None

    @property
    def sitter(self) -> str:
        """Who sits for it, by name, or by the look."""
        return self.talent or f"look {self.id}"


@dataclass(frozen=True, slots=True)
class SetupToCome:
    """A setup not shot yet: the changeover into it, its shooting, and the look it needs.

    ``skip`` is the changeover from the setup before it to the one behind it, or to the wrap, should it be dropped.
    ``shot_s`` says how long it is being shot already; above zero only for the first.
    """

    id: str
    change: tuple[Piece, ...]
    shoot: Piece
    look: str | None = None
    skip: tuple[Piece, ...] = ()
    shot_s: float = 0.0


@dataclass(frozen=True, slots=True)
class BreakToCome:
    """A break not taken yet, which should start within its window."""

    length_s: float
    earliest_s: float
    latest_s: float


@dataclass(frozen=True, slots=True)
class Overtime:
    """When overtime begins, and what it costs: by the hour, begun blocks of ``step_s`` in full."""

    wrap_s: float
    per_hour: float = 0.0
    step_s: float = 1800.0

    def cost(self, finish_s: float) -> float:
        """What a day that ends then costs over its rate."""
        over = finish_s - self.wrap_s
        if over <= 0:
            return 0.0
        if self.step_s <= 0:
            return over / 3600 * self.per_hour
        return ceil(over / self.step_s - 1e-9) * self.step_s / 3600 * self.per_hour


@dataclass(frozen=True, slots=True)
class Done:
    """A changeover or a shooting of today that is over: its pieces, and the seconds it took."""

    pieces: tuple[Piece, ...]
    took_s: float


@dataclass(frozen=True, slots=True)
class DayToCome:
    """All that is left of a day from ``now_s`` on, and what is believed about its kinds of work.

    ``ready`` are looks that are prepared and still worn; ``free_s`` says since when a talent who
    was on set is off it. ``strike`` is the changeover to the wrap, with the packing. ``pace`` is
    that of a whole day before it began; ``done`` is what today has shown of it.
    """

    now_s: float
    setups: tuple[SetupToCome, ...]
    beliefs: Mapping[str, Belief]
    looks: tuple[Look, ...] = ()
    ready: frozenset[str] = frozenset()
    free_s: Mapping[str, float] = field(default_factory=dict)
    breaks: tuple[BreakToCome, ...] = ()
    strike: tuple[Piece, ...] = ()
    overtime: Overtime | None = None
    pace: Pace = Pace()
    done: tuple[Done, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """One setup of the day as planned: changeover from ``start_s``, shooting from ``shoot_s``."""

    id: str
    start_s: float
    changeover_s: float
    shoot_at_s: float
    shoot_s: float
    end_s: float


def pieces_of(tasks: Sequence[Task], work: Sequence[Work], kinds: Mapping[int, str]) -> tuple[Piece, ...]:
    """A changeover as it is shared over the crew: who does what, and in what order, is kept.

    ``kinds`` names the kind of work of each step; a step that takes no time stays so.
    """
    follows = predecessors(tasks, work)
    seconds = {task.n: task.seconds for task in tasks}
    place = {done.n: index for index, done in enumerate(work)}
    return tuple(
        Piece(kinds[done.n], 1.0 if seconds[done.n] else 0.0, tuple(sorted(place[n] for n in follows[done.n])))
        for done in work
    )


def median_day(day: DayToCome) -> tuple[tuple[Planned, ...], float]:
    """Return the day if everything takes its median, and when it ends.

    The median of a forecast is later where work goes in parallel: the slower of two decides.
    """
    return run_day(day, medians(day))


@dataclass(frozen=True, slots=True)
class Lengths:
    """Seconds of every stretch of a day: changeovers, what each is if the setup before it is
    dropped, shootings, preparations by look, and the strike.
    """

    change: Sequence[float]
    skip: Sequence[float]
    shoot: Sequence[float]
    prep: Mapping[str, float]
    strike: float


def medians(day: DayToCome) -> Lengths:
    """Return the lengths if every piece of work takes its median."""
    shoot = [_longest(day, [setup.shoot]) for setup in day.setups]
    if day.setups and day.setups[0].shot_s > 0:
        shoot[0] = left_of_shoot(day, day.setups[0], 0.5)
    return Lengths(
        [_longest(day, setup.change) for setup in day.setups],
        [],
        shoot,
        {look.id: _longest(day, [look.prep]) for look in day.looks if look.prep},
        _longest(day, day.strike),
    )


def _longest(day: DayToCome, work: Sequence[Piece]) -> float:
    """Return the seconds until the last piece is done, each at its median."""
    ends: list[float] = []
    for piece in work:
        start = max((ends[n] for n in piece.after), default=0.0)
        ends.append(start + piece.scale * day.beliefs[piece.kind].median_s)
    return max(ends, default=0.0)


def left_of_shoot(day: DayToCome, setup: SetupToCome, p: float) -> float:
    """Return the seconds left of a shooting under way, not exceeded with probability ``p``."""
    belief, scale = day.beliefs[setup.shoot.kind], setup.shoot.scale
    return quantile_running_s(belief, setup.shot_s / scale, p) * scale - setup.shot_s


def run_day(day: DayToCome, lengths: Lengths, dropped: int | None = None) -> tuple[tuple[Planned, ...], float]:
    """Return every setup's times with these lengths, and the end of the day.

    ``dropped`` is the index of a setup that is left out.
    """
    clock = _Clock(day)
    slots = []
    for index, setup in enumerate(day.setups):
        if index == dropped:
            continue
        behind_dropped = dropped is not None and index == dropped + 1
        change = lengths.skip[index - 1] if behind_dropped else lengths.change[index]
        start = clock.begin(change)
        clock.work(change)
        talent = clock.await_look(setup.look, lengths.prep)
        shoot_at = clock.begin(lengths.shoot[index])
        end = clock.work(lengths.shoot[index])
        if talent is not None:
            clock.free[talent] = end
        slots.append(Planned(setup.id, start, change, shoot_at, lengths.shoot[index], end))
    last_dropped = dropped is not None and dropped == len(day.setups) - 1 and day.setups[dropped].skip
    strike = lengths.skip[-1] if last_dropped else lengths.strike
    clock.begin(strike)
    return tuple(slots), clock.work(strike)


class _Clock:
    """The time of one draw as it passes, with the breaks taken and where each talent is."""

    def __init__(self, day: DayToCome) -> None:
        self.now = day.now_s
        self.coming = sorted(day.breaks, key=lambda b: (b.earliest_s, b.latest_s), reverse=True)
        self.taken: list[tuple[float, float]] = []
        self.looks = {look.id: look for look in day.looks}
        self.wears = {self.looks[id_].sitter: id_ for id_ in day.ready if id_ in self.looks}
        self.called = {look.id: day.now_s if look.call_s is None else look.call_s for look in day.looks}
        self.free = dict(day.free_s)

    def _take(self, at: float) -> float:
        """Take the next break at that time; return its end."""
        length = self.coming.pop().length_s
        self.taken.append((at, length))
        return at + length

    def begin(self, seconds: float) -> float:
        """Return when work of so many seconds can begin, after a break that is due."""
        while seconds > 0 and self.coming and self.now >= self.coming[-1].earliest_s:
            self.now = self._take(self.now)
        return self.now

    def work(self, seconds: float) -> float:
        """Work from now on, broken off where a break's window closes; return when it is done."""
        end = self.now + seconds
        while seconds > 0 and self.coming and self.coming[-1].latest_s < end:
            start = max(self.now, self.coming[-1].latest_s)
            end += self._take(start) - start
        self.now = end
        return end

    def await_look(self, look: str | None, prep: Mapping[str, float]) -> str | None:
        """Wait until the look is prepared; return who is wearing it."""
        if look is None or look not in self.looks:
            return None
        talent = self.looks[look].sitter
        if self.wears.get(talent) != look:
            self.wears[talent] = look
            start = max(self.called[look], self.free.get(talent, self.called[look]))
            length = prep.get(look, 0.0)
            while self._prepared(start, length) > self.now:
                if self.coming and self.coming[-1].earliest_s < self._prepared(start, length):
                    self.now = self._take(max(self.now, self.coming[-1].earliest_s))
                else:
                    self.now = self._prepared(start, length)
        return talent

    def _prepared(self, start: float, length: float) -> float:
        """Return when a preparation is done that stops for the breaks taken so far."""
        end = start + length
        for at, pause in self.taken:
            if at + pause > start and at < end:
                end += at + pause - max(at, start)
        return end
