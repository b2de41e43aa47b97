"""How long a kind of step takes: what a few timings and an estimate make one believe.

The logarithm of a duration is taken as normal, with unknown mean and spread: a log-normal, the
usual fit of procedure times (May, Strum and Vargas, Decision Sciences 31, 2000). The belief about
mean and spread is normal-inverse-gamma, so that an estimate counts as some timings and every timing
moves it (Murphy, Conjugate Bayesian analysis of the Gaussian distribution, 2007); the next
duration's logarithm is then Student-t. An estimate that is worth one timing follows Dexter and
Ledolter, Anesthesiology 103, 2005, who forecast procedures with few or no past cases.

Only medians and quantiles are given: the mean of such a belief is infinite.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import exp, fsum, inf, lgamma, log, log1p, sqrt
from typing import Final, NamedTuple

USUAL_SPREAD: Final = 0.33  # s.d. of ln(duration) of one kind of step, an estimate
PLAN_GRID_S: Final = 5
_SHAPE: Final = 4.0  # what the spread is believed on, before any timing
_OUTLIER_SD: Final = 3.0
DAY_SPREAD: Final = 0.10  # s.d. of a whole day's pace, counted as three days seen
_DAYS_TAKEN_AS_SEEN: Final = 3


class Belief(NamedTuple):
    """A normal-inverse-gamma belief about ln(seconds), and the timings it stands on.

    ``m`` is the middle, worth ``kappa`` timings; the variance is inverse-gamma of ``a``, ``b``.
    """

    m: float
    kappa: float
    a: float
    b: float
    timings: int = 0

    @property
    def median_s(self) -> float:
        """As often longer as shorter."""
        return exp(self.m)

    @property
    def scale(self) -> float:
        """The scale of the Student-t, with ``2 a`` degrees of freedom, of the next ln(seconds)."""
        return sqrt(self.b * (self.kappa + 1) / (self.a * self.kappa))

    @property
    def spread(self) -> float:
        """The s.d. of ln(seconds) from one time to the next, as now believed."""
        return sqrt(self.b / (self.a - 1)) if self.a > 1 else sqrt(self.b / self.a)


class Pace(NamedTuple):
    """A whole day's pace: ln of the factor on all durations, normal with this middle and s.d."""

    middle: float = 0.0
    sd: float = DAY_SPREAD


def estimate(usual_s: float, *, spread: float = USUAL_SPREAD) -> Belief:
    """What one believes before any timing: an estimate of the median, worth one timing.

    Raises ValueError for a duration or a spread that is not above zero.
    """
    if not usual_s > 0 or not spread > 0:
        raise ValueError(f"an estimate must be above 0 s and spread, not {usual_s} and {spread}")
    return Belief(log(usual_s), 1.0, _SHAPE, (_SHAPE - 1) * spread**2)


def updated(prior: Belief, timings_s: Sequence[float]) -> Belief:
    """The belief after timings of the same kind of step, all of them at once, in any order.

    A timing further than three s.d. from the middle of all (a coffee break inside a step) counts
    as three s.d. away. Raises ValueError for a timing that is not above zero.
    """
    if any(not 0 < seconds < inf for seconds in timings_s):
        raise ValueError("a timing must be above 0 s")
    if not timings_s:
        return prior
    logs = sorted(log(seconds) for seconds in timings_s)
    middle = _middle(sorted([*logs, prior.m]))
    most = _OUTLIER_SD * prior.spread
    logs = [min(max(x, middle - most), middle + most) for x in logs]
    return _updated(prior, logs)


def _updated(prior: Belief, logs: Sequence[float]) -> Belief:
    count = len(logs)
    mean = fsum(logs) / count
    kappa = prior.kappa + count
    within = fsum((x - mean) ** 2 for x in logs)
    between = prior.kappa * count * (mean - prior.m) ** 2 / kappa
    return Belief(
        (prior.kappa * prior.m + count * mean) / kappa,
        kappa,
        prior.a + count / 2,
        prior.b + (within + between) / 2,
        prior.timings + count,
    )


def _middle(rising: Sequence[float]) -> float:
    half = len(rising) // 2
    return rising[half] if len(rising) % 2 else (rising[half - 1] + rising[half]) / 2


def quantile_s(belief: Belief, p: float) -> float:
    """The seconds that the next one stays under with probability ``p``, between 0 and 1."""
    return exp(belief.m + belief.scale * student_t_quantile(p, 2 * belief.a))


def chance_over(belief: Belief, seconds: float) -> float:
    """The probability that the next one takes longer than so many seconds."""
    if seconds <= 0:
        return 1.0
    return 1 - student_t_below((log(seconds) - belief.m) / belief.scale, 2 * belief.a)


def quantile_running_s(belief: Belief, elapsed_s: float, p: float) -> float:
    """As ``quantile_s`` for a step that has run for ``elapsed_s`` and is not done: the whole time.

    A late step is not forecast to end at once: the longer it runs, the longer it is likely to.
    """
    over = chance_over(belief, elapsed_s)
    if over < 1e-9:
        return elapsed_s * (1 + 0.1 * p / (1 - p))  # so late that the belief has nothing to say
    return max(quantile_s(belief, 1 - over * (1 - p)), elapsed_s)


def on_grid_s(seconds: float) -> int:
    """Seconds for a plan, on a 5 s grid: nobody plans to the second, and proofs come sooner."""
    return max(PLAN_GRID_S, PLAN_GRID_S * round(seconds / PLAN_GRID_S)) if seconds > 0 else 0


# --- a day's pace


def spread_of_days(residuals: Sequence[Sequence[float]]) -> float:
    """The s.d. of the pace from day to day, from ln(taken / believed) of every step of past days.

    Three days of s.d. 0.10 are taken as seen, and days pull it up or down from there; what a mean
    of so many steps would scatter by itself is taken off first.
    """
    days = [day for day in residuals if len(day) > 1]
    if len(days) < 2:
        return DAY_SPREAD
    means = [fsum(day) / len(day) for day in days]
    overall = fsum(means) / len(means)
    noise = fsum(
        fsum((x - mean) ** 2 for x in day) / (len(day) - 1) / len(day) for day, mean in zip(days, means, strict=True)
    ) / len(days)
    excess = fsum((mean - overall) ** 2 for mean in means) - (len(days) - 1) * noise
    seen = _DAYS_TAKEN_AS_SEEN
    return sqrt((seen * DAY_SPREAD**2 + max(excess, 0.0)) / (seen + len(days) - 1))


# --- Student's t, without a library


def student_t_below(t: float, freedom: float) -> float:
    """The probability that Student's t with so many degrees of freedom is below ``t``."""
    tail = _incomplete_beta(freedom / 2, 0.5, freedom / (freedom + t * t)) / 2
    return tail if t < 0 else 1 - tail


@lru_cache(maxsize=4096)
def student_t_quantile(p: float, freedom: float) -> float:
    """The t that Student's t stays below with probability ``p``, by bisection.

    Raises ValueError unless ``p`` is between 0 and 1 and ``freedom`` above 0.
    """
    if not 0 < p < 1 or not freedom > 0:
        raise ValueError(f"no quantile at probability {p} with {freedom} degrees of freedom")
    if p == 0.5:
        return 0.0
    if p > 0.5:
        return -student_t_quantile(1 - p, freedom)
    low, high = -1.0, 0.0
    while student_t_below(low, freedom) > p:
        low, high = 2 * low, low
    for _ in range(80):
        middle = (low + high) / 2
        if student_t_below(middle, freedom) < p:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _incomplete_beta(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function, by Lentz's continued fraction (DLMF 8.17.22)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - _incomplete_beta(b, a, 1 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    c, d = 1.0, 1 / (1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, 300):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / (1 + term * d)
            c = 1 + term / c
            value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * value
