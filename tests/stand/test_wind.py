from __future__ import annotations

from math import pi, sqrt

import pytest
from hypothesis import given

from runbook.plan.day import Place
from runbook.stand.wind import (
    BARE_AREA_M2,
    area_m2,
    beaufort,
    blowing,
    drag_of,
    force_n,
    gust_of,
    limits_of,
    lower_first,
    mean_limit,
    tipping_gust,
    top_of_force,
)
from tests.stand.rigs import a_box, numbers


def test_areas_are_outlines_and_never_nothing() -> None:
    assert area_m2(a_box(shape="rectangle", width_m=1.2)) == pytest.approx(1.08)
    assert area_m2(a_box()) == pytest.approx(pi / 4 * 0.81)
    assert area_m2(None) == area_m2(a_box(shape="bare")) == BARE_AREA_M2


def test_a_bare_head_with_its_pole_is_a_sail_of_twenty_centimetres_square() -> None:
    # our own guess, said in the docs: 0.04 m2, so 8 m/s push it with 1.9 N
    assert area_m2(None) == 0.04
    assert force_n(8.0, area_m2(None)) == pytest.approx(1.883, abs=1e-3)


def test_a_cup_catches_more() -> None:
    assert drag_of(a_box(cup=True)) == 1.42
    assert drag_of(a_box()) == drag_of(None) == 1.2


@given(numbers(1, 200), numbers(0.05, 3))
def test_the_tipping_gust_pushes_with_what_tips(push: float, area: float) -> None:
    assert force_n(tipping_gust(push, area), area) == pytest.approx(push)
    assert tipping_gust(4 * push, area) == pytest.approx(2 * tipping_gust(push, area))
    assert tipping_gust(push, 4 * area) == pytest.approx(tipping_gust(push, area) / 2)


def test_what_falls_by_itself_stands_no_wind() -> None:
    assert tipping_gust(-3.0, 1.0) == 0.0


def test_limits_come_in_order() -> None:
    limits = limits_of(6.0)
    assert limits.limit == pytest.approx(6 / sqrt(1.5))
    assert limits.watch == pytest.approx(0.6 * limits.limit)
    assert limits.act == pytest.approx(0.8 * limits.limit)


def test_the_gust_to_plan_for() -> None:
    assert gust_of(Place(wind_ms=2.0)) == 2.0
    assert gust_of(Place(indoors=False, wind_ms=2.0)) == pytest.approx(3.32)
    assert gust_of(Place(indoors=False, wind_ms=2.0, gust_ms=5.0)) == 5.0
    assert mean_limit(3.32) == pytest.approx(2.0)


def test_a_fan_blows_where_there_is_no_wind() -> None:
    assert gust_of(Place(fan_ms=4.0)) == 4.0
    assert gust_of(Place(indoors=False, wind_ms=2.0, fan_ms=3.0)) == pytest.approx(3.32)
    assert blowing(Place(fan_ms=4.0, wind_ms=1.0)) == "a fan"
    assert blowing(Place(fan_ms=1.0, wind_ms=2.0)) == "a draught"
    assert blowing(Place(indoors=False, wind_ms=2.0, fan_ms=3.0)) == "gusts"


def test_the_weakest_comes_down_first() -> None:
    assert lower_first({"S1": 4.0, "S3": 2.0, "S2": 4.0}) == ("S3", "S1", "S2")


def test_a_force_of_the_scale_is_taken_at_its_upper_end() -> None:
    assert [beaufort(top_of_force(number)).number for number in range(13)] == list(range(13))
    assert top_of_force(4) == 7.9


def test_no_wind_is_not_a_number() -> None:
    with pytest.raises(ValueError, match="no wind speed"):
        beaufort(float("nan"))
