"""Whether a thing on feet stays on them: moments about the edges of its feet.

Lengths in m, masses in kg, forces in N, angles in degrees. Plain statics: a body on feet stands
while its mass centre, seen from above, lies inside the polygon of the feet. The safety factor is
standing over tipping moments, as DGUV Vorschrift 70, 23(2) words it for breakdown trucks; the
levels 1.3 (same place) and 1.5 (New York City building code 27-591) are borrowed from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, inf, pi, radians, sin, sqrt, tan
from typing import Final

from runbook.model.units import STANDARD_G

G: Final = STANDARD_G
STOP_FACTOR: Final = 1.3
WARN_FACTOR: Final = 1.5
# An arm shorter than this neither holds nor tips; a lean that misses its limit by less has met it.
TINY: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Base:
    """A regular base, seen from the load.

    ``edge_m`` is from the column to an edge; ``ahead`` and ``behind`` are the cosines between
    +x, or -x, and the outward normal of the edge that a load there tips over. ``normals`` are
    those of all edges on one side of x, empty for the worst turn, where any edge may face it.
    """

    edge_m: float
    ahead: float
    behind: float
    normals: tuple[tuple[float, float], ...] = ()


def base_of(legs: int, foot_radius_m: float, leg_under_load: bool) -> Base:
    """Return the base of a stand: for the worst turn of its legs, or with a leg along the load.

    In the worst turn an edge faces the mass centre squarely.
    """
    corner = cos(pi / legs)
    edge = foot_radius_m * corner
    if not leg_under_load:
        return Base(edge, 1.0, 1.0)
    turns = [(2 * n + 1) * pi / legs for n in range((legs + 1) // 2)]
    return Base(edge, corner, 1.0 if legs % 2 else corner, tuple((cos(turn), sin(turn)) for turn in turns))


def base_margin_m(base: Base, x: float, y: float = 0.0) -> float:
    """Return the least distance from a mass centre inward to an edge; minus is outside.

    ``x`` is along the load, ``y`` to either side of it.
    """
    if not y:
        return base.edge_m - (base.ahead * x if x >= 0 else -base.behind * x)
    if not base.normals:
        return base.edge_m - hypot(x, y)
    return base.edge_m - max(nx * x + ny * abs(y) for nx, ny in base.normals)


def lean_deg(margin: float, centre_height_m: float) -> float:
    """Return the lean at which it tips; minus when it falls by itself."""
    return degrees(atan2(margin, centre_height_m))


def push_n(whole_kg: float, margin: float, height_m: float) -> float:
    """Return the level push in N at that height that tips it over its weakest edge."""
    return whole_kg * G * margin / height_m


@dataclass(frozen=True, slots=True)
class Burden:
    """What stands on a base, bags aside.

    ``stand_kg`` is on the column, ``loads`` are the (kg, x) that can tip it; ``turning`` is the
    sum of kg times x and ``standing`` the sum of kg times z, both in kg m and of everything.
    """

    whole_kg: float
    turning: float
    standing: float
    stand_kg: float
    loads: tuple[tuple[float, float], ...]

    def moments(self, base: Base, facing: float) -> tuple[float, float]:
        """Return standing and tipping moments in kg m about the edge that faces one way."""
        stands, tips = self.stand_kg * base.edge_m, 0.0
        for kg, x in self.loads:
            arm = base.edge_m - facing * x
            if arm > TINY:
                stands += kg * arm
            elif arm < -TINY:
                tips -= kg * arm
        return stands, tips


@dataclass(frozen=True, slots=True)
class Spot:
    """Where bags act: out along x (minus is away from the load), how high, and how far off x."""

    x: float
    z: float
    y: float = 0.0


def burden_factor(base: Base, burden: Burden, bags_kg: float, spot: Spot) -> float | None:
    """Return standing over tipping moments of a burden on a regular base; None when nothing tips.

    Bags only ever hold: they hang inside the feet, so they are given no tipping arm. Bags to one
    side of the load hold least about the edge on that side.
    """
    least = inf
    for facing in (base.ahead, -base.behind):
        stands, tips = burden.moments(base, facing)
        if tips > 0:
            aside = sqrt(max(0.0, 1.0 - facing * facing)) * abs(spot.y)
            stands += bags_kg * max(0.0, base.edge_m - facing * spot.x - aside)
            least = min(least, stands / tips)
    return None if least == inf else least


@dataclass(frozen=True, slots=True)
class BagRange:
    """The masses of bags in one place that are enough, in kg; ``most_kg`` is inf without an upper limit."""

    least_kg: float
    most_kg: float


def bags_needed(
    base: Base, burden: Burden, spot: Spot, lean_limit_deg: float, factor: float = WARN_FACTOR
) -> BagRange | None:
    """Return the masses of bags at that spot that meet the lean and the factor; None when none does.

    Both conditions are straight lines in the mass of the bags: for the lean,
    (edge - facing x) M >= tan(limit) z M with M x and M z linear in it; for the factor, standing
    moments >= factor times tipping moments. There is a most where the bags hang so far out that
    they pull it over the other way.
    """
    slope = tan(radians(lean_limit_deg))
    least, most = 0.0, inf
    for facing in (base.ahead, -base.behind):
        spare = burden.whole_kg * base.edge_m - facing * burden.turning - slope * burden.standing
        hold = base.edge_m - facing * spot.x
        gain = hold - slope * spot.z
        if gain > TINY:
            least = max(least, -spare / gain)
        elif gain < -TINY:
            most = min(most, spare / -gain)
        elif spare < 0:
            return None
        stands, tips = burden.moments(base, facing)
        short = factor * tips - stands
        if tips > TINY and short > 0:
            if hold <= TINY:
                return None
            least = max(least, short / hold)
    return BagRange(least, most) if least <= most + TINY else None
