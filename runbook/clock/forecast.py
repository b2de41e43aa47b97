"""When the day will end: the day to come, simulated some thousand times.

Each draw takes one factor and one spread for every kind of work, which all its repeats share (drawing every step by
itself makes forecasts far too sure), one pace for the whole day, and then every step. What today's changeovers and
shootings took narrows pace and kinds beforehand: their logarithms are taken as normal, so this is a regression (Bishop,
Pattern Recognition and Machine Learning, 2006, section 2.3.3, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING, Final

from runbook.clock.timetable import DayToCome, Lengths, Piece, left_of_shoot, run_day

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_CLIP: Final = 2.0  # ln from the median that a draw may stray: a factor of 7.4
_RUNNING_POINTS: Final = 32  # quantiles of a shooting under way that are drawn from
_LEVELS: Final = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Spread:
    """10 % are under ``p10``, half under ``p50``, 90 % under ``p90``."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class SetupTimes:
    """When the changeover into a setup starts, how long it and the shooting take, when it ends."""

    id: str
    start_s: Spread
    changeover_s: Spread
    shoot_s: Spread
    end_s: Spread


@dataclass(frozen=True, slots=True)
class Forecast:
    """The day as it may go. ``expected_cost`` is money, the mean over all draws."""

    setups: tuple[SetupTimes, ...]
    finish_s: Spread
    over_chance: float
    expected_cost: float


@dataclass(frozen=True, slots=True)
class Saving:
    """What dropping one setup saves: median seconds, mean money; the chance of overtime left."""

    id: str
    wins_s: float
    wins_cost: float
    over_chance: float


def forecast(day: DayToCome, seed: int, draws: int = 2_000, between: Callable[[], object] = lambda: None) -> Forecast:
    """Return how the day may go, from so many draws; ``between`` is called before each.

    Raises KeyError for a kind without a belief.
    """
    import numpy as np

    finishes: list[float] = []
    times: list[list[tuple[float, float, float, float]]] = []
    for lengths in _lengths(day, seed, draws):
        between()
        slots, finish = run_day(day, lengths)
        finishes.append(finish)
        times.append([(slot.start_s, slot.changeover_s, slot.shoot_s, slot.end_s) for slot in slots])
    of_setups = np.array(times).reshape(draws, len(day.setups), 4)
    setups = tuple(
        SetupTimes(setup.id, *(_spread(of_setups[:, n, column]) for column in range(4)))
        for n, setup in enumerate(day.setups)
    )
    return Forecast(setups, _spread(finishes), *_overtime(day, finishes))


def savings(
    day: DayToCome, seed: int, draws: int = 500, between: Callable[[], object] = lambda: None
) -> tuple[Saving, ...]:
    """Return what dropping each setup not yet being shot saves, the most money, then time, first.

    Every setup is dropped from the same draws, so that only the setups differ. ``between`` as for ``forecast``.
    """
    whole: list[float] = []
    without: dict[int, list[float]] = {n: [] for n, setup in enumerate(day.setups) if not setup.shot_s}
    for lengths in _lengths(day, seed, draws):
        whole.append(run_day(day, lengths)[1])
        for dropped, finishes in without.items():
            between()
            finishes.append(run_day(day, lengths, dropped)[1])
    _, cost = _overtime(day, whole)
    all_savings = []
    for dropped, finishes in without.items():
        chance_left, cost_left = _overtime(day, finishes)
        saved_s = _spread([finish - less for finish, less in zip(whole, finishes, strict=True)]).p50
        all_savings.append(Saving(day.setups[dropped].id, saved_s, cost - cost_left, chance_left))
    return tuple(sorted(all_savings, key=lambda saving: (-saving.wins_cost, -saving.wins_s, saving.id)))


def _overtime(day: DayToCome, finishes: Sequence[float]) -> tuple[float, float]:
    """Return the chance of overtime and its mean cost."""
    if day.overtime is None:
        return 0.0, 0.0
    late = sum(finish > day.overtime.wrap_s for finish in finishes)
    return late / len(finishes), sum(day.overtime.cost(finish) for finish in finishes) / len(finishes)


def _spread(values: Sequence[float] | Array) -> Spread:
    import numpy as np

    return Spread(*np.quantile(values, _LEVELS).tolist())


class _Draws:
    """Draws of what holds for a day: its pace, and of each kind of work a factor and a spread, in ln."""

    def __init__(self, day: DayToCome, seed: int, draws: int) -> None:
        import numpy as np

        self.draws, self.rng = draws, np.random.default_rng(seed)
        self.number = {kind: n for n, kind in enumerate(day.beliefs)}
        a, b, kappa, self.median = (
            np.array([getattr(belief, name) for belief in day.beliefs.values()], float)
            for name in ("a", "b", "kappa", "median_s")
        )
        variance = b / np.maximum(a - 1, 1e-9)
        self.spread = np.sqrt(b / self.rng.gamma(a, size=(draws, len(a))))
        mean = np.append(np.zeros(len(a)), day.pace.middle)
        covariance = np.diag(np.append(variance / kappa, day.pace.sd**2))
        self._draw(mean, covariance)
        if day.done:
            self._draw(*self._narrowed(day, variance, mean, covariance))

    def _draw(self, mean: Array, covariance: Array) -> None:
        drawn = self.rng.multivariate_normal(mean, (covariance + covariance.T) / 2, self.draws, method="eigh")
        self.stray, self.pace = drawn[:, :-1], drawn[:, -1]

    def _narrowed(self, day: DayToCome, variance: Array, mean: Array, covariance: Array) -> tuple[Array, Array]:
        """Return mean and covariance of kinds and pace, given what took how long today."""
        import numpy as np

        weights = np.zeros((len(day.done), len(mean)))
        weights[:, -1] = 1.0
        taken, noise = [], []
        for row, done in zip(weights, day.done, strict=True):
            kinds = [self.number[piece.kind] for piece in done.pieces]
            shares = np.array([piece.scale for piece in done.pieces]) * self.median[kinds]
            shares /= shares.sum()
            np.add.at(row, kinds, shares)
            taken.append(log(done.took_s / np.median(self.work(done.pieces))))
            noise.append((shares**2 * variance[kinds]).sum())
        gain = covariance @ weights.T
        gain = gain @ np.linalg.inv(weights @ gain + np.diag(noise))
        return mean + gain @ (np.array(taken) - weights @ mean), covariance - gain @ weights @ covariance

    def work(self, pieces: Sequence[Piece]) -> Array:
        """Return the seconds of a stretch of work in every draw, at the pace of a usual day."""
        import numpy as np

        ends: list[Array] = []
        for piece in pieces:
            n = self.number[piece.kind]
            away = self.stray[:, n] + self.spread[:, n] * self.rng.standard_normal(self.draws)
            seconds = piece.scale * self.median[n] * np.exp(np.clip(away, -_CLIP, _CLIP))
            starts = [ends[earlier] for earlier in piece.after]
            ends.append(seconds + np.maximum.reduce(starts) if starts else seconds)
        return np.maximum.reduce(ends) if ends else np.zeros(self.draws)


def _lengths(day: DayToCome, seed: int, draws: int) -> Iterator[Lengths]:
    """Yield so many draws of a day's lengths."""
    import numpy as np

    drawn = _Draws(day, seed, draws)
    pace = np.exp(drawn.pace)

    def rows(works: Sequence[Sequence[Piece]]) -> list[list[float]]:
        return np.array([pace * drawn.work(work) for work in works]).T.tolist() if works else [[]] * draws

    change = rows([setup.change for setup in day.setups])
    skip = rows([setup.skip for setup in day.setups])
    shoot = rows([[setup.shoot] for setup in day.setups])
    looks = {look.id: [look.prep] for look in day.looks if look.prep}
    prep = rows([*looks.values()])
    strike = rows([day.strike])
    first = day.setups[0] if day.setups else None
    if first is not None and first.shot_s > 0:
        chances = [(k + 0.5) / _RUNNING_POINTS for k in range(_RUNNING_POINTS)]
        left = pace * drawn.rng.choice([left_of_shoot(day, first, p) for p in chances], draws)
        for row, seconds in zip(shoot, left.tolist(), strict=True):
            row[0] = seconds
    for k in range(draws):
        yield Lengths(change[k], skip[k], shoot[k], dict(zip(looks, prep[k], strict=True)), strike[k][0])
