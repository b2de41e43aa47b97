from math import pi

import pytest
from hypothesis import given

from runbook.model.day import Place
from runbook.stands import wind
from runbook.stands.statics import Rig
from tests.stands.rigs import a_boom, a_box, a_stand, numbers


def test_areas_are_outlines_and_never_nothing() -> None:
    assert wind.area_m2(a_box(shape="rectangle", width_m=1.2)) == pytest.approx(1.08)
    assert wind.area_m2(a_box()) == pytest.approx(pi / 4 * 0.81)
    assert wind.area_m2(None) == wind.area_m2(a_box(shape="bare")) == wind.HEAD_AREA_M2
    # by hand: 1.2 x (0.05 m2 of head + 0.03 m of column x 2 m, acting half-way up: 0.03 m2)
    assert wind.drag_area_m2(Rig(a_stand(), 2.0)) == pytest.approx(1.2 * (0.05 + 0.03))
    # and 2.4 m of arm, all of it at the height of the load
    assert wind.drag_area_m2(Rig(a_boom(), 2.0)) == pytest.approx(1.2 * (0.05 + 0.03 + 0.072))
    cup = a_box(cup=True)
    assert wind.drag_area_m2(Rig(a_stand(), 2.0, modifier=cup)) == pytest.approx(1.42 * wind.area_m2(cup) + 1.2 * 0.03)


@given(numbers(1, 200), numbers(0.05, 3))
def test_the_tipping_gust_pushes_with_what_tips(push: float, area: float) -> None:
    assert wind.force_n(wind.tipping_gust(push, area), area) == pytest.approx(push)
    assert wind.tipping_gust(4 * push, area) == pytest.approx(2 * wind.tipping_gust(push, area))
    assert wind.tipping_gust(-push, area) == 0.0


@pytest.mark.parametrize(("place", "gust", "source"), [
    (Place(wind_ms=2.0), 2.0, "draught"), (Place(indoors=False, wind_ms=2.0), 3.32, "gusts"),
    (Place(indoors=False, wind_ms=2.0, gust_ms=5.0), 5.0, "gusts"),
    (Place(indoors=False, wind_ms=2.0, gust_ms=1.0), 2.0, "gusts"), (Place(fan_ms=4.0, wind_ms=1.0), 4.0, "fan"),
    (Place(fan_ms=1.0, wind_ms=2.0), 2.0, "draught"), (Place(indoors=False, wind_ms=2.0, fan_ms=3.0), 3.32, "gusts"),
])  # fmt: skip
def test_the_gust_to_plan_for_and_what_makes_it(place: Place, gust: float, source: str) -> None:
    assert wind.gust_of(place) == pytest.approx(gust)
    assert wind.wind_source_text(place) == source


def test_gusts_and_limits_in_words() -> None:
    assert wind.limit_text(40.0) == wind.limit_text(wind.SHOWN_MS + 0.1) == "over 20 m/s"
    assert (wind.limit_text(4.66), wind.limit_text(40.0, "imperial")) == ("4.7 m/s", "over 44.7 mph")
    assert wind.gust_text(6.0, "imperial") == "13.4 mph, force 4, moderate breeze"


def test_wind_actions_start_with_the_lowest_limit() -> None:
    limits = {"S1": wind.limits_of(10.0), "S2": wind.limits_of(5.0), "S3": wind.limits_of(6.0)}
    # limits 8.16, 4.08 and 4.90 m/s; watch at 60 %, act at 80 % of each
    assert wind.wind_actions(limits, 5.0) == (
        "S2 (limit 4.1 m/s): take it down first, now",
        "S3 (limit 4.9 m/s): take it down now",
        "S1 (limit 8.2 m/s): name a person to watch it",
    )
    act = "put a person on it, or take it down"
    assert wind.wind_actions(limits, 4.0) == (f"S2 (limit 4.1 m/s): {act}", f"S3 (limit 4.9 m/s): {act}")
    assert wind.wind_actions(limits, 1.0) == ()
