"""When the day will end: the day lived through some thousand times on a throw of the dice.

Each draw takes one truth for every kind of work, which all its repeats share (drawing them one by
one makes forecasts far too sure), one pace for the whole day, and then every step. The day is
walked through with it: changeovers as they are shared over the crew, looks prepared meanwhile where
their talent is free, breaks when they are due. Times of day are seconds from midnight.

A break starts at the first end of a changeover or a shoot within its window, and cuts into the work
when the window closes. Everybody takes it, those who prepare a look too. A look is prepared as soon
as its talent has left the set and any earlier preparation of that talent is done; shooting waits
for it. The strike at the end counts as part of the day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from math import ceil, erf, exp, pi, sqrt
from typing import TYPE_CHECKING, Final

from runbook.change.crew import Work, followed
from runbook.change.makespan import never
from runbook.change.unbroken import Task
from runbook.clock.durations import Belief, Pace, quantile_running_s
from runbook.plan.tuples import NamedTuple

if TYPE_CHECKING:  # slow to import, and passed in ready-made
    from random import Random

_CLIP: Final = 2.0  # ln from the middle that a draw may stray: a factor of 7.4
_RUNNING_POINTS: Final = 32
_TABLE_BITS: Final = 12


class Piece(NamedTuple):
    """A stretch of work of one ``kind``: ``scale`` times what is drawn for the kind.

    ``after`` are indexes of earlier pieces in the same changeover: what the step follows, and what
    its people did before.
    """

    kind: str
    scale: float = 1.0
    after: tuple[int, ...] = ()


class Look(NamedTuple):
    """A look's preparation. ``talent`` is who sits for it; None sits for this look only."""

    id: str
    prep: Piece | None
    talent: str | None = None


class SetupToCome(NamedTuple):
    """A setup not shot yet: the changeover into it, its shooting, and the look it needs.

    ``skip`` is the changeover from the setup before it to the one behind it, should it be dropped.
    ``shot_s`` says how long it is being shot already; above zero only for the first.
    """

    id: str
    change: tuple[Piece, ...]
    shoot: Piece
    look: str | None = None
    skip: tuple[Piece, ...] = ()
    shot_s: float = 0.0


class BreakToCome(NamedTuple):
    """A break not taken yet, which should start within its window."""

    length_s: float
    earliest_s: float
    latest_s: float


class Overtime(NamedTuple):
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


class DayToCome(NamedTuple):
    """All that is left of a day from ``now_s`` on, and what is believed about its kinds of work.

    ``ready`` are looks that are prepared and still worn. ``strike`` is the changeover to the wrap.
    """

    now_s: float
    setups: tuple[SetupToCome, ...]
    beliefs: Mapping[str, Belief]
    looks: tuple[Look, ...] = ()
    ready: frozenset[str] = frozenset()
    breaks: tuple[BreakToCome, ...] = ()
    strike: tuple[Piece, ...] = ()
    overtime: Overtime | None = None
    pace: Pace = Pace()


class Spread(NamedTuple):
    """One in ten is under ``p10``, half under ``p50``, nine in ten under ``p90``."""

    p10: float
    p50: float
    p90: float


class SetupTimes(NamedTuple):
    """When the changeover into a setup starts, how long it and the shooting take, when it ends."""

    id: str
    start_s: Spread
    changeover_s: Spread
    shoot_s: Spread
    end_s: Spread


class Forecast(NamedTuple):
    """The day as it may go. ``expected_cost`` is money, the mean over all draws."""

    setups: tuple[SetupTimes, ...]
    finish_s: Spread
    over_chance: float
    over_s: float
    expected_cost: float


class Planned(NamedTuple):
    """One setup of the day as planned: changeover from ``start_s``, shooting from ``shoot_s``."""

    id: str
    start_s: float
    changeover_s: float
    shoot_at_s: float
    shoot_s: float
    end_s: float


class Saving(NamedTuple):
    """What dropping one setup wins: median seconds, mean money; the chance of overtime left."""

    id: str
    wins_s: float
    wins_cost: float
    over_chance: float


def pieces(
    tasks: Sequence[Task], work: Sequence[Work], kinds: Mapping[int, str]
) -> tuple[Piece, ...]:
    """A changeover as it is shared over the crew: who does what, and in what order, is kept.

    ``kinds`` names the kind of work of each step; a step that takes no time stays so.
    """
    follows = followed(tasks, work)
    seconds = {task.n: task.seconds for task in tasks}
    place = {done.n: index for index, done in enumerate(work)}
    return tuple(
        Piece(
            kinds[done.n],
            1.0 if seconds[done.n] else 0.0,
            tuple(sorted(place[n] for n in follows[done.n])),
        )
        for done in work
    )


def planned(day: DayToCome) -> tuple[tuple[Planned, ...], float]:
    """The day if everything takes its median, and when it ends.

    The median of a forecast is later where work goes in parallel: the slower of two decides.
    """
    return _walk(day, _medians(day), None)


class InOrder(NamedTuple):
    """A day's setups in another order: their places in it, and what hangs on the order.

    Seconds of the changeover into each and of the strike; the looks with what is left to prepare.
    """

    places: tuple[int, ...]
    changes_s: tuple[float, ...]
    strike_s: float
    looks: tuple[Look, ...]


def end_of(day: DayToCome, kept: int = 0) -> Callable[[InOrder], float]:
    """What tells when the day ends with its setups in another order, all else at its median.

    The first ``kept`` setups stay; the places are those of the others among themselves.
    """
    usual = _medians(day)

    def end(other: InOrder) -> float:
        turned = day._replace(
            setups=(*day.setups[:kept], *(day.setups[kept + n] for n in other.places)),
            looks=other.looks,
        )
        lengths = _Lengths(
            [*usual.change[:kept], *other.changes_s],
            [],
            [*usual.shoot[:kept], *(usual.shoot[kept + n] for n in other.places)],
            {
                look.id: look.prep.scale * day.beliefs[look.prep.kind].median_s
                for look in other.looks
                if look.prep
            },
            other.strike_s,
        )
        return _walk(turned, lengths, None)[1]

    return end


def forecast(
    day: DayToCome, rng: Random, draws: int = 2_000, between: Callable[[], object] = never
) -> Forecast:
    """How the day may go, from so many draws; ``between`` two of them something else may be done.

    Raises KeyError for a kind without a belief.
    """
    dice = _Dice(day, rng)
    finishes: list[float] = []
    rows: list[list[tuple[float, float, float, float]]] = [[] for _ in day.setups]
    for _ in range(draws):
        between()
        slots, finish = _walk(day, dice.throw(), None)
        finishes.append(finish)
        for row, slot in zip(rows, slots, strict=True):
            row.append((slot.start_s, slot.changeover_s, slot.shoot_s, slot.end_s))
    setups = tuple(
        SetupTimes(setup.id, *(_spread(column) for column in zip(*row, strict=True)))
        for setup, row in zip(day.setups, rows, strict=True)
    )
    over = [max(0.0, finish - day.overtime.wrap_s) for finish in finishes] if day.overtime else []
    return Forecast(
        setups,
        _spread(finishes),
        sum(late > 0 for late in over) / draws,
        sum(over) / draws,
        sum(day.overtime.cost(finish) for finish in finishes) / draws if day.overtime else 0.0,
    )


def savings(
    day: DayToCome, rng: Random, draws: int = 500, between: Callable[[], object] = never
) -> tuple[Saving, ...]:
    """What dropping each setup not yet begun would win, the most money, then the most time, first.

    Every setup is dropped from the same draws, so that the differences are of the setups only.
    ``between`` as for ``forecast``.
    """
    dice = _Dice(day, rng)
    can_go = [index for index, setup in enumerate(day.setups) if not setup.shot_s]
    base: list[float] = []
    without: dict[int, list[float]] = {index: [] for index in can_go}
    for _ in range(draws):
        lengths = dice.throw(skips=True)
        base.append(_walk(day, lengths, None)[1])
        for index in can_go:
            between()
            without[index].append(_walk(day, lengths, index)[1])
    found = []
    for index in can_go:
        less = without[index]
        wins = [with_it - gone for with_it, gone in zip(base, less, strict=True)]
        money, chance = 0.0, 0.0
        if day.overtime:
            cost = day.overtime.cost
            money = sum(cost(f) - cost(g) for f, g in zip(base, less, strict=True)) / draws
            chance = sum(finish > day.overtime.wrap_s for finish in less) / draws
        found.append(Saving(day.setups[index].id, _spread(wins).p50, money, chance))
    return tuple(sorted(found, key=lambda saving: (-saving.wins_cost, -saving.wins_s, saving.id)))


def _spread(values: Sequence[float]) -> Spread:
    rising = sorted(values)
    last = len(rising) - 1

    def at(p: float) -> float:
        low = int(p * last)
        high = min(low + 1, last)
        return rising[low] + (p * last - low) * (rising[high] - rising[low])

    return Spread(at(0.1), at(0.5), at(0.9))


# --- one draw


class _Lengths(NamedTuple):
    """Seconds of every stretch of the day in one draw; ``skip`` is empty unless asked for."""

    change: list[float]
    skip: list[float]
    shoot: list[float]
    prep: dict[str, float]
    strike: float


# what one draw holds true of a kind: ln away from its median, s.d. of ln
_Truth = tuple[float, float]
# a piece made ready to be drawn often: the number of its kind, its median seconds, what it is after
_Ready = tuple[int, float, tuple[int, ...]]


class _Draw(NamedTuple):
    """Equally likely values of a normal distribution, and what picks one by its bits."""

    normal: Sequence[float]
    bits: Callable[[int], int]


class _Drawer:
    """Turns what is true of every kind into the lengths of a day."""

    def __init__(self, day: DayToCome) -> None:
        number = {kind: n for n, kind in enumerate(day.beliefs)}

        def ready(pieces: Iterable[Piece]) -> list[_Ready]:
            return [
                (number[kind], scale * day.beliefs[kind].median_s, after)
                for kind, scale, after in pieces
            ]

        self.change = [ready(setup.change) for setup in day.setups]
        self.skip = [ready(setup.skip) for setup in day.setups]
        self.shoot = [ready([setup.shoot]) for setup in day.setups]
        self.prep = {look.id: ready([look.prep]) for look in day.looks if look.prep}
        self.strike = ready(day.strike)

    def lengths(
        self, truth: Sequence[_Truth], pace: float, draw: _Draw, *, skips: bool
    ) -> _Lengths:
        return _Lengths(
            [pace * _longest(pieces, truth, draw) for pieces in self.change],
            [pace * _longest(pieces, truth, draw) for pieces in self.skip] if skips else [],
            [pace * _longest(piece, truth, draw) for piece in self.shoot],
            {look: pace * _longest(piece, truth, draw) for look, piece in self.prep.items()},
            pace * _longest(self.strike, truth, draw),
        )


def _longest(pieces: Sequence[_Ready], truth: Sequence[_Truth], draw: _Draw) -> float:
    """The seconds until the last piece of a changeover is done.

    The innermost loop of a forecast, half a million times over: plain on purpose.
    """
    (normal, bits), clip = draw, _CLIP
    ends: list[float] = []
    for kind, median, after in pieces:
        stray, spread = truth[kind]
        away = stray + spread * normal[bits(_TABLE_BITS)]
        if away > clip:
            away = clip
        elif away < -clip:
            away = -clip
        start = 0.0
        for earlier in after:
            start = ends[earlier] if ends[earlier] > start else start
        ends.append(start + median * exp(away))
    return max(ends, default=0.0)


@lru_cache(maxsize=1)
def _normal_quantiles() -> tuple[float, ...]:
    """The normal distribution as equally likely values: a draw is one of them, picked by bits."""
    half = 1 << (_TABLE_BITS - 1)
    rising = []
    z = 0.0
    for k in range(half):
        p = (k + 0.5) / half  # of the upper half
        for _ in range(4):  # Newton's steps from the neighbour below
            z += (p - erf(z / sqrt(2))) * sqrt(pi / 2) * exp(z * z / 2)
        rising.append(z)
    return (*(-z for z in reversed(rising)), *rising)


class _Dice:
    """Draws of a day's lengths from what is believed."""

    def __init__(self, day: DayToCome, rng: Random) -> None:
        self.day, self.rng = day, rng
        self.drawer = _Drawer(day)
        self.running: list[float] = []
        first = day.setups[0] if day.setups else None
        if first is not None and first.shot_s > 0:
            chances = ((k + 0.5) / _RUNNING_POINTS for k in range(_RUNNING_POINTS))
            self.running = [_left_of_shoot(day, first, p) for p in chances]

    def throw(self, *, skips: bool = False) -> _Lengths:
        day, rng = self.day, self.rng
        gauss = rng.gauss
        pace = exp(gauss(day.pace.middle, day.pace.sd))
        truth = []
        for belief in day.beliefs.values():
            spread = sqrt(belief.b / rng.gammavariate(belief.a, 1.0))
            truth.append((gauss(0.0, spread / sqrt(belief.kappa)), spread))
        lengths = self.drawer.lengths(
            truth, pace, _Draw(_normal_quantiles(), rng.getrandbits), skips=skips
        )
        if self.running:
            lengths.shoot[0] = pace * self.running[int(rng.random() * _RUNNING_POINTS)]
        return lengths


def _medians(day: DayToCome) -> _Lengths:
    truth = [(0.0, 0.0)] * len(day.beliefs)
    lengths = _Drawer(day).lengths(truth, 1.0, _Draw((0.0,), lambda _: 0), skips=False)
    if day.setups and day.setups[0].shot_s > 0:
        lengths.shoot[0] = _left_of_shoot(day, day.setups[0], 0.5)
    return lengths


def _left_of_shoot(day: DayToCome, setup: SetupToCome, p: float) -> float:
    """The seconds still to shoot of a setup being shot, not exceeded with probability ``p``."""
    belief, scale = day.beliefs[setup.shoot.kind], setup.shoot.scale
    return quantile_running_s(belief, setup.shot_s / scale, p) * scale - setup.shot_s


def _walk(
    day: DayToCome, lengths: _Lengths, dropped: int | None
) -> tuple[tuple[Planned, ...], float]:
    """Live through the day with these lengths: every setup's times, and the end of it all."""
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
    clock.begin(lengths.strike)
    return tuple(slots), clock.work(lengths.strike)


class _Clock:
    """The time of one draw as it passes, with the breaks taken and where each talent is."""

    def __init__(self, day: DayToCome) -> None:
        self.now = day.now_s
        self.since = day.now_s
        self.coming = sorted(day.breaks, key=lambda b: (b.earliest_s, b.latest_s), reverse=True)
        self.taken: list[tuple[float, float]] = []
        self.sits = {look.id: look.talent or f"look {look.id}" for look in day.looks}
        self.wears = {self.sits[look]: look for look in day.ready if look in self.sits}
        self.free: dict[str, float] = {}

    def _take(self, at: float) -> float:
        """Take the next break at that time; give its end."""
        length = self.coming.pop().length_s
        self.taken.append((at, length))
        return at + length

    def begin(self, seconds: float) -> float:
        """The time at which work of so many seconds can begin, after a break that is due."""
        while seconds > 0 and self.coming and self.now >= self.coming[-1].earliest_s:
            self.now = self._take(self.now)
        return self.now

    def work(self, seconds: float) -> float:
        """Work from now on, broken off where a break's window closes; the time it is done."""
        end = self.now + seconds
        while seconds > 0 and self.coming and self.coming[-1].latest_s < end:
            start = max(self.now, self.coming[-1].latest_s)
            end += self._take(start) - start
        self.now = end
        return end

    def await_look(self, look: str | None, prep: Mapping[str, float]) -> str | None:
        """Wait until the look is prepared; who is wearing it."""
        if look is None or look not in self.sits:
            return None
        talent = self.sits[look]
        if self.wears.get(talent) != look:
            self.wears[talent] = look
            start, length = self.free.get(talent, self.since), prep.get(look, 0.0)
            while self._prepared(start, length) > self.now:
                if self.coming and self.coming[-1].earliest_s < self._prepared(start, length):
                    self.now = self._take(max(self.now, self.coming[-1].earliest_s))
                else:
                    self.now = self._prepared(start, length)
        return talent

    def _prepared(self, start: float, length: float) -> float:
        """When a preparation is done that stops for the breaks taken so far."""
        end = start + length
        for at, pause in self.taken:
            if at + pause > start and at < end:
                end += at + pause - max(at, start)
        return end
