from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.kit import Accessory
from runbook.stands.statics import (
    Rig,
    arm_loads,
    bag_spot,
    bags_kg,
    balance_kg,
    burden_of,
    far_feet,
    front_kg,
    load_kg,
    loads_of,
    rig_of,
    turning_kgm,
)
from tests.stands.polygon import centre_of, point_masses, regular_feet
from tests.stands.rigs import RIGS, a_boom, a_box, a_head, a_kit, a_light, a_stand, bags, numbers

GRID = Accessory("grid", "grid", ("octa",), mass_kg=0.4)


def test_modifier_and_accessories_act_half_a_depth_in_front() -> None:
    rig = Rig(a_stand(), 2.0, a_head(), a_box(), (GRID,))
    assert front_kg(rig) == pytest.approx(1.7)
    assert loads_of(rig) == ((2.0, 0.0), (pytest.approx(1.7), 0.225))
    assert load_kg(rig) == pytest.approx(3.7)
    assert [mass.z for mass in point_masses(rig)] == [pytest.approx(0.7), 2.0, 2.0]


@pytest.mark.parametrize("leg", [False, True])
@pytest.mark.parametrize("legs", [3, 4, 5, 6, 7, 8])
def test_bags_on_the_far_legs_hang_over_real_feet(legs: int, leg: bool) -> None:
    """The feet as they are: those furthest back carry the bags, 0.6 of the way out."""
    stand = a_stand(foot_radius_m=0.5, legs=legs)
    rig = Rig(stand, 2.0, a_head(), a_box(), (), bags(7.0), "far legs", leg)
    feet = regular_feet(legs, 0.5, 0.0 if leg else 180 / legs)
    back = min(x for x, _ in feet)
    far = [(x, y) for x, y in feet if x < back + 1e-9]
    assert far_feet(rig) == len(far)
    assert sum(y for _, y in far) == pytest.approx(0.0, abs=1e-12)
    assert bag_spot(rig).x == pytest.approx(0.6 * sum(x for x, _ in far) / len(far))


@given(RIGS)
def test_the_sums_are_those_of_the_points(rig: Rig) -> None:
    burden, spot, bags_mass = burden_of(rig), bag_spot(rig), bags_kg(rig)
    centre = centre_of(point_masses(rig))
    whole = burden.whole_kg + bags_mass
    assert centre.kg == pytest.approx(whole)
    assert centre.x == pytest.approx((burden.turning + bags_mass * spot.x) / whole, abs=1e-9)
    assert centre.z == pytest.approx((burden.standing + bags_mass * spot.z) / whole)


def test_every_moment_of_a_changeover_is_a_rig() -> None:
    empty = Rig(a_stand(), 1.05)
    assert load_kg(empty) == 0.0
    assert load_kg(replace(empty, head=a_head())) == 2.0
    boom = Rig(a_boom(), 2.0, a_head(), a_box(), (GRID,))
    assert load_kg(boom) == pytest.approx(2.0 + 1.3 + 0.4 + 1.6 + 6.0)
    assert load_kg(replace(boom, counterweight_on=False)) == pytest.approx(5.3)


def test_a_boom_hands_over_one_mass_where_its_moments_say() -> None:
    boom = Rig(a_boom(), 2.0, a_head(1.3), a_box(0.9, 0.15), (GRID,))
    # 2.6 kg at 1.6 m and the arm's 1.6 kg at 0.4 m against 6 kg at 0.8 m
    assert loads_of(boom) == ((pytest.approx(10.2), pytest.approx(0.0, abs=1e-12)),)
    bare = replace(boom, counterweight_on=False)
    assert loads_of(bare) == ((pytest.approx(4.2), pytest.approx(4.8 / 4.2)),)


def test_far_bags_hang_where_there_are_legs_for_them() -> None:
    rig = Rig(a_stand(foot_radius_m=0.5), 2.0, a_head(), a_box(), (), bags(7.0), "far legs")
    assert bag_spot(rig).x == pytest.approx(-0.30)
    # behind a tripod with a leg under the load the feet end at 0.25 m: two legs share the bag
    assert bag_spot(replace(rig, leg_under_load=True)).x == pytest.approx(-0.15)
    four = replace(rig, stand=a_stand(foot_radius_m=0.5, legs=4), leg_under_load=True)
    assert bag_spot(four).x == pytest.approx(-0.30)
    assert far_feet(four) == 1
    # an edge of four faces the load: no foot straight behind, two at 45 degrees share the bag
    assert bag_spot(replace(four, leg_under_load=False)).x == pytest.approx(-0.2121, abs=1e-4)
    assert bag_spot(replace(rig, bags_at="column")).x == 0.0
    assert bag_spot(Rig(rig.stand, 1.05, bags=rig.bags, bags_at="far legs")).x == 0.0


def test_a_light_becomes_its_rig() -> None:
    kit = a_kit()
    light = a_light(accessories=("grid",), bags=("B1",), bags_at="far legs", leg_under_load=True)
    rig = rig_of(kit, light)
    assert rig == Rig(
        kit.stand["S1"],
        2.0,
        kit.head["A"],
        kit.modifier["octa"],
        (kit.accessory["grid"],),
        (kit.bag["B1"],),
        "far legs",
        True,
    )
    with pytest.raises(KeyError):
        rig_of(kit, a_light(stand="nowhere"))


LOADS = st.lists(st.tuples(numbers(0.1, 9), numbers(0.1, 3)), min_size=1, max_size=4)


@given(LOADS, numbers(0.2, 1.5))
def test_the_balancing_weight_leaves_nothing(loads: list[tuple[float, float]], back: float) -> None:
    balanced = [*loads, (balance_kg(loads, back), -back)]
    assert turning_kgm(balanced) == pytest.approx(0, abs=1e-9)


def test_a_back_heavy_arm_wants_no_counterweight() -> None:
    assert balance_kg([(3.0, -0.5)], 0.8) == 0.0


def test_a_weight_needs_an_arm_to_hang_on() -> None:
    with pytest.raises(ValueError, match="no arm behind the pivot"):
        balance_kg([(3.0, 1.0)], 0.0)
    with pytest.raises(ValueError, match="S1 has no arm"):
        arm_loads(Rig(a_stand(), 2.0))


def test_the_arm_acts_at_its_middle() -> None:
    assert arm_loads(Rig(a_boom(), 2.0))[-1] == (1.6, pytest.approx(0.4))
