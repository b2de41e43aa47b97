"""Whether a thing on feet stays on them: moments about the edges of its feet.

Lengths in m, masses in kg, forces in N, angles in degrees. Plain statics: a body on feet stands
while its mass centre, seen from above, lies inside the polygon of the feet. The safety factor is
standing over tipping moments, as DGUV Vorschrift 70, 23(2) words it for breakdown trucks; the
levels 1.3 (same place) and 1.5 (New York City building code 27-591) are borrowed from there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from math import atan2, ceil, cos, degrees, floor, hypot, inf, pi, radians, sin, tan
from typing import Final

from runbook.plan.tuples import NamedTuple
from runbook.plan.units import STANDARD_G

G: Final = STANDARD_G
STOP_FACTOR: Final = 1.3
WARN_FACTOR: Final = 1.5
# An arm shorter than this neither holds nor tips; a lean that misses its limit by less has met it.
TINY: Final = 1e-9


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


class Base(NamedTuple):
    """A regular base as the load sees it.

    ``edge_m`` is from the column to an edge; ``ahead`` and ``behind`` are the cosines between
    +x, or -x, and the outward normal of the edge that a load there tips over.
    """

    edge_m: float
    ahead: float
    behind: float


@cache
def base_of(legs: int, foot_radius_m: float, leg_under_load: bool) -> Base:
    """The base of a stand: for the worst turn of its legs, or with a leg along the load.

    In the worst turn an edge squarely faces whichever way the mass centre has gone.
    """
    corner = cos(pi / legs)
    edge = foot_radius_m * corner
    if not leg_under_load:
        return Base(edge, 1.0, 1.0)
    return Base(edge, corner, 1.0 if legs % 2 else corner)


def regular_feet(
    legs: int, foot_radius_m: float, turn_deg: float = 0.0
) -> tuple[tuple[float, float], ...]:
    """The feet of a regular base; at a turn of 0 one leg points along +x."""
    turn = radians(turn_deg)
    return tuple(
        (
            foot_radius_m * cos(turn + 2 * pi * n / legs),
            foot_radius_m * sin(turn + 2 * pi * n / legs),
        )
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


def base_margin_m(base: Base, x: float) -> float:
    """The same for a regular base and a mass centre on the line of the load."""
    return base.edge_m - (base.ahead * x if x >= 0 else -base.behind * x)


def lean_deg(margin: float, centre_height_m: float) -> float:
    """How far it may lean before it goes; minus when it goes by itself."""
    return degrees(atan2(margin, centre_height_m))


def push_n(whole_kg: float, margin: float, height_m: float) -> float:
    """The level push at that height, in N, that tips it at its weakest edge."""
    return whole_kg * G * margin / height_m


def push_towards_n(
    edges: Sequence[Edge], centre: PointMass, height_m: float, way_deg: float
) -> float:
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


class Burden(NamedTuple):
    """What stands on a base, bags aside.

    ``stand_kg`` is on the column, ``loads`` are the (kg, x) that can tip it; ``turning`` is the
    sum of kg times x and ``standing`` the sum of kg times z, both in kg m and of everything.
    """

    whole_kg: float
    turning: float
    standing: float
    stand_kg: float
    loads: tuple[tuple[float, float], ...]


class Spot(NamedTuple):
    """Where bags act: out along x (minus is away from the load), and how high."""

    x: float
    z: float


def burden_factor(base: Base, burden: Burden, bags_kg: float, spot: Spot) -> float | None:
    """Standing over tipping moments of a burden on a regular base; None when nothing tips.

    Bags only ever hold: they hang inside the feet, so they are given no tipping arm.
    """
    least = inf
    for facing in (base.ahead, -base.behind):
        stands = burden.stand_kg * base.edge_m
        tips = 0.0
        for kg, x in burden.loads:
            arm = base.edge_m - facing * x
            if arm > TINY:
                stands += kg * arm
            elif arm < -TINY:
                tips -= kg * arm
        if tips > 0:
            stands += bags_kg * max(0.0, base.edge_m - facing * spot.x)
            least = min(least, stands / tips)
    return None if least == inf else least


class Needed(NamedTuple):
    """The masses of bags in one place that do, in kg; ``most_kg`` is inf where more only helps."""

    least_kg: float
    most_kg: float


def bags_needed(
    base: Base,
    burden: Burden,
    spot: Spot,
    lean_limit_deg: float,
    factor: float = WARN_FACTOR,
) -> Needed | None:
    """The masses of bags at that spot that meet the lean and the factor.

    None when no mass there is enough. Both conditions are straight lines in the mass of the bags:
    for the lean, (edge - facing x) M >= tan(limit) z M with M x and M z linear in it; for the
    factor, standing moments >= factor times tipping moments. There is a most where the bags hang
    so far out that they pull it over the other way.
    """
    slope = tan(radians(lean_limit_deg))
    least, most = 0.0, inf
    for facing in (base.ahead, -base.behind):
        spare = burden.whole_kg * base.edge_m - facing * burden.turning - slope * burden.standing
        gain = base.edge_m - facing * spot.x - slope * spot.z
        if gain > TINY:
            least = max(least, -spare / gain)
        elif gain < -TINY:
            most = min(most, spare / -gain)
        elif spare < 0:
            return None
        stands = burden.stand_kg * base.edge_m
        tips = 0.0
        for kg, x in burden.loads:
            arm = base.edge_m - facing * x
            stands += kg * max(0.0, arm)
            tips += kg * max(0.0, -arm)
        if tips > TINY:
            hold = base.edge_m - facing * spot.x
            short = factor * tips - stands
            if short > 0 and hold <= TINY:
                return None
            least = max(least, short / hold if short > 0 else 0.0)
    return Needed(least, most) if least <= most + TINY else None


def rounded_up_kg(needed_kg: float, unit_kg: float = 1.0) -> float:
    """A mass as it is said, to a tenth of a kilogram or of another unit: never under what is
    needed."""
    return ceil(needed_kg / unit_kg * 10 - 1e-6) / 10 * unit_kg


def rounded_down_kg(most_kg: float, unit_kg: float = 1.0) -> float:
    """The same of what must not be passed: never over it."""
    return floor(most_kg / unit_kg * 10 + 1e-6) / 10 * unit_kg


def all_too_heavy(needed: Needed, at_hand_kg: Sequence[float]) -> bool:
    """Whether bags there are, but no choice of them weighs little enough and still enough.

    Too few bags is another matter: more of them would do. To the gram.
    """
    if needed.most_kg == inf or sum(at_hand_kg) <= needed.most_kg + TINY:
        return False
    least, most = ceil(needed.least_kg * 1000 - 1e-6), floor(needed.most_kg * 1000 + 1e-6)
    sums = {0}
    for kg in at_hand_kg:
        grams = round(kg * 1000)
        sums |= {held + grams for held in sums if held + grams <= most}
    return max(sums) < least


def fewest_bags(needed_kg: float, at_hand_kg: Sequence[float]) -> tuple[int, ...] | None:
    """The fewest bags at hand that reach a mass, as places in ``at_hand_kg``; None if none do.

    Among equally few it takes lighter ones where that still reaches.
    """
    if needed_kg <= TINY:
        return ()
    order = sorted(range(len(at_hand_kg)), key=lambda n: (-at_hand_kg[n], n))
    taken: list[int] = []
    held = 0.0
    for n in order:
        taken.append(n)
        held += at_hand_kg[n]
        if held >= needed_kg - TINY:
            break
    else:
        return None
    for place, n in enumerate(taken):
        spare = held - needed_kg + TINY
        lighter = [
            m for m in order if m not in taken and 0 < at_hand_kg[n] - at_hand_kg[m] <= spare
        ]
        if lighter:
            swap = lighter[-1]
            held += at_hand_kg[swap] - at_hand_kg[n]
            taken[place] = swap
    return tuple(sorted(taken))
