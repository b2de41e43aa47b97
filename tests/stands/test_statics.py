from dataclasses import replace
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.kit import Accessory
from runbook.stands import statics
from tests.stands.polygon import centre_of, margin_m, point_masses, regular_feet
from tests.stands.rigs import RIGS, a_boom, a_box, a_head, a_stand, bags, numbers

BURDENS = st.builds(
    lambda stand, load, x, z: statics.Burden(stand + load, load * x, 0.35 * z * stand + load * z, stand, ((load, x),)),
    numbers(1, 12), numbers(0.1, 8), numbers(0, 1.5), numbers(0.6, 3),
)  # fmt: skip
BASES = st.builds(statics.base_of, st.integers(3, 6), numbers(0.3, 0.8), st.booleans())


@given(st.integers(3, 8), numbers(0.2, 1.0), numbers(-0.8, 0.8), st.booleans())
def test_the_quick_margin_is_the_margin_of_the_real_feet(legs: int, radius: float, x: float, leg: bool) -> None:
    quick = statics.base_margin_m(statics.base_of(legs, radius, leg), x)
    if leg:
        assert quick == pytest.approx(margin_m(regular_feet(legs, radius), x), abs=1e-9)
    else:
        turns = [margin_m(regular_feet(legs, radius, turn), x) for turn in (180 / legs, 0.0, 7.0, 31.0)]
        assert quick <= min(turns) + 1e-9
        facing = regular_feet(legs, radius, 180 / legs if x >= 0 or legs % 2 == 0 else 0.0)
        assert quick == pytest.approx(margin_m(facing, x), abs=1e-9)


@given(BASES, BURDENS, st.sampled_from([statics.Spot(0.0, 0.1), statics.Spot(-0.18, 0.1)]), numbers(6, 15))
def test_the_bags_needed_are_enough_and_no_more_than_enough(base, burden, spot, limit):
    least, most = statics.bags_needed(base, burden, spot, limit)

    def meets(bags: float) -> bool:
        whole = burden.whole_kg + bags
        margin = statics.base_margin_m(base, (burden.turning + bags * spot.x) / whole)
        lean = statics.lean_deg(margin, (burden.standing + bags * spot.z) / whole)
        factor = statics.burden_factor(base, burden, bags, spot)
        return lean >= limit - 1e-6 and (factor is None or factor >= 1.5 - 1e-6)

    if least is None:
        assert not any(meets(bags) for bags in (0, 1, 5, 10, 20, 40, 80))
    else:
        assert meets(least)
        if least > 0.01:
            assert not meets(least * 0.99)
        assert meets(min(most or inf, max(least, 200.0)))
        if most is not None and most < 1e3:
            assert not meets(most * 1.01 + 1e-3)


def test_a_limit_no_mass_can_meet_needs_no_bags_but_another_stand() -> None:
    burden = statics.Burden(5.0, 0.0, 8.0, 3.0, ((2.0, 0.0),))
    assert statics.bags_needed(statics.base_of(3, 0.4, False), burden, statics.Spot(0.0, 0.1), 70.0) == (None, None)


def test_the_factor_can_ask_for_more_than_the_lean() -> None:
    burden = statics.Burden(12.0, 3.6, 1.2, 8.0, ((4.0, 0.9),))
    low = statics.bags_needed(statics.base_of(3, 0.5, True), burden, statics.Spot(0.0, 0.0), 1e-6, 1.0)
    high = statics.bags_needed(statics.base_of(3, 0.5, True), burden, statics.Spot(0.0, 0.0), 1e-6, 4.0)
    assert low == (0.0, None)
    assert high == (pytest.approx((4.0 * 0.8 - 2.0) / 0.25), None)


def test_a_bag_outside_the_base_does_not_count_as_holding() -> None:
    # 4 kg on the column, 3 kg 1 m out: 2 kg m hold and 1.5 kg m tip about an edge at 0.5 m
    base = statics.base_of(3, 0.5, leg_under_load=True)
    burden = statics.Burden(7.0, 3.0, 8.0, 4.0, ((3.0, 1.0),))
    without = statics.burden_factor(base, burden, 0.0, statics.Spot(0.0, 0.1))
    assert without is not None
    beyond = statics.burden_factor(base, burden, 10.0, statics.Spot(2.0, 0.1))
    assert beyond == pytest.approx(without)
    inside = statics.burden_factor(base, burden, 10.0, statics.Spot(-0.2, 0.1))
    assert inside is not None
    assert inside > without


GRID = Accessory("grid", "grid", ("octa",), mass_kg=0.4)


def test_modifier_and_accessories_act_half_a_depth_in_front() -> None:
    rig = statics.Rig(a_stand(), 2.0, a_head(), a_box(), (GRID,))
    assert statics.front_kg(rig) == pytest.approx(1.7)
    assert statics.loads_of(rig) == ((2.0, 0.0), (pytest.approx(1.7), 0.225))
    assert statics.load_kg(rig) == pytest.approx(3.7)
    assert [mass.z for mass in point_masses(rig)] == [pytest.approx(0.7), 2.0, 2.0]


@pytest.mark.parametrize("leg", [False, True])
@pytest.mark.parametrize("legs", [3, 4, 5, 6, 7, 8])
def test_bags_on_the_far_legs_hang_over_real_feet(legs: int, leg: bool) -> None:
    """The feet as they are: those furthest back carry the bags, 0.6 of the way out."""
    stand = a_stand(foot_radius_m=0.5, legs=legs)
    rig = statics.Rig(stand, 2.0, a_head(), a_box(), (), bags(7.0), "far legs", leg)
    feet = regular_feet(legs, 0.5, 0.0 if leg else 180 / legs)
    back = min(x for x, _ in feet)
    far = [(x, y) for x, y in feet if x < back + 1e-9]
    assert statics.far_feet(rig) == len(far)
    assert sum(y for _, y in far) == pytest.approx(0.0, abs=1e-12)
    assert statics.bag_spot(rig).x == pytest.approx(0.6 * sum(x for x, _ in far) / len(far))
    assert (
        statics.bag_spot(replace(rig, bags_at="column")).x
        == statics.bag_spot(replace(rig, head=None, modifier=None)).x
        == 0.0
    )


@given(RIGS)
def test_the_sums_are_those_of_the_points(rig: statics.Rig) -> None:
    burden, spot, bags_mass = statics.burden_of(rig), statics.bag_spot(rig), statics.bags_kg(rig)
    centre = centre_of(point_masses(rig))
    whole = burden.whole_kg + bags_mass
    assert centre.kg == pytest.approx(whole)
    assert centre.x == pytest.approx((burden.turning + bags_mass * spot.x) / whole, abs=1e-9)
    assert centre.z == pytest.approx((burden.standing + bags_mass * spot.z) / whole)


def test_a_boom_hands_over_one_mass_where_its_moments_say() -> None:
    boom = statics.Rig(a_boom(), 2.0, a_head(1.3), a_box(0.9, 0.15), (GRID,))
    # 2.6 kg at 1.6 m and the arm's 1.6 kg at 0.4 m against 6 kg at 0.8 m
    assert statics.loads_of(boom) == ((pytest.approx(10.2), pytest.approx(0.0, abs=1e-12)),)
    bare = replace(boom, counterweight_on=False)
    assert statics.loads_of(bare) == ((pytest.approx(4.2), pytest.approx(4.8 / 4.2)),)


LOADS = st.lists(st.tuples(numbers(0.1, 9), numbers(0.1, 3)), min_size=1, max_size=4)


@given(LOADS, numbers(0.2, 1.5))
def test_the_balancing_weight_leaves_nothing(loads: list[tuple[float, float]], back: float) -> None:
    balanced = [*loads, (statics.balance_kg(loads, back), -back)]
    assert statics.turning_kgm(balanced) == pytest.approx(0, abs=1e-9)


def test_a_back_heavy_arm_wants_no_counterweight() -> None:
    assert statics.balance_kg([(3.0, -0.5)], 0.8) == 0.0


def test_a_weight_needs_an_arm_to_hang_on() -> None:
    with pytest.raises(ValueError, match="no arm behind the pivot"):
        statics.balance_kg([(3.0, 1.0)], 0.0)
    with pytest.raises(ValueError, match="S1 has no arm"):
        statics.arm_loads(statics.Rig(a_stand(), 2.0))
