"""A hung cloth's rail on two stands: half of its weight, and half of its pull in moving air.

Reckoned by hand from F = 1/2 rho v2 Cd A, rho 1.226 kg/m3 (ASCE 7's 0.613), and the drag of a hollow that faces the
wind, 1.42 (Aeronautical Engineer's Data Book, p. 95, seen); the level turn over an edge of the feet is plain statics.
"""

from dataclasses import replace
from math import cos, pi, sqrt

import pytest

from runbook.model.day import Place
from runbook.model.kit import Bag, Cloth, Stand
from runbook.stands.statics import Rig
from runbook.stands.verdict import judge
from runbook.stands.wind import rail_sail

STAND = Stand(id="S", foot_radius_m=0.52, mass_kg=3.1, load_max_kg=9.0, height_min_m=1.05, height_max_m=3.5)
VOILE = Cloth(id="voile", loss_stops=1.0, width_m=3.0, height_m=3.0, mass_kg=0.6)
UP_M, BAG = 3.1, Bag(id="B", mass_kg=7.0)


def test_each_stand_bears_half_of_cloth_and_rail() -> None:
    # 0.6 kg of cloth and 3 m of rail at 1 kg a metre, halved
    verdict = judge(Rig(STAND, UP_M, bags=(BAG,), sail=rail_sail(VOILE)), Place())
    assert verdict.load_kg == pytest.approx(1.8)
    assert judge(Rig(STAND, UP_M, sail=rail_sail(replace(VOILE, mass_kg=20.0))), Place()).faults[-1] == "load"


@pytest.mark.parametrize(("wide", "high", "drag"), [(3.0, 3.0, 1.42), (1.0, 3.0, 2.0)])
def test_in_moving_air_each_stand_takes_half_the_pull_at_the_rail(wide: float, high: float, drag: float) -> None:
    cloth = replace(VOILE, width_m=wide, height_m=high)
    verdict = judge(Rig(STAND, UP_M, bags=(BAG,), sail=rail_sail(cloth)), Place())
    # the gust at which pull x height of the rail, and that of the column half-way up, is weight x edge of the feet
    weight_n = (3.1 + 7.0 + (0.6 + wide) / 2) * 9.80665
    turning_m3 = drag * wide * high / 2 * UP_M + 1.2 * 0.03 * UP_M * UP_M / 2
    tips_ms = sqrt(weight_n * 0.52 * cos(pi / 3) / (0.613 * turning_m3))
    assert verdict.wind.tips == pytest.approx(tips_ms)
    assert verdict.wind_limit_ms == pytest.approx(tips_ms / sqrt(1.5))


def test_a_fan_that_a_box_takes_is_past_the_limit_of_a_cloth() -> None:
    # 1.57 m/s tips it: a light breeze begins at 1.6
    rig = Rig(STAND, UP_M, bags=(BAG,), sail=rail_sail(VOILE))
    assert judge(rig, Place()).wind.tips == pytest.approx(1.574, abs=0.002)
    assert judge(rig, Place()).ok
    assert judge(rig, Place(fan_ms=1.5)).faults == ("wind",)
