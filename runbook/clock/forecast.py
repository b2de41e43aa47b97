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

from runbook.clock.timetable import DayToCome, Pieces, run_day, shooting

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_CLIP: Final = 2.0  # ln from the median that a draw may stray: a factor of 7.4
_HELPS_S: Final = 60.0
_RUNNING_POINTS: Final = 32  # quantiles of a shooting under way that are drawn from


@dataclass(frozen=True, slots=True)
class Spread:
    """10 % are under ``p10``, half under ``p50``, 90 % under ``p90``."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the day ends, and its overtime: ``expected_cost`` is money, the mean over all draws."""

    finish_s: Spread
    over_chance: float
    expected_cost: float


@dataclass(frozen=True, slots=True)
class Gain:
    """What another plan for the rest of the day saves: median seconds, mean money.

    ``finish_s`` is the median end then, ``over_chance`` the chance of overtime then.
    """

    wins_s: float
    wins_cost: float
    over_chance: float
    finish_s: float

    @property
    def helps(self) -> bool:
        """Whether it saves enough to be worth a word."""
        return self.wins_s >= _HELPS_S

    @property
    def in_time(self) -> bool:
        """Whether the day then ends in time more often than not."""
        return self.over_chance < 0.5


def gain_of(before: Forecast, after: Forecast) -> Gain:
    """Return what is saved between two forecasts of the same rest of a day."""
    wins_s = before.finish_s.p50 - after.finish_s.p50
    return Gain(wins_s, before.expected_cost - after.expected_cost, after.over_chance, after.finish_s.p50)


def forecast(day: DayToCome, seed: int, draws: int = 2_000, check: Callable[[], object] = lambda: None) -> Forecast:
    """Return how the day may go, from so many draws; ``check`` is called before each.

    Raises KeyError for a kind without a belief.
    """
    return next(forecasts([day], seed, draws, check))


def forecasts(
    days: Sequence[DayToCome], seed: int, draws: int, check: Callable[[], object] = lambda: None
) -> Iterator[Forecast]:
    """Yield how each of several plans for the same rest of a day may go.

    All from the same draws, in which the same stretch of work takes as long: the plans differ only in what they do.
    """
    drawn = _Draws(days, seed, draws)
    return (_forecast(day, drawn, check) for day in days)


def _forecast(day: DayToCome, drawn: _Draws, check: Callable[[], object]) -> Forecast:
    import numpy as np

    finishes: list[float] = []
    for lengths in drawn.lengths(day):
        check()
        finishes.append(run_day(day, lengths).finish_s)
    return Forecast(
        Spread(*np.quantile(finishes, (0.1, 0.5, 0.9)).tolist()),
        float(np.mean([finish > day.overtime.wrap_s for finish in finishes])),
        float(np.mean([day.overtime.cost(finish) for finish in finishes])),
    )


class _Draws:
    """Draws of what holds for a day: its pace, and of each kind of work a factor and a spread, in ln."""

    def __init__(self, days: Sequence[DayToCome], seed: int, draws: int) -> None:
        import numpy as np

        self.draws, self.rng = draws, np.random.default_rng(seed)
        beliefs = {kind: day.beliefs[kind] for day in days for kind in day.kinds}
        self.number = {kind: n for n, kind in enumerate(beliefs)}
        a, b, kappa, self.median = (
            np.array([getattr(belief, name) for belief in beliefs.values()], float)
            for name in ("a", "b", "kappa", "median_s")
        )
        variance = b / np.maximum(a - 1, 1e-9)
        self.spread = np.sqrt(b / self.rng.gamma(a, size=(draws, len(a))))
        self.known: dict[tuple[str, Pieces], Array] = {}
        covariance = np.diag(np.append(variance / kappa, days[0].pace_sd ** 2))
        self._draw(np.zeros(len(a) + 1), covariance)
        if days[0].done:
            self._draw(*self._narrowed(days[0], variance, covariance))

    def _draw(self, mean: Array, covariance: Array) -> None:
        drawn = self.rng.multivariate_normal(mean, (covariance + covariance.T) / 2, self.draws, method="eigh")
        self.stray, self.pace = drawn[:, :-1], drawn[:, -1]

    def _narrowed(self, day: DayToCome, variance: Array, covariance: Array) -> tuple[Array, Array]:
        """Return mean and covariance of kinds and pace, given what took how long today."""
        import numpy as np

        weights = np.zeros((len(day.done), len(covariance)))
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
        return gain @ np.array(taken), covariance - gain @ weights @ covariance

    def work(self, pieces: Pieces) -> Array:
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

    def lengths(self, day: DayToCome) -> Iterator[dict[str, float]]:
        """Yield the lengths of a day's stretches of work, draw by draw."""
        import numpy as np

        first = day.setups[0] if day.setups and day.setups[0].shot_s > 0 else None
        for name, pieces in day.stretches.items():
            if (name, pieces) in self.known:
                continue
            if first is not None and name == shooting(first.id):
                chances = [(k + 0.5) / _RUNNING_POINTS for k in range(_RUNNING_POINTS)]
                seconds = self.rng.choice([day.left_of_shoot_s(p) for p in chances], self.draws)
            else:
                seconds = self.work(pieces)
            self.known[name, pieces] = np.exp(self.pace) * seconds
        names, stretches = [*day.stretches], [self.known[stretch] for stretch in day.stretches.items()]
        for row in np.array(stretches).T.tolist():
            yield dict(zip(names, row, strict=True))
