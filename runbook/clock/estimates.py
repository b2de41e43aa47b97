"""How long a kind of step takes: the belief that an estimate and a few timings give.

The logarithm of a duration is normal with unknown mean and spread: a log-normal, the usual fit of procedure times (May,
Strum and Vargas, Decision Sciences 31, 2000). The belief about mean and spread is normal-inverse-gamma, so an estimate
counts as some timings and every timing moves it (Murphy, Conjugate Bayesian analysis of the Gaussian distribution,
2007); the next duration's logarithm is then Student-t. An estimate worth one timing follows Dexter and Ledolter,
Anesthesiology 103, 2005, who forecast procedures with few or no past cases.

Only medians and quantiles are given: the mean of such a belief is infinite.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan, exp, inf, log, sqrt, tan
from statistics import fmean, median, variance
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

USUAL_SPREAD: Final = 0.33  # s.d. of ln(duration) of one kind of step, an estimate
PLAN_GRID_S: Final = 5
DAY_SPREAD: Final = 0.10  # s.d. of a whole day's pace, as if seen on three days
_DAYS_AS_SEEN: Final = 3
_SHAPE: Final = 4.0  # of the inverse gamma before any timing
_OUTLIER_SD: Final = 3.0
_ANGLES: Final = 2**14  # steps of the integral of Student's t


@dataclass(frozen=True, slots=True)
class Belief:
    """A normal-inverse-gamma belief about ln(seconds), and the number of timings behind it.

    ``m`` is the middle, worth ``kappa`` timings; the variance is inverse-gamma of ``a`` and ``b``.
    """

    m: float
    kappa: float
    a: float
    b: float
    timings: int = 0

    @property
    def median_s(self) -> float:
        """The median duration."""
        return exp(self.m)

    @property
    def scale(self) -> float:
        """The scale of the Student-t, with ``2 a`` degrees of freedom, of the next ln(seconds)."""
        return sqrt(self.b * (self.kappa + 1) / (self.a * self.kappa))

    @property
    def spread(self) -> float:
        """The believed s.d. of ln(seconds) from one time to the next."""
        return sqrt(self.b / (self.a - 1)) if self.a > 1 else sqrt(self.b / self.a)


def estimate(usual_s: float, *, spread: float = USUAL_SPREAD) -> Belief:
    """Return the belief before any timing: an estimate of the median, worth one timing.

    Raises ValueError for a duration or a spread that is not above zero.
    """
    if not usual_s > 0 or not spread > 0:
        raise ValueError(f"an estimate must be above 0 s and spread, not {usual_s} and {spread}")
    return Belief(log(usual_s), 1.0, _SHAPE, (_SHAPE - 1) * spread**2)


def updated(prior: Belief, timings_s: Sequence[float]) -> Belief:
    """Return the belief after timings of the same kind of step, in any order.

    A timing further than three s.d. from the median of all (a coffee break inside a step) counts as three s.d. away.
    Raises ValueError for a timing that is not above zero.
    """
    if any(not 0 < seconds < inf for seconds in timings_s):
        raise ValueError("a timing must be above 0 s")
    if not timings_s:
        return prior
    logs = [log(seconds) for seconds in timings_s]
    middle, most = median([*logs, prior.m]), _OUTLIER_SD * prior.spread
    logs = [min(max(x, middle - most), middle + most) for x in logs]
    count, mean = len(logs), fmean(logs)
    kappa = prior.kappa + count
    within = count * fmean((x - mean) ** 2 for x in logs)
    between = prior.kappa * count * (mean - prior.m) ** 2 / kappa
    return Belief(
        (prior.kappa * prior.m + count * mean) / kappa,
        kappa,
        prior.a + count / 2,
        prior.b + (within + between) / 2,
        prior.timings + count,
    )


def quantile_s(belief: Belief, p: float) -> float:
    """Return the seconds that the next one stays under with probability ``p``, between 0 and 1."""
    return exp(belief.m + belief.scale * student_t_quantile(p, 2 * belief.a))


def chance_over(belief: Belief, seconds: float) -> float:
    """Return the probability that the next one takes longer than so many seconds."""
    if seconds <= 0:
        return 1.0
    return student_t_below((belief.m - log(seconds)) / belief.scale, 2 * belief.a)


def quantile_running_s(belief: Belief, elapsed_s: float, p: float) -> float:
    """Return ``quantile_s`` of the whole time of a step that has run for ``elapsed_s`` and is not done.

    A late step is not forecast to end at once: the longer it runs, the longer it is likely to.
    """
    over = chance_over(belief, elapsed_s)
    if over < 1e-9:
        return elapsed_s * (1 + 0.1 * p / (1 - p))  # so late that the belief says nothing
    return max(quantile_s(belief, 1 - over * (1 - p)), elapsed_s)


def on_grid_s(seconds: float) -> int:
    """Return seconds for a plan, on a 5 s grid: nobody plans to the second."""
    return max(PLAN_GRID_S, PLAN_GRID_S * round(seconds / PLAN_GRID_S)) if seconds > 0 else 0


def spread_of_days(residuals: Sequence[Sequence[float]]) -> float:
    """Return the s.d. of the pace from day to day, from ln(taken / believed) of every step of past days.

    Three days of s.d. 0.10 are taken as seen, and days pull it up or down from there; what a mean of so many steps
    scatters by itself is subtracted first.
    """
    days = [day for day in residuals if len(day) > 1]
    if len(days) < 2:
        return DAY_SPREAD
    means = [fmean(day) for day in days]
    noise = fmean(variance(day) / len(day) for day in days)
    excess = (len(days) - 1) * (variance(means) - noise)
    return sqrt((_DAYS_AS_SEEN * DAY_SPREAD**2 + max(excess, 0.0)) / (_DAYS_AS_SEEN + len(days) - 1))


def student_t_below(t: float, freedom: float) -> float:
    """Return the probability that Student's t with so many degrees of freedom is below ``t``."""
    import numpy as np

    angles, below = _student_t(freedom)
    tail = float(np.interp(-atan(abs(t) / sqrt(freedom)), angles, below))
    return tail if t < 0 else 1 - tail


def student_t_quantile(p: float, freedom: float) -> float:
    """Return the t that Student's t stays below with probability ``p``.

    Raises ValueError unless ``p`` is between 0 and 1 and ``freedom`` above 0.
    """
    import numpy as np

    if not 0 < p < 1 or not freedom > 0:
        raise ValueError(f"no quantile at probability {p} with {freedom} degrees of freedom")
    angles, below = _student_t(freedom)
    lower = sqrt(freedom) * tan(float(np.interp(min(p, 1 - p), below, angles)))
    return lower if p < 0.5 else -lower


@lru_cache(maxsize=8)
def _student_t(freedom: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return angles up to zero, and the probability that atan(t / sqrt(freedom)) is below each.

    The angle's density is proportional to cos(angle) to the power ``freedom - 1``.
    """
    import numpy as np

    angles = np.linspace(-np.pi / 2, 0, _ANGLES + 1)
    density = np.cos(angles) ** (freedom - 1)
    below = np.append(0.0, np.cumsum(density[1:] + density[:-1]))
    return angles, below / (2 * below[-1])
