"""What timings and an estimate make one believe about a kind of step."""

from dataclasses import astuple
from math import exp, fsum, log
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.clock import estimates
from runbook.day.changeovers import NO_TIMINGS, PLANNED_SPREAD

_TIMINGS = st.lists(st.floats(5, 900), min_size=1, max_size=8)


@given(_TIMINGS, st.randoms(use_true_random=False))
def test_the_order_of_timings_does_not_matter(timings, rng):
    other = list(timings)
    rng.shuffle(other)
    assert astuple(estimates.updated(estimates.estimate(60), other)) == pytest.approx(
        astuple(estimates.updated(estimates.estimate(60), timings))
    )


@given(_TIMINGS, st.floats(0.1, 10))
def test_other_units_give_the_same_belief(timings, unit):
    plain = estimates.updated(estimates.estimate(60), timings)
    scaled = estimates.updated(estimates.estimate(60 * unit), [unit * t for t in timings])
    for p in (0.1, 0.5, 0.9):
        assert estimates.quantile_s(scaled, p) == pytest.approx(unit * estimates.quantile_s(plain, p))


def test_many_timings_outweigh_the_estimate():
    rng = Random(5)
    timings = [exp(log(90) + 0.2 * rng.gauss(0, 1)) for _ in range(400)]
    belief = estimates.updated(estimates.estimate(60), timings)
    middle = exp(fsum(map(log, timings)) / len(timings))
    assert belief.median_s == pytest.approx(middle, rel=0.01)
    assert belief.spread == pytest.approx(0.2, rel=0.1)
    assert belief.timings == 400


def test_every_timing_makes_surer():
    belief = estimates.estimate(60)
    width = [estimates.quantile_s(estimates.updated(belief, [60] * n), 0.9) for n in (0, 1, 3, 10)]
    assert width == sorted(width, reverse=True)


def test_a_coffee_break_counts_as_three_sd():
    with_break = estimates.updated(estimates.estimate(60), [60, 60, 60, 3600])
    assert with_break == estimates.updated(estimates.estimate(60), [60, 60, 60, 60 * exp(3 * 0.33)])


@pytest.mark.parametrize("wrong", [0, -1, float("inf"), float("nan")])
def test_a_timing_is_above_zero(wrong):
    with pytest.raises(ValueError, match="above 0 s"):
        estimates.updated(estimates.estimate(60), [60, wrong])


@given(st.floats(0.01, 0.99), st.floats(0, 500))
def test_a_running_step_takes_longer_than_it_has(p, elapsed):
    belief = estimates.estimate(60)
    assert estimates.quantile_running_s(belief, elapsed, p) >= elapsed


def test_what_runs_far_too_long_is_not_forecast_to_end_at_once():
    belief = estimates.estimate(60)
    left = [estimates.quantile_running_s(belief, e, 0.5) - e for e in (60, 120, 240, 10_000, 10_000_000)]
    assert all(seconds > 5 for seconds in left)
    assert left[1] < left[2] < left[3]


@given(st.floats(0.01, 0.99))
def test_a_quantile_is_exceeded_as_often_as_it_says(p):
    belief = estimates.updated(estimates.estimate(60), [70, 80])
    assert estimates.chance_over(belief, estimates.quantile_s(belief, p)) == pytest.approx(1 - p, abs=1e-6)


@pytest.mark.parametrize(("seconds", "plan"), [(139.32, 140), (2, 5), (0, 0), (62.6, 65)])
def test_plans_are_on_a_grid(seconds, plan):
    assert estimates.on_grid_s(seconds) == plan


def test_few_days_say_nothing_about_days():
    assert estimates.spread_of_days([]) == estimates.spread_of_days([[0.1, 0.2, 0.3]]) == 0.10


def test_days_that_differ_spread_more_than_days_that_do_not():
    rng = Random(3)

    def days(sd: float) -> list[list[float]]:
        paces = [rng.gauss(0, sd) for _ in range(10)]
        return [[pace + rng.gauss(0, 0.3) for _ in range(60)] for pace in paces]

    assert estimates.spread_of_days(days(0.0)) < 0.08
    assert 0.15 < estimates.spread_of_days(days(0.25)) < 0.35


@pytest.mark.parametrize(("p", "freedom"), [(0, 3), (1, 3), (0.5, 0)])
def test_no_quantile_there(p, freedom):
    with pytest.raises(ValueError, match="no quantile"):
        estimates.student_t_quantile(p, freedom)


def test_a_shooting_is_as_uncertain_as_stated():
    for belief in (NO_TIMINGS.shooting, NO_TIMINGS.planned):
        assert log(estimates.quantile_s(belief, 0.9)) == pytest.approx(1.2816 * PLANNED_SPREAD, abs=0.002)
