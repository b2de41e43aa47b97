"""Statics of point masses on the corners of a polygon, by shapely: what the quick sums of a stand must agree with."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import cos, hypot, inf, pi, radians, sin
from typing import NamedTuple

from shapely.geometry import MultiPoint
from shapely.geometry.polygon import orient

from runbook.stands import statics

Feet = Sequence[tuple[float, float]]


class PointMass(NamedTuple):
    """A mass at a point: the column stands at x = y = 0 and the load leans out along +x."""

    kg: float
    x: float
    z: float
    y: float = 0.0


def regular_feet(legs: int, foot_radius_m: float, turn_deg: float = 0.0) -> tuple[tuple[float, float], ...]:
    """The feet of a regular base; at a turn of 0 one leg points along +x."""
    turns = [radians(turn_deg) + 2 * pi * n / legs for n in range(legs)]
    return tuple((foot_radius_m * cos(turn), foot_radius_m * sin(turn)) for turn in turns)


def arms(feet: Feet, x: float, y: float) -> list[float]:
    """The distances from a point inward to the edges of the hull of some feet."""
    corners = list(orient(MultiPoint(feet).convex_hull).exterior.coords)
    return [
        ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / hypot(bx - ax, by - ay)
        for (ax, ay), (bx, by) in pairwise(corners)
    ]


def margin_m(feet: Feet, x: float, y: float = 0.0) -> float:
    """The least distance from a point over the floor inward to an edge; minus is outside."""
    return min(arms(feet, x, y))


def centre_of(masses: Sequence[PointMass]) -> PointMass:
    """The mass centre, with the whole mass."""
    whole = sum(mass.kg for mass in masses)
    x, z, y = (sum(mass.kg * mass[n] for mass in masses) / whole for n in (1, 2, 3))
    return PointMass(whole, x, z, y)


def factor_of(feet: Feet, masses: Iterable[PointMass]) -> float | None:
    """Standing over tipping moments at the weakest edge; None when nothing tips."""
    least = inf
    by_mass = [[mass.kg * statics.G * arm for arm in arms(feet, mass.x, mass.y)] for mass in masses]
    for moments in zip(*by_mass, strict=True):
        tips = -sum(moment for moment in moments if moment < -statics.TINY)
        if tips > 0:
            least = min(least, sum(moment for moment in moments if moment > statics.TINY) / tips)
    return None if least == inf else least


def point_masses(rig: statics.Rig) -> tuple[PointMass, ...]:
    """The whole rig as points: stand, what it carries, and every bag where it hangs."""
    hung = [PointMass(bag.mass_kg, 0.0, statics.BAG_HEIGHT_M) for bag in rig.bags]
    if statics.bags_on_far_legs(rig):
        feet = regular_feet(
            rig.stand.legs, rig.stand.foot_radius_m, 0.0 if rig.leg_under_load else 180 / rig.stand.legs
        )
        hung = [
            PointMass(bag.mass_kg, 0.6 * x, statics.BAG_HEIGHT_M, 0.6 * y)
            for (x, y), bags in zip(sorted(feet)[: statics.far_feet(rig)], statics.far_leg_bags(rig), strict=True)
            for bag in bags
        ]
    loads = (PointMass(kg, x, rig.height_m) for kg, x in statics.loads_of(rig))
    return (PointMass(rig.stand.mass_kg, 0.0, statics.COLUMN_SHARE * rig.height_m), *loads, *hung)
