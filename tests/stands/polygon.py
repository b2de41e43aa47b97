"""Statics of any feet and any masses: what the quick sums of a stand must agree with.

Itself held against shapely and a linear programme of foot forces in tests/outside.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import cos, hypot, inf, pi, radians, sin
from typing import NamedTuple

from runbook.stands.rig import BAG_HEIGHT_M, COLUMN_SHARE, Rig, bags_on_far_legs, far_feet, far_leg_bags, loads_of
from runbook.stands.stability import TINY, G


class PointMass(NamedTuple):
    """A mass at a point: the column stands at x = y = 0 and the load leans out along +x."""

    kg: float
    x: float
    z: float
    y: float = 0.0


class Edge(NamedTuple):
    """An edge of the polygon of feet: its outward unit normal, and how far out it lies."""

    nx: float
    ny: float
    out_m: float

    def arm(self, x: float, y: float) -> float:
        """Metres from the edge inward to a point over the floor; minus is beyond the edge."""
        return self.out_m - self.nx * x - self.ny * y


def regular_feet(legs: int, foot_radius_m: float, turn_deg: float = 0.0) -> tuple[tuple[float, float], ...]:
    """The feet of a regular base; at a turn of 0 one leg points along +x."""
    turn = radians(turn_deg)
    return tuple(
        (foot_radius_m * cos(turn + 2 * pi * n / legs), foot_radius_m * sin(turn + 2 * pi * n / legs))
        for n in range(legs)
    )


def edges_of(feet: Iterable[tuple[float, float]]) -> tuple[Edge, ...]:
    """The edges of the hull of any feet.

    Raises ValueError when the feet span no area: fewer than three, or all in a line.
    """
    points = sorted(set(feet))

    def half(walk: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        chain: list[tuple[float, float]] = []
        for px, py in walk:
            while len(chain) > 1 and (
                (chain[-1][0] - chain[-2][0]) * (py - chain[-2][1])
                - (chain[-1][1] - chain[-2][1]) * (px - chain[-2][0])
                <= 0
            ):
                chain.pop()
            chain.append((px, py))
        return chain[:-1]

    hull = half(points) + half(reversed(points))
    if len(hull) < 3:
        raise ValueError("feet in one line hold nothing up; a base needs three that span an area")
    edges = []
    for (ax, ay), (bx, by) in zip(hull, hull[1:] + hull[:1], strict=True):
        long = hypot(bx - ax, by - ay)
        nx, ny = (by - ay) / long, (ax - bx) / long
        edges.append(Edge(nx, ny, nx * ax + ny * ay))
    return tuple(edges)


def centre_of(masses: Sequence[PointMass]) -> PointMass:
    """The mass centre, with the whole mass. Raises ValueError when nothing weighs anything."""
    whole = sum(mass.kg for mass in masses)
    if whole <= 0:
        raise ValueError("no mass, so no mass centre")
    return PointMass(
        whole,
        sum(mass.kg * mass.x for mass in masses) / whole,
        sum(mass.kg * mass.z for mass in masses) / whole,
        sum(mass.kg * mass.y for mass in masses) / whole,
    )


def margin_m(edges: Sequence[Edge], x: float, y: float = 0.0) -> float:
    """The least distance from a point over the floor inward to an edge; minus is outside."""
    return min(edge.arm(x, y) for edge in edges)


def push_towards_n(edges: Sequence[Edge], centre: PointMass, height_m: float, way_deg: float) -> float:
    """The level push in N that tips it in one direction, in degrees round from +x."""
    ux, uy = cos(radians(way_deg)), sin(radians(way_deg))
    pushes = [
        centre.kg * G * edge.arm(centre.x, centre.y) / (height_m * facing)
        for edge in edges
        if (facing := edge.nx * ux + edge.ny * uy) > TINY
    ]
    return min(pushes)


def factor_of(
    edges: Sequence[Edge], masses: Iterable[PointMass], level_push_n: float = 0.0, at_m: float = 0.0
) -> float | None:
    """Standing over tipping moments at the weakest edge; None when nothing tips.

    A level push, in N along +x at a height in m, counts as tipping where it works against an edge.
    """
    weighed = tuple(masses)
    least = inf
    for edge in edges:
        arms = [(mass.kg * G, edge.arm(mass.x, mass.y)) for mass in weighed]
        stands = sum(weight * arm for weight, arm in arms if arm > TINY)
        tips = -sum(weight * arm for weight, arm in arms if arm < -TINY)
        tips += level_push_n * at_m * max(0.0, edge.nx)
        if tips > 0:
            least = min(least, stands / tips)
    return None if least == inf else least


def point_masses(rig: Rig) -> tuple[PointMass, ...]:
    """The whole rig as points: stand, what it carries, and every bag where it hangs."""
    legs, radius = rig.stand.legs, rig.stand.foot_radius_m
    hung = [PointMass(bag.mass_kg, 0.0, BAG_HEIGHT_M) for bag in rig.bags]
    if bags_on_far_legs(rig):
        feet = regular_feet(legs, radius, 0.0 if rig.leg_under_load else 180 / legs)
        far = sorted(feet)[: far_feet(rig)]
        hung = [
            PointMass(bag.mass_kg, 0.6 * x, BAG_HEIGHT_M, 0.6 * y)
            for (x, y), bags in zip(far, far_leg_bags(rig), strict=True)
            for bag in bags
        ]
    return (
        PointMass(rig.stand.mass_kg, 0.0, COLUMN_SHARE * rig.height_m),
        *(PointMass(kg, x, rig.height_m) for kg, x in loads_of(rig)),
        *hung,
    )
