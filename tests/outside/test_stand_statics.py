"""Stands against other people's mechanics: textbooks, shapely, a linear programme of foot forces.

Status beside each source: seen (read), from memory, or derived.
"""

from math import cos, inf, pi, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from shapely.geometry import MultiPoint, Point

from runbook.model.day import Place
from runbook.model.kit import Stand
from runbook.stands import statics
from runbook.stands.verdict import judge
from tests.outside.published import agree, published, rows
from tests.stands.polygon import PointMass, centre_of, factor_of, point_masses, regular_feet
from tests.stands.rigs import PLAIN_STANDS, RIGS, a_box, a_head, a_stand, bags, numbers


def feet_can_push(feet: list[tuple[float, float]], centre: PointMass, push: float, h: float) -> bool:
    """Whether feet that only push up can balance weight and a level push along +x at height h."""
    weight = centre.kg * statics.G
    equal = np.array([[1.0] * len(feet), [x for x, _ in feet], [y for _, y in feet]])
    wanted = [weight, weight * centre.x + push * h, weight * centre.y]
    return bool(linprog([0.0] * len(feet), A_eq=equal, b_eq=wanted, method="highs").success)


@settings(max_examples=40)
@given(PLAIN_STANDS, numbers(0.6, 3.0), numbers(0, 0.2), st.booleans())
def test_the_push_that_tips_a_stand_is_what_its_feet_bear(stand: Stand, height: float, ahead: float, leg: bool) -> None:
    rig = statics.Rig(stand, height, leg_under_load=leg)
    centre = centre_of((*point_masses(rig), PointMass(3.0, ahead, height)))
    push = statics.push_n(
        centre.kg, statics.base_margin_m(statics.base_of(stand.legs, stand.foot_radius_m, leg), centre.x), height
    )
    assume(push > 0.1)
    feet = regular_feet(stand.legs, stand.foot_radius_m, 0.0 if leg else 180 / stand.legs)
    # push square onto the edge that gives way first
    way = pi / stand.legs if leg else 0.0
    turned = [(x * cos(way) + y * sin(way), y * cos(way) - x * sin(way)) for x, y in feet]
    seen = centre._replace(x=centre.x * cos(way), y=-centre.x * sin(way))
    assert feet_can_push(turned, seen, push * 0.999, height)
    assert not feet_can_push(turned, seen, push * 1.001, height)


# Point masses and the quick sums of a rig must agree, booms included.
@given(RIGS)
def test_the_quick_factor_is_that_of_the_points(rig: statics.Rig) -> None:
    assume(rig.bags_at == "column")
    legs, radius = rig.stand.legs, rig.stand.foot_radius_m
    bags_kg = sum(bag.mass_kg for bag in rig.bags)
    quick = statics.burden_factor(
        statics.base_of(legs, radius, rig.leg_under_load), statics.burden_of(rig), bags_kg, statics.bag_spot(rig)
    )
    turns = [0.0] if rig.leg_under_load else [180 / legs, 0.0]
    factors = [factor_of(regular_feet(legs, radius, turn), point_masses(rig)) for turn in turns]
    known = [factor for factor in factors if factor is not None]
    assert (inf if quick is None else quick) == pytest.approx(min(known, default=inf), rel=1e-6)


TRIPOD = statics.base_of(3, 0.5, False)
# Derived: a tripod of R 0.50 with 6.0 kg at 0.6 m, 3.5 kg at 2.2 m and 1.5 kg 0.25 m in front.
RIG_A = (PointMass(6.0, 0, 0.6), PointMass(3.5, 0, 2.2), PointMass(1.5, 0.25, 2.2))
CENTRE_A = centre_of(RIG_A)
BURDEN_A = statics.Burden(
    CENTRE_A.kg, CENTRE_A.kg * CENTRE_A.x, CENTRE_A.kg * CENTRE_A.z, 6.0, tuple((m.kg, m.x) for m in RIG_A[1:])
)
# Derived: 8 kg at the column, 4 kg at 0.90 m, R 0.50.
SIDE = statics.Burden(12.0, 3.6, 8 * 0.7 + 4 * 2.0, 8.0, ((4.0, 0.9),))
MARGIN_A = statics.base_margin_m(TRIPOD, CENTRE_A.x)


def inradius_m(legs: int) -> float:
    return statics.base_of(legs, 1.0, False).edge_m


def inradius_shapely_m(legs: int) -> float:
    return float(MultiPoint(regular_feet(legs, 1.0)).convex_hull.exterior.distance(Point(0, 0)))


def slope_of_tipping(base_m: float, height_m: float) -> float:
    return tan(statics.lean_deg(base_m / 2, height_m / 2) * pi / 180)


def lean_of_rig_a(leg: bool, bag_kg: float) -> float:
    centre = centre_of([*RIG_A, PointMass(bag_kg, 0, 0.10)])
    return statics.lean_deg(statics.base_margin_m(statics.base_of(3, 0.5, leg), centre.x), centre.z)


def margin_of_rig_a(leg: bool, bag_kg: float) -> float:
    return statics.base_margin_m(statics.base_of(3, 0.5, leg), centre_of([*RIG_A, PointMass(bag_kg, 0, 0.10)]).x)


def bag_kg(burden: statics.Burden, leg: bool, spot: statics.Spot, level_deg: float) -> float | None:
    """The bag a tripod of R 0.50 needs."""
    return statics.bags_needed(statics.base_of(3, 0.5, leg), burden, spot, level_deg)[0]


def bag_a_kg(level_deg: float) -> float | None:
    return bag_kg(BURDEN_A, False, statics.Spot(0.0, 0.10), level_deg)


def bag_side_kg(x: float) -> float | None:
    # a lean limit of nearly nothing leaves the factor of 1.5 to decide
    return bag_kg(SIDE, False, statics.Spot(x, 0.0), 1e-6)


def bag_hung_kg(leg: bool, bags_at: str) -> float | None:
    rig = statics.Rig(a_stand(foot_radius_m=0.5), 2.0, a_head(), None, (), bags(5.0), bags_at, leg)  # type: ignore[arg-type]
    spot = statics.bag_spot(rig)
    assert spot.z == statics.BAG_HEIGHT_M
    return bag_kg(statics.Burden(14.0, 9.0, 0.0, 8.0, ((6.0, 1.5),)), leg, statics.Spot(spot.x, 0.0), 1e-6)


def side_load(leg: bool) -> tuple[float, float | None]:
    base = statics.base_of(3, 0.5, leg)
    return statics.base_margin_m(base, 3.6 / 12), statics.burden_factor(base, SIDE, 0, statics.Spot(0, 0))


def largest_reach_m(legs: int, leg: bool) -> float:
    """How far out 4 kg of 12 kg can hang: there the margin of the base is used up."""
    base = statics.base_of(legs, 0.5, leg)
    return float(
        np.interp(0.0, *zip(*sorted((statics.base_margin_m(base, 4 * x / 12), x) for x in (0.5, 3.0)), strict=True))
    )


@published(
    # Derived: the inradius of a regular polygon, R cos(pi/N); shapely agrees.
    rows(inradius_m, 1e-6, {(3,): 0.5, (4,): 0.707107, (5,): 0.809017, (6,): 0.866025}),
    rows(inradius_m, 1e-9, {(legs,): inradius_shapely_m(legs) for legs in (3, 4, 5, 6)}),
    # Essential University Physics vol. 1, 3rd ed. (Wolfson), ch. 12 problem 48, p. 217 (seen): a block twice as high
    # as wide tips at atan(0.5) = 26.57 degrees.
    rows(statics.lean_deg, 0.01, {(statics.base_of(4, sqrt(0.5), False).edge_m, 1.0): 26.57}),
    # F=ma 2009 problem 24 (seen): tan(tipping angle) = base / height.
    rows(slope_of_tipping, 1e-9, {(0.3, 0.8): 0.3 / 0.8}),
    # Derived; mujoco, gravity slowly tilted: 9.23, and 13.50 with the bag.
    rows(lean_of_rig_a, 0.01, {(False, 0.0): 9.24, (True, 0.0): 9.95, (False, 5.0): 13.50, (True, 5.0): 14.17}),
    rows(margin_of_rig_a, 5e-5, {(False, 0.0): 0.2159, (True, 0.0): 0.2330, (False, 5.0): 0.2266, (True, 5.0): 0.2383}),
    # Levels of other trades: 6 household lamps (IEC 60598-2-4, seen via), 8 (UL 153, seen via), 10 AV equipment
    # (IEC 62368-1, seen via), 15 garden lamps (IEC 60598-2-7, seen via).
    rows(bag_a_kg, 1e-3, {(6,): 0.0, (8,): 0.0, (10,): 0.858, (15,): 6.886}),
    # Derived. IEC 62368-1's 13 % of weight at 1.5 m (seen via): 14.02 N; it bears 15.53 N.
    rows(statics.push_n, 0.01, {(11.0, MARGIN_A, 1.5): 15.53, (11.0, MARGIN_A, 2.2): 10.59}),
    rows(bag_side_kg, 1e-3, {(0.0,): 7.600, (-0.30,): 3.455}),
    rows(side_load, 1e-3, {(False,): (-0.05, 0.769), (True,): (0.10, 2.500)}),
    # Derived; it contradicts "bag on the leg under the load", which would need 25 kg. The far legs: shared by the two
    # rear legs of a tripod, or on the opposite leg.
    rows(bag_hung_kg, 5e-3, {(True, "column"): 10.0, (True, "far legs"): 7.69}),
    rows(bag_hung_kg, 5e-3, {(False, "column"): 37.0, (False, "far legs"): 16.82}),
    # Derived: a leg under the load doubles a tripod's reach.
    rows(largest_reach_m, 1e-3, {(3, False): 0.75, (3, True): 1.5, (4, False): 1.0607, (4, True): 1.5}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)


@pytest.mark.parametrize("level", [10, 15])
def test_the_bag_needed_brings_the_lean_to_the_limit(level: float) -> None:
    assert lean_of_rig_a(False, bag_a_kg(level) or 0.0) == pytest.approx(level, abs=1e-6)


def test_the_published_factors() -> None:
    # 1.3: DGUV Vorschrift 70, 23(2), breakdown trucks (seen); 1.5: New York City building code 27-591 (seen). Both
    # borrowed.
    assert (statics.STOP_FACTOR, statics.WARN_FACTOR) == (1.3, 1.5)


# Derived: with a leg under the load the corner of the polygon is ahead; behind it is an edge where
# the legs are odd in number, and a corner where they are even. shapely's polygon, a mass centre
# 0.06 m back and one 0.06 m ahead.
@pytest.mark.parametrize(("legs", "behind"), [(3, 1.0), (4, 0.7071068), (5, 1.0), (6, 0.8660254)])
def test_what_is_behind_a_leg_under_the_load(legs: int, behind: float) -> None:
    base = statics.base_of(legs, 0.5, True)
    assert base.behind == pytest.approx(behind, abs=1e-7)
    edge = MultiPoint(regular_feet(legs, 0.5)).convex_hull.exterior
    for x in (-0.06, 0.06):
        assert statics.base_margin_m(base, x) == pytest.approx(edge.distance(Point(x, 0.0)), abs=1e-7)


# Derived, the feet as points and shapely's polygon: four legs of R 0.50, 8 kg of stand, 1 kg of
# head and 3 kg 0.9 m in front of it, at 2.0 m; the bag in halves on the two far feet, 0.6 R out.
def test_two_feet_share_a_bag_where_an_edge_of_four_faces_the_load() -> None:
    rig = statics.Rig(
        a_stand(legs=4, foot_radius_m=0.5, mass_kg=8.0), 2.0, a_head(1.0), a_box(3.0, 1.8), bags_at="far legs"
    )
    needed = judge(rig, Place(tilt_limit_deg=10.0)).bags_needed_kg
    assert needed == pytest.approx(1.56, abs=0.005)
    feet = regular_feet(4, 0.5, 45.0)
    halves = [PointMass(needed / 2, 0.6 * x, 0.10, 0.6 * y) for x, y in feet if x < 0]
    centre = centre_of((*point_masses(rig), *halves))
    margin = MultiPoint(feet).convex_hull.exterior.distance(Point(centre.x, centre.y))
    assert statics.lean_deg(margin, centre.z) == pytest.approx(10.0, abs=1e-6)
