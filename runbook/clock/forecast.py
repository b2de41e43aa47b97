"""When the day will end: the day to come lived through some thousand times by chance.

Each draw takes one truth for every kind of work, which all its repeats share (drawing them one by
one makes forecasts far too sure), one pace for the whole day, and then every step. What today's
changeovers and shootings have taken narrows pace and kinds beforehand: their logarithms are taken
as normal, so that this is a regression (Bishop, Pattern Recognition and Machine Learning, 2006,
section 2.3.3, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import log
from typing import TYPE_CHECKING, Final, NamedTuple

from runbook.clock.timetable import RUNNING_POINTS, DayToCome, Lengths, Piece, left_of_shoot, run_day

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_CLIP: Final = 2.0  # ln from the median that a draw may stray: a factor of 7.4


class Spread(NamedTuple):
    """10 % are under ``p10``, half under ``p50``, 90 % under ``p90``."""

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


class Saving(NamedTuple):
    """What dropping one setup wins: median seconds, mean money; the chance of overtime left."""

    id: str
    wins_s: float
    wins_cost: float
    over_chance: float


def forecast(day: DayToCome, seed: int, draws: int = 2_000, between: Callable[[], object] = lambda: None) -> Forecast:
    """Return how the day may go, from so many draws; ``between`` is called before each.

    Raises KeyError for a kind without a belief.
    """
    finishes: list[float] = []
    rows: list[list[tuple[float, float, float, float]]] = [[] for _ in day.setups]
    for lengths in _lengths(day, seed, draws):
        between()
        slots, finish = run_day(day, lengths)
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
    day: DayToCome, seed: int, draws: int = 500, between: Callable[[], object] = lambda: None
) -> tuple[Saving, ...]:
    """Return what dropping each setup not yet begun would win, the most money, then time, first.

    Every setup is dropped from the same draws, so that the differences are of the setups only.
    ``between`` as for ``forecast``.
    """
    can_go = [index for index, setup in enumerate(day.setups) if not setup.shot_s]
    base: list[float] = []
    without: dict[int, list[float]] = {index: [] for index in can_go}
    for lengths in _lengths(day, seed, draws):
        base.append(run_day(day, lengths)[1])
        for index in can_go:
            between()
            without[index].append(run_day(day, lengths, index)[1])
    all_savings = []
    for index in can_go:
        less = without[index]
        wins = [with_it - gone for with_it, gone in zip(base, less, strict=True)]
        money, chance = 0.0, 0.0
        if day.overtime:
            cost = day.overtime.cost
            money = sum(cost(f) - cost(g) for f, g in zip(base, less, strict=True)) / draws
            chance = sum(finish > day.overtime.wrap_s for finish in less) / draws
        all_savings.append(Saving(day.setups[index].id, _spread(wins).p50, money, chance))
    return tuple(sorted(all_savings, key=lambda each: (-each.wins_cost, -each.wins_s, each.id)))


def _spread(values: Sequence[float]) -> Spread:
    rising = sorted(values)
    last = len(rising) - 1

    def at(p: float) -> float:
        low = int(p * last)
        high = min(low + 1, last)
        return rising[low] + (p * last - low) * (rising[high] - rising[low])

    return Spread(at(0.1), at(0.5), at(0.9))


# --- draws


class _Truths:
    """Draws of what holds for a day: its pace, and of each kind a factor and a spread, in ln."""

    def __init__(self, day: DayToCome, rng: np.random.Generator, draws: int) -> None:
        import numpy as np

        self.day, self.rng, self.draws = day, rng, draws
        self.number = {kind: n for n, kind in enumerate(day.beliefs)}
        beliefs = list(day.beliefs.values())
        a, b, kappa, self.median = (
            np.array([getattr(belief, name) for belief in beliefs], float) for name in ("a", "b", "kappa", "median_s")
        )
        self.variance = b / np.maximum(a - 1, 1e-9)
        self.spread = np.sqrt(b / rng.gamma(a, size=(draws, len(beliefs))))
        self.mean = np.append(np.zeros(len(beliefs)), day.pace.middle)
        self.covariance = np.diag(np.append(self.variance / kappa, day.pace.sd**2))
        stray = rng.standard_normal((draws, len(beliefs))) * self.spread / np.sqrt(kappa)
        pace = day.pace.middle + day.pace.sd * rng.standard_normal((draws, 1))
        self.stray, self.pace = stray, pace[:, 0]
        if day.done:
            self._learn()

    def _learn(self) -> None:
        """Narrow kinds and pace by what is over today: a regression on the logarithms."""
        import numpy as np

        rows, taken, noise = [], [], []
        for done in self.day.done:
            weights = np.zeros(len(self.mean))
            shares = np.array([p.scale * self.day.beliefs[p.kind].median_s for p in done.pieces])
            shares /= shares.sum()
            kinds = [self.number[piece.kind] for piece in done.pieces]
            np.add.at(weights, kinds, shares)
            weights[-1] = 1.0
            usual = np.median(self.work(done.pieces))
            rows.append(weights)
            taken.append(log(done.took_s / usual))
            noise.append((shares**2 * self.variance[kinds]).sum())
        seen = np.array(rows)
        gain = self.covariance @ seen.T
        gain = gain @ np.linalg.inv(seen @ gain + np.diag(noise))
        self.mean = self.mean + gain @ (np.array(taken) - seen @ self.mean)
        self.covariance = self.covariance - gain @ seen @ self.covariance
        drawn = self.rng.multivariate_normal(
            self.mean, (self.covariance + self.covariance.T) / 2, self.draws, method="eigh"
        )
        self.stray, self.pace = drawn[:, :-1], drawn[:, -1]

    def work(self, pieces: Sequence[Piece]) -> Array:
        """Return the seconds of a stretch of work in every draw, at the pace of a usual day."""
        import numpy as np

        ends: list[Array] = []
        for kind, scale, after in pieces:
            n = self.number[kind]
            away = self.stray[:, n] + self.spread[:, n] * self.rng.standard_normal(self.draws)
            seconds = scale * self.median[n] * np.exp(np.clip(away, -_CLIP, _CLIP))
            starts = [ends[earlier] for earlier in after]
            ends.append(seconds + np.maximum.reduce(starts) if starts else seconds)
        return np.maximum.reduce(ends) if ends else np.zeros(self.draws)


def _lengths(day: DayToCome, seed: int, draws: int) -> list[Lengths]:
    """Return so many draws of a day's lengths."""
    import numpy as np

    rng = np.random.default_rng(seed)
    truths = _Truths(day, rng, draws)
    pace = np.exp(truths.pace)

    def column(works: Sequence[Sequence[Piece]]) -> list[list[float]]:
        if not works:
            return [[]] * draws
        columns = [(pace * truths.work(work)).tolist() for work in works]
        return [list(row) for row in zip(*columns, strict=True)]

    change = column([setup.change for setup in day.setups])
    skip = column([setup.skip for setup in day.setups])
    shoot = column([[setup.shoot] for setup in day.setups])
    prepared = [look for look in day.looks if look.prep]
    prep = column([[look.prep] for look in prepared if look.prep])
    strike = column([day.strike])
    first = day.setups[0] if day.setups else None
    if first is not None and first.shot_s > 0:
        chances = [(k + 0.5) / RUNNING_POINTS for k in range(RUNNING_POINTS)]
        left = np.array([left_of_shoot(day, first, p) for p in chances])
        for row, seconds in zip(shoot, pace * rng.choice(left, draws), strict=True):
            row[0] = float(seconds)
    names = [look.id for look in prepared]
    return [
        Lengths(change[k], skip[k], shoot[k], dict(zip(names, prep[k], strict=True)), strike[k][0])
        for k in range(draws)
    ]
