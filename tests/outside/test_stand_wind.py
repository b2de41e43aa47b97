"""Wind against published pressures, drag figures and the Beaufort scale."""

from __future__ import annotations

from math import pi

import pytest

from runbook.stands.statics import G
from runbook.stands.wind import (
    BEAUFORT_NAMES,
    CUP,
    GUST_OVER_MEAN,
    HALF_AIR,
    PLATE,
    beaufort,
    force_n,
    limits_of,
    tipping_gust,
)


def test_half_the_density_of_standard_air() -> None:
    # ASCE 7 26.10: 0.613 (seen, quoted); ISA sea level 1.2250 kg/m3 (computed).
    assert pytest.approx(1.2250 / 2, abs=5e-4) == HALF_AIR


@pytest.mark.parametrize(
    ("speed", "pascal"), [(5, 15.3), (8, 39.2), (10, 61.3), (10.8, 71.5), (13.9, 118.4), (17.2, 181.4), (20, 245.2)]
)
def test_pressures(speed: float, pascal: float) -> None:
    assert force_n(speed, 1.0, 1.0) == pytest.approx(pascal, rel=2e-3)


def test_pressure_in_the_other_units() -> None:
    # ASCE 7: 0.00256 psf at mph (seen, quoted): 100 mph is 25.6 psf.
    assert force_n(100 * 0.44704, 1.0, 1.0) == pytest.approx(25.6 * 47.880259, rel=1e-3)


@pytest.mark.parametrize(("speed", "newtons"), [(5, 18.4), (10, 73.6), (15, 165.5)])
def test_force_on_a_square_metre(speed: float, newtons: float) -> None:
    assert force_n(speed, 1.0) == pytest.approx(newtons, abs=0.06)


def test_drag_figures() -> None:
    # Aeronautical Engineer's Data Book, p. 95 (seen): square plate 1.17, cup 1.42 / 0.38.
    assert PLATE >= 1.17
    umbrella = pi / 4
    assert force_n(10, umbrella, CUP) == pytest.approx(68.4, abs=0.05)
    assert force_n(10, umbrella, 0.38) == pytest.approx(18.3, abs=0.05)


def test_gust_over_a_forecast_mean() -> None:
    # WMO/TD-No. 1555, 3 s over 10 min, open inland (seen, as code that quotes it).
    assert GUST_OVER_MEAN == 1.66


# Limits in m/s seen on meteothes.gr and delta-s.org; the WMO table itself not seen.
UPPER = (0.2, 1.5, 3.3, 5.4, 7.9, 10.7, 13.8, 17.1, 20.7, 24.4, 28.4, 32.6)


@pytest.mark.parametrize(("number", "top"), list(enumerate(UPPER)))
def test_beaufort_limits(number: int, top: float) -> None:
    assert beaufort(top) == number
    assert beaufort(round(top + 0.1, 1)) == number + 1
    # V = 0.836 B^1.5 (WMO, from memory), cut to one decimal
    if number:
        assert int(0.836 * (number + 0.5) ** 1.5 * 10) / 10 == top


def test_beaufort_names() -> None:
    assert [BEAUFORT_NAMES[beaufort(speed)] for speed in (0, 4, 12, 40)] == [
        "calm",
        "gentle breeze",
        "strong breeze",
        "hurricane",
    ]


# Derived: 1.2 x 0.9 m at 2.2 m, tripod R 0.50 with an edge to the wind, 11 kg and bags.
@pytest.mark.parametrize(
    ("bag", "tips", "limit", "mean"),
    [
        (0, 3.93, 3.21, 1.93),
        (5, 4.74, 3.87, 2.33),
        (10, 5.43, 4.43, 2.67),
        (15, 6.04, 4.93, 2.97),
        (20, 6.60, 5.39, 3.24),
        (30, 7.59, 6.19, 3.73),
    ],
)
def test_tipping_gusts(bag: float, tips: float, limit: float, mean: float) -> None:
    push = (11 + bag) * G * 0.25 / 2.2
    limits = limits_of(tipping_gust(push, 1.08))
    assert limits.tips == pytest.approx(tips, abs=0.01)
    assert limits.limit == pytest.approx(limit, abs=0.01)
    assert limits.limit / GUST_OVER_MEAN == pytest.approx(mean, abs=0.01)


@pytest.mark.parametrize(("height", "tips"), [(2.2, 5.43), (1.5, 6.58), (1.0, 8.05)])
def test_lowering_in_the_wind(height: float, tips: float) -> None:
    assert tipping_gust(21 * G * 0.25 / height, 1.08) == pytest.approx(tips, abs=0.01)


@pytest.mark.parametrize(("gust", "bag"), [(3.4, 1.4), (5.5, 21.4), (8.0, 57.4), (10.8, 113.7)])
def test_bag_that_a_gust_asks_for(gust: float, bag: float) -> None:
    # Turned round: with that bag the limit with 1.5 in hand is that gust.
    push = (11 + bag) * G * 0.25 / 2.2
    assert limits_of(tipping_gust(push, 1.08)).limit == pytest.approx(gust, abs=0.01)


def test_watch_and_act_at_60_and_80_per_cent() -> None:
    # Cardiff Council, Bute Park event guide, 2020 (seen): of load; here of speed, which is safer.
    limits = limits_of(10.0)
    assert limits.watch < limits.limit * 0.60**0.5
    assert limits.act < limits.limit * 0.80**0.5
