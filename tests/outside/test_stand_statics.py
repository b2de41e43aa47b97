"""Stands against other people's mechanics: textbooks, shapely, a linear programme of foot forces.

Status beside each source: seen (read), from memory, or derived.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sqrt, tan

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from shapely.geometry import MultiPoint, Point

from runbook.model.day import Place
from runbook.stands.statics import (
    BAG_HEIGHT_M,
    STOP_FACTOR,
    WARN_FACTOR,
    Burden,
    G,
    Rig,
    Spot,
    bag_spot,
    bags_needed,
    base_margin_m,
    base_of,
    burden_factor,
    burden_of,
    lean_deg,
    push_n,
)
from runbook.stands.verdict import judge
from tests.stands.polygon import PointMass, centre_of, factor_of, point_masses, regular_feet
from tests.stands.rigs import PLAIN_STANDS, RIGS, a_box, a_head, a_stand, bags, numbers


def feet_can_push(feet: list[tuple[float, float]], centre: PointMass, push: float, h: float) -> bool:
    """Whether feet that only push up can balance weight and a level push along +x at height h."""
    weight = centre.kg * G
    equal = np.array([[1.0] * len(feet), [x for x, _ in feet], [y for _, y in feet]])
    wanted = [weight, weight * centre.x + push * h, weight * centre.y]
    return bool(linprog([0.0] * len(feet), A_eq=equal, b_eq=wanted, method="highs").success)


@settings(max_examples=40)
@given(PLAIN_STANDS, numbers(0.6, 3.0), numbers(0, 0.2), st.booleans())
def test_the_push_that_tips_a_stand_is_what_its_feet_bear(
    stand: object, height: float, ahead: float, leg: bool
) -> None:
    rig = Rig(stand, height, leg_under_load=leg)  # type: ignore[arg-type]
    masses = (*point_masses(rig), PointMass(3.0, ahead, height))
    centre = centre_of(masses)
    base = base_of(rig.stand.legs, rig.stand.foot_radius_m, leg)
    push = push_n(centre.kg, base_margin_m(base, centre.x), height)
    assume(push > 0.1)
    turn = 0.0 if leg else 180 / rig.stand.legs
    feet = list(regular_feet(rig.stand.legs, rig.stand.foot_radius_m, turn))
    # push square onto the edge that gives way first
    way = pi / rig.stand.legs if leg else 0.0
    turned = [(x * cos(way) + y * np.sin(way), y * cos(way) - x * np.sin(way)) for x, y in feet]
    seen = centre._replace(x=centre.x * cos(way), y=-centre.x * np.sin(way))
    assert feet_can_push(turned, seen, push * 0.999, height)
    assert not feet_can_push(turned, seen, push * 1.001, height)


# Point masses and the quick sums of a rig must tell one story, booms and far bags included.
@given(RIGS)
def test_the_quick_factor_is_that_of_the_points(rig: Rig) -> None:
    base = base_of(rig.stand.legs, rig.stand.foot_radius_m, rig.leg_under_load)
    bags_kg = sum(bag.mass_kg for bag in rig.bags)
    quick = burden_factor(base, burden_of(rig), bags_kg, bag_spot(rig))
    assume(rig.bags_at == "column")
    turns = [0.0] if rig.leg_under_load else [180 / rig.stand.legs, 0.0]
    factors = [
        factor_of(regular_feet(rig.stand.legs, rig.stand.foot_radius_m, turn), point_masses(rig)) for turn in turns
    ]
    known = [factor for factor in factors if factor is not None]
    assert (quick is None) == (not known)
    if quick is not None:
        assert quick == pytest.approx(min(known), rel=1e-6)


# Derived: the inradius of a regular polygon, R cos(pi/N); shapely agrees.
@pytest.mark.parametrize(("legs", "inradius"), [(3, 0.5), (4, 0.707107), (5, 0.809017), (6, 0.866025)])
def test_inradius(legs: int, inradius: float) -> None:
    assert base_of(legs, 1.0, False).edge_m == pytest.approx(inradius, abs=1e-6)
    shape = MultiPoint(regular_feet(legs, 1.0)).convex_hull
    assert shape.exterior.distance(Point(0, 0)) == pytest.approx(inradius, abs=1e-6)


def test_textbook_block() -> None:
    # Essential University Physics vol. 1, 3rd ed. (Wolfson), ch. 12 problem 48, p. 217 (seen):
    # a block twice as high as wide tips at atan(0.5) = 26.57 degrees.
    assert lean_deg(base_of(4, sqrt(0.5), False).edge_m, 1.0) == pytest.approx(26.57, abs=0.01)


def test_block_tips_at_base_over_height() -> None:
    # F=ma 2009 problem 24 (seen): tan(tipping angle) = base / height.
    assert tan(lean_deg(0.15, 0.4) * pi / 180) == pytest.approx(0.3 / 0.8)


# Derived: a tripod of R 0.50 with 6.0 kg at 0.6 m, 3.5 kg at 2.2 m and 1.5 kg 0.25 m in front.
RIG_A = (PointMass(6.0, 0, 0.6), PointMass(3.5, 0, 2.2), PointMass(1.5, 0.25, 2.2))


@pytest.mark.parametrize(
    ("leg", "bag", "margin", "lean"),
    [
        (False, 0.0, 0.2159, 9.24),  # mujoco, gravity slowly tilted: 9.23
        (True, 0.0, 0.2330, 9.95),
        (False, 5.0, 0.2266, 13.50),  # mujoco: 13.50
        (True, 5.0, 0.2383, 14.17),
    ],
)
def test_rig_a(leg: bool, bag: float, margin: float, lean: float) -> None:
    masses = [*RIG_A] + ([PointMass(bag, 0, 0.10)] if bag else [])
    centre = centre_of(masses)
    found = base_margin_m(base_of(3, 0.5, leg), centre.x)
    assert found == pytest.approx(margin, abs=5e-5)
    assert lean_deg(found, centre.z) == pytest.approx(lean, abs=0.01)


def _burden(masses: tuple[PointMass, ...]) -> Burden:
    first, *others = masses
    whole = centre_of(masses)
    return Burden(
        whole.kg, whole.kg * whole.x, whole.kg * whole.z, first.kg, tuple((mass.kg, mass.x) for mass in others)
    )


# Levels of other trades: 6 household lamps (IEC 60598-2-4, seen via), 8 (UL 153, seen via),
# 10 AV equipment (IEC 62368-1, seen via), 15 garden lamps (IEC 60598-2-7, seen via).
@pytest.mark.parametrize(("level", "kg"), [(6, 0.0), (8, 0.0), (10, 0.858), (15, 6.886)])
def test_bags_for_a_tilt_level(level: float, kg: float) -> None:
    base, burden = base_of(3, 0.5, False), _burden(RIG_A)
    found, _ = bags_needed(base, burden, Spot(0.0, 0.10), level)
    assert found == pytest.approx(kg, abs=1e-3)
    if found:
        centre = centre_of([*RIG_A, PointMass(found, 0, 0.10)])
        assert lean_deg(base_margin_m(base, centre.x), centre.z) == pytest.approx(level, abs=1e-6)


def test_a_push_of_a_kilogram_tips_it() -> None:
    # Derived. IEC 62368-1's 13 % of weight at 1.5 m (seen via): 14.02 N; it bears 15.53 N.
    margin = base_margin_m(base_of(3, 0.5, False), centre_of(RIG_A).x)
    assert margin >= 0.13 * 1.5
    assert push_n(11.0, margin, 1.5) == pytest.approx(15.53, abs=0.01)
    assert push_n(11.0, margin, 2.2) == pytest.approx(10.59, abs=0.01)
    assert push_n(11.0, margin, 2.2) / 9.80665 == pytest.approx(1.08, abs=0.01)


# Derived: 8 kg at the column, 4 kg at 0.90 m, R 0.50.
SIDE = Burden(12.0, 3.6, 8 * 0.7 + 4 * 2.0, 8.0, ((4.0, 0.9),))


@pytest.mark.parametrize(("leg", "margin", "factor"), [(False, -0.05, 0.769), (True, 0.10, 2.500)])
def test_side_load(leg: bool, margin: float, factor: float) -> None:
    base = base_of(3, 0.5, leg)
    assert base_margin_m(base, 3.6 / 12) == pytest.approx(margin, abs=1e-4)
    assert burden_factor(base, SIDE, 0, Spot(0, 0)) == pytest.approx(factor, abs=1e-3)


@pytest.mark.parametrize(("spot", "kg"), [(0.0, 7.600), (-0.30, 3.455)])
def test_bag_for_a_side_load(spot: float, kg: float) -> None:
    # A lean limit of nearly nothing leaves the factor of 1.5 to decide.
    found, _ = bags_needed(base_of(3, 0.5, False), SIDE, Spot(spot, 0.0), 1e-6)
    assert found == pytest.approx(kg, abs=1e-3)


def test_the_published_factors() -> None:
    # 1.3: DGUV Vorschrift 70, 23(2), breakdown trucks (seen); 1.5: New York City building code
    # 27-591 (seen). Both borrowed.
    assert (STOP_FACTOR, WARN_FACTOR) == (1.3, 1.5)


# Derived: with a leg under the load the corner of the polygon is ahead; behind it is an edge where
# the legs are odd in number, and a corner where they are even. shapely's polygon, a mass centre
# 0.06 m back and one 0.06 m ahead.
@pytest.mark.parametrize(
    ("legs", "behind", "margin_back", "margin_ahead"),
    [
        (3, 1.0, 0.5 * 0.5 - 0.06, 0.5 * (0.5 - 0.06)),
        (4, 0.7071068, 0.7071068 * (0.5 - 0.06), 0.7071068 * (0.5 - 0.06)),
        (5, 1.0, 0.8090170 * 0.5 - 0.06, 0.8090170 * (0.5 - 0.06)),
        (6, 0.8660254, 0.8660254 * (0.5 - 0.06), 0.8660254 * (0.5 - 0.06)),
    ],
)
def test_what_is_behind_a_leg_under_the_load(legs: int, behind: float, margin_back: float, margin_ahead: float) -> None:
    base = base_of(legs, 0.5, True)
    assert base.behind == pytest.approx(behind, abs=1e-7)
    hull = MultiPoint(regular_feet(legs, 0.5)).convex_hull
    for x, margin in ((-0.06, margin_back), (0.06, margin_ahead)):
        assert base_margin_m(base, x) == pytest.approx(margin, abs=1e-7)
        assert hull.exterior.distance(Point(x, 0.0)) == pytest.approx(margin, abs=1e-7)


@pytest.mark.parametrize(
    ("legs", "leg", "reach"), [(3, False, 0.75), (3, True, 1.5), (4, False, 1.0607), (4, True, 1.5)]
)
def test_largest_reach(legs: int, leg: bool, reach: float) -> None:
    # Derived: a leg under the load doubles a tripod's reach.
    base = base_of(legs, 0.5, leg)
    assert base_margin_m(base, 4 * (reach - 1e-3) / 12) > 0
    assert base_margin_m(base, 4 * (reach + 1e-3) / 12) < 0


@pytest.mark.parametrize(
    ("leg", "spot", "kg"),
    [
        (True, "column", 10.0),
        (True, "far legs", 7.69),  # shared by the two rear legs of a tripod
        (False, "column", 37.0),
        (False, "far legs", 16.82),  # on the opposite leg
    ],
)
def test_where_the_bag_should_hang(leg: bool, spot: str, kg: float) -> None:
    # Derived; it contradicts "bag on the leg under the load", which would need 25 kg.
    rig = Rig(a_stand(foot_radius_m=0.5), 2.0, bags_at=spot, leg_under_load=leg)  # type: ignore[arg-type]
    hung = bag_spot(rig) if spot == "column" else _far(rig)
    burden = Burden(14.0, 9.0, 0.0, 8.0, ((6.0, 1.5),))
    found, _ = bags_needed(base_of(3, 0.5, leg), burden, Spot(hung.x, 0.0), 1e-6)
    assert found == pytest.approx(kg, abs=5e-3)


def _far(rig: Rig) -> Spot:
    spot = bag_spot(replace(rig, head=a_head(), bags=bags(5.0)))
    assert spot.z == BAG_HEIGHT_M
    return spot


# Derived, the feet as points and shapely's polygon: four legs of R 0.50, 8 kg of stand, 1 kg of
# head and 3 kg 0.9 m in front of it, at 2.0 m; the bag in halves on the two far feet, 0.6 R out.
def test_two_feet_share_a_bag_where_an_edge_of_four_faces_the_load() -> None:
    rig = Rig(a_stand(legs=4, foot_radius_m=0.5, mass_kg=8.0), 2.0, a_head(1.0), a_box(3.0, 1.8), bags_at="far legs")
    place = Place(tilt_limit_deg=10.0)
    needed = judge(rig, place).bags_needed_kg
    assert needed == pytest.approx(1.56, abs=0.005)
    feet = regular_feet(4, 0.5, 45.0)
    hull = MultiPoint(feet).convex_hull
    halves = [PointMass(needed / 2, 0.6 * x, 0.10, 0.6 * y) for x, y in feet if x < 0]
    masses = (*point_masses(rig), *halves)
    centre = centre_of(masses)
    margin = hull.exterior.distance(Point(centre.x, centre.y))
    assert lean_deg(margin, centre.z) == pytest.approx(10.0, abs=1e-6)
