"""Beliefs about durations against scipy's Student t and worked examples."""

from dataclasses import astuple
from math import log
from types import ModuleType

import numpy as np
import pytest

from runbook.clock import estimates
from tests.outside.published import agree, published, rows


@pytest.fixture(scope="module")
def stats() -> ModuleType:
    """Loaded only where it is asked: it takes as long as all our own modules together."""
    from scipy import stats

    return stats


# An estimate of 120 s worth two timings, a = 3, s.d. 0.35; then 150, 135 and 180 s. Figures were
# worked out with scipy.stats apart from this program (derived).
_PRIOR = estimates.Belief(4.787492, 2, 3, 0.3675)
_AFTER = estimates.updated(_PRIOR, [150, 135, 180])


def left_s(ran_s: float) -> float:
    """The median time left of a step that has run so long."""
    return estimates.quantile_running_s(_AFTER, ran_s, 0.5) - ran_s


@published(
    rows(lambda: astuple(_AFTER)[:4], 1e-6, {(): (4.936770, 5, 4.5, 0.425824)}),
    rows(lambda: (_PRIOR.scale, _AFTER.scale), 1e-6, {(): (0.428661, 0.336976)}),
    rows(estimates.quantile_s, 0.006, {(_PRIOR, 0.1): 64.74, (_PRIOR, 0.5): 120.00, (_PRIOR, 0.9): 222.44}),
    rows(estimates.quantile_s, 0.006, {(_AFTER, 0.1): 87.42, (_AFTER, 0.5): 139.32, (_AFTER, 0.9): 222.03}),
    rows(estimates.chance_over, 5e-5, {(_AFTER, 150): 0.4157}),
    rows(
        estimates.quantile_running_s,
        0.06,
        {(_AFTER, 150, 0.1): 155.8, (_AFTER, 150, 0.5): 185.7, (_AFTER, 150, 0.9): 268.7},
    ),
    rows(left_s, 0.5, {(60,): 80, (240,): 38}),
)
def test_the_worked_example(quantity, given, value, within):
    agree(quantity, given, value, within)


@pytest.mark.parametrize("freedom", [2, 3, 6, 8, 9, 13.5, 50])
def test_students_t(freedom, stats):
    for p in (0.01, 0.1, 0.25, 0.6, 0.9, 0.99, 0.999):
        t = stats.t.ppf(p, freedom)
        assert estimates.student_t_quantile(p, freedom) == pytest.approx(t, rel=1e-6)
        assert estimates.student_t_below(t, freedom) == pytest.approx(p, rel=1e-6)


def test_the_next_duration_is_what_sampling_the_belief_gives(stats):
    rng = np.random.default_rng(7)
    variance = stats.invgamma.rvs(_AFTER.a, scale=_AFTER.b, size=200_000, random_state=rng)
    middle = rng.normal(_AFTER.m, np.sqrt(variance / _AFTER.kappa))
    seconds = np.exp(rng.normal(middle, np.sqrt(variance)))
    for p in (0.1, 0.5, 0.9):
        assert estimates.quantile_s(_AFTER, p) == pytest.approx(float(np.quantile(seconds, p)), rel=0.01)


def test_the_belief_is_prior_times_likelihood(stats):
    # the posterior density is the prior times the likelihood, up to one constant everywhere
    logs = np.log([150, 135, 180])

    def density(belief: estimates.Belief, mu: float, variance: float) -> float:
        spread = stats.invgamma.logpdf(variance, belief.a, scale=belief.b)
        return float(spread + stats.norm.logpdf(mu, belief.m, np.sqrt(variance / belief.kappa)))

    evidence = [
        density(_PRIOR, mu, v) + float(stats.norm.logpdf(logs, mu, np.sqrt(v)).sum()) - density(_AFTER, mu, v)
        for mu, v in ((4.5, 0.05), (4.9, 0.1), (5.2, 0.3), (log(120), 0.02))
    ]
    assert evidence == pytest.approx([evidence[0]] * 4, abs=1e-9)
