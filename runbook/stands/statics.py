"""Whether a thing on feet stays on them, and the stand with its load that a changeover passes through.

Lengths in m, masses in kg, forces in N, angles in degrees; x runs from the column out along the
load, z up. Plain statics: a body on feet stands while its mass centre, seen from above, lies inside
the polygon of the feet. The safety factor is standing over tipping moments, as DGUV Vorschrift 70,
23(2) words it for breakdown trucks; the levels 1.3 (same place) and 1.5 (New York City building code
27-591) are borrowed from there. A boom's arm is uniform and level: the seesaw of the school books
with a heavy plank whose middle is off the pivot.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, inf, pi, radians, sin, sqrt, tan
from typing import Final, Literal

from runbook.model.kit import Accessory, Bag, Head, Kit, Modifier, Stand
from runbook.model.setup import Light
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


def bags_needed(
    base: Base, burden: Burden, spot: Spot, lean_limit_deg: float, factor: float = WARN_FACTOR
) -> tuple[float | None, float | None]:
    """Return the least and the most mass of bags at that spot that meet the lean and the factor.

    No least when no mass does, and no most when more only helps.

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
            return None, None
        stands, tips = burden.moments(base, facing)
        short = factor * tips - stands
        if tips > TINY and short > 0:
            if hold <= TINY:
                return None, None
            least = max(least, short / hold)
    if least > most + TINY:
        return None, None
    return least, most if most < inf else None


# -- a stand with its load -------------------------------------------------------------------------

BagsAt = Literal["column", "far legs"]
# (kg, metres out from the column, or along a boom's arm from its pivot)
Loads = tuple[tuple[float, float], ...]

# Planning assumptions of our own: where a stand's own mass and its bags act.
COLUMN_SHARE: Final = 0.35
BAG_HEIGHT_M: Final = 0.10
FAR_LEG_SHARE: Final = 0.6
# Nearer to balance than this a hand on the arm feels nothing: our own tolerance.
_BALANCED_KG: Final = 0.25
_BALANCED_SHARE: Final = 0.05


@dataclass(frozen=True, slots=True)
class Sail:
    """What a stand carries in place of a head: its mass, how far in front of the column, and what it shows the wind."""

    item: str
    mass_kg: float
    out_m: float
    area_m2: float
    drag: float
    part: str = "panel"


@dataclass(frozen=True, slots=True)
class Rig:
    """A stand and what it carries at one moment, a head or a sail; ``height_m`` is the middle of its load."""

    stand: Stand
    height_m: float
    head: Head | None = None
    modifier: Modifier | None = None
    accessories: tuple[Accessory, ...] = ()
    bags: tuple[Bag, ...] = ()
    bags_at: BagsAt = "column"
    leg_under_load: bool = False
    counterweight_on: bool = True
    sail: Sail | None = None

    @property
    def is_loaded(self) -> bool:
        """Whether it carries a head or a sail."""
        return self.head is not None or self.sail is not None


def rig_of(kit: Kit, light: Light) -> Rig:
    """Return the stand of one light, fitted as its setup wants it.

    Raises KeyError when the kit lacks one of the things the light names.
    """
    return Rig(
        kit.stand[light.stand],
        light.height_m,
        kit.head[light.head],
        kit.modifier[light.modifier],
        tuple(kit.accessory[name] for name in light.accessories),
        tuple(kit.bag[name] for name in light.bags),
        light.bags_at,
        light.leg_under_load,
    )


def front_kg(rig: Rig) -> float:
    """Return the mass of modifier and accessories, which act half the modifier's depth in front of the head."""
    return (rig.modifier.mass_kg if rig.modifier else 0.0) + sum(accessory.mass_kg for accessory in rig.accessories)


def held_loads(rig: Rig) -> Loads:
    """Return what head, modifier, accessories and sail weigh and where they act.

    On a stand the modifier is in front of the head, a sail in front of the column. A boom's load hangs over
    what it lights, with its modifier under it: all of it acts at the tip of the arm.
    """
    head_kg = rig.head.mass_kg if rig.head else 0.0
    loads: Loads = (head_kg, 0.0), (front_kg(rig), rig.modifier.depth_m / 2 if rig.modifier else 0.0)
    if rig.sail is not None:
        loads = (*loads, (rig.sail.mass_kg, rig.sail.out_m))
    return tuple((kg, rig.stand.arm_m or 0.0) for kg, _ in loads) if rig.stand.is_boom else loads


def arm_loads(rig: Rig) -> Loads:
    """Return everything on a boom's arm but its counterweight. Raises ValueError when it has no arm."""
    stand = rig.stand
    if stand.arm_m is None or stand.arm_back_m is None:
        raise ValueError(f"{stand.id} has no arm; a boom needs arm_m and arm_back_m")
    return (*held_loads(rig), (stand.arm_mass_kg, (stand.arm_m - stand.arm_back_m) / 2))


def turning_kgm(loads: Iterable[tuple[float, float]]) -> float:
    """Return the moment of masses about the pivot in kg m; plus turns the head down."""
    return sum(kg * x for kg, x in loads)


def balance_kg(loads: Iterable[tuple[float, float]], back_m: float) -> float:
    """Return the counterweight at ``back_m`` behind the pivot that balances the loads; 0 if none does.

    Raises ValueError when there is no arm behind the pivot to hang it on.
    """
    if back_m <= 0:
        raise ValueError("there is no arm behind the pivot to hang a counterweight on")
    return max(0.0, turning_kgm(loads) / back_m)


def counterweight_needed_kg(rig: Rig) -> float | None:
    """Return the counterweight that balances a boom; None for a stand that is none.

    Raises ValueError when a boom has no arm.
    """
    return balance_kg(arm_loads(rig), rig.stand.arm_back_m or 0.0) if rig.stand.is_boom else None


def is_balanced(rig: Rig) -> bool:
    """Return whether a boom's arm stays level by itself; an arm with nothing on it does not matter."""
    needed = counterweight_needed_kg(rig)
    hung = rig.stand.counterweight_kg if rig.counterweight_on else 0.0
    if needed is None or (not rig.is_loaded and not hung):
        return True
    if turning_kgm(arm_loads(rig)) < 0:
        return False
    return abs(hung - needed) <= max(_BALANCED_KG, _BALANCED_SHARE * needed) + TINY


def loads_of(rig: Rig) -> Loads:
    """Return what the column carries.

    A boom's arm acts as one mass, with what its counterweight leaves of the moments as an offset.
    """
    if not rig.stand.is_boom:
        return held_loads(rig)
    loads = arm_loads(rig)
    if rig.counterweight_on:
        loads = (*loads, (rig.stand.counterweight_kg, -(rig.stand.arm_back_m or 0.0)))
    whole = sum(kg for kg, _ in loads)
    return ((whole, turning_kgm(loads) / whole if whole else 0.0),)


def load_kg(rig: Rig) -> float:
    """Return what the stand carries: its load, and a boom's arm and counterweight."""
    return sum(kg for kg, _ in loads_of(rig))


def bags_kg(rig: Rig) -> float:
    """Return the mass of the bags on the stand."""
    return sum(bag.mass_kg for bag in rig.bags)


def base(rig: Rig) -> Base:
    """Return the feet, seen from the load."""
    return base_of(rig.stand.legs, rig.stand.foot_radius_m, rig.leg_under_load)


def far_feet(rig: Rig) -> int:
    """Return how many feet are furthest from the load, and share the bags of the far legs: one or two.

    With a leg under the load there is a foot straight behind where the legs are even in number.
    Else an edge faces the load, the worst turn, and there is one where they are odd.
    """
    return 1 if rig.leg_under_load == (rig.stand.legs % 2 == 0) else 2


def bags_on_far_legs(rig: Rig) -> bool:
    """Return whether its bags hang on far legs: with nothing up there is no far side."""
    return rig.bags_at == "far legs" and (rig.is_loaded or rig.modifier is not None)


def far_leg_bags(rig: Rig) -> tuple[tuple[Bag, ...], ...]:
    """Return the bags on each far leg: the heaviest first, always on the leg with less on it."""
    legs: list[list[Bag]] = [[] for _ in range(far_feet(rig))]
    for bag in sorted(rig.bags, key=lambda bag: (-bag.mass_kg, bag.id)):
        min(legs, key=lambda leg: sum(other.mass_kg for other in leg)).append(bag)
    return tuple(tuple(leg) for leg in legs)


def even_spot(rig: Rig) -> Spot:
    """Return where bags act in the place given when they are shared evenly over the far legs.

    On the far legs that is 0.6 of the foot radius R away from the load where one foot is straight
    behind. Where two feet share them, each at 0.6 R along its leg and pi/legs off straight behind,
    they act at 0.6 R cos(pi/legs): for a tripod with a leg under its load half as far back.
    """
    if not bags_on_far_legs(rig):
        return Spot(0.0, BAG_HEIGHT_M)
    back = FAR_LEG_SHARE * rig.stand.foot_radius_m
    return Spot(-back * cos(pi / rig.stand.legs) if far_feet(rig) == 2 else -back, BAG_HEIGHT_M)


def bag_spot(rig: Rig) -> Spot:
    """Return where its bags act, as they hang: one bag has one leg, and pulls to that side."""
    even = even_spot(rig)
    if not rig.bags or not bags_on_far_legs(rig) or far_feet(rig) == 1:
        return even
    one, other = (sum(bag.mass_kg for bag in leg) for leg in far_leg_bags(rig))
    aside = FAR_LEG_SHARE * rig.stand.foot_radius_m * sin(pi / rig.stand.legs)
    return replace(even, y=aside * (one - other) / (one + other))


def burden_of(rig: Rig) -> Burden:
    """Return what the rig puts on its feet, bags aside."""
    loads, stand_kg = loads_of(rig), rig.stand.mass_kg
    load = sum(kg for kg, _ in loads)
    standing = rig.height_m * (COLUMN_SHARE * stand_kg + load)
    return Burden(stand_kg + load, turning_kgm(loads), standing, stand_kg, loads)
