"""One stand at one moment, with what is on it, and the masses that makes.

A changeover passes through stands that are empty, half fitted or not yet bagged: each of those
moments is a ``Rig`` like any other. Masses in kg, lengths in m; x runs from the column out along
the load, z up.
"""

from __future__ import annotations

from math import cos, pi
from typing import Final, Literal

from runbook.plan.kit import Accessory, Bag, Head, Kit, Modifier, Stand
from runbook.plan.setup import Light
from runbook.plan.tuples import NamedTuple
from runbook.stand.boom import arm_load
from runbook.stand.stability import Base, Burden, PointMass, Spot, base_of

BagsAt = Literal["column", "far legs"]

# Planning assumptions of our own: where a stand's own mass and its bags act.
COLUMN_SHARE: Final = 0.35
BAG_HEIGHT_M: Final = 0.10
FAR_LEG_SHARE: Final = 0.6


class Rig(NamedTuple):
    """A stand and what it carries at one moment; ``height_m`` is the middle of its load."""

    stand: Stand
    height_m: float
    head: Head | None = None
    modifier: Modifier | None = None
    accessories: tuple[Accessory, ...] = ()
    bags: tuple[Bag, ...] = ()
    bags_at: BagsAt = "column"
    leg_under_load: bool = False
    counterweight_on: bool = True


def rig_of(kit: Kit, light: Light) -> Rig:
    """The stand of one light as its setup wants it, all fitted.

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
    """What acts half the modifier's depth in front of the head: modifier and accessories."""
    kg = rig.modifier.mass_kg if rig.modifier else 0.0
    for accessory in rig.accessories:
        kg += accessory.mass_kg
    return kg


def borne(rig: Rig) -> tuple[tuple[float, float], ...]:
    """What head, modifier and accessories weigh and where they act, as (kg, x from the column).

    On a stand the modifier is in front of the head. A boom's head hangs over what it lights, with
    its modifier under it: both act at the tip of the arm.
    """
    head_kg = rig.head.mass_kg if rig.head else 0.0
    if rig.stand.is_boom:
        reach = rig.stand.arm_m or 0.0
        return (head_kg, reach), (front_kg(rig), reach)
    return (head_kg, 0.0), (front_kg(rig), rig.modifier.depth_m / 2 if rig.modifier else 0.0)


def arm_loads(rig: Rig) -> tuple[tuple[float, float], ...]:
    """Everything on a boom's arm but its counterweight. Raises ValueError when it has no arm."""
    return (*borne(rig), arm_load(rig.stand))


def loads_of(rig: Rig) -> tuple[tuple[float, float], ...]:
    """What the column carries, as (kg, x). A boom's arm hands over one mass, with what its
    counterweight leaves of the moments as an offset."""
    if not rig.stand.is_boom:
        return borne(rig)
    whole = turning = 0.0
    for kg, x in arm_loads(rig):
        whole += kg
        turning += kg * x
    if rig.counterweight_on:
        whole += rig.stand.counterweight_kg
        turning -= rig.stand.counterweight_kg * (rig.stand.arm_back_m or 0.0)
    return ((whole, turning / whole if whole else 0.0),)


def load_kg(rig: Rig) -> float:
    """What the stand carries: head, modifier, accessories, and a boom's arm and counterweight."""
    return sum(kg for kg, _ in loads_of(rig))


def bags_kg(rig: Rig) -> float:
    """What hangs on the stand to hold it down."""
    kg = 0.0
    for bag in rig.bags:
        kg += bag.mass_kg
    return kg


def base(rig: Rig) -> Base:
    """The feet as the load sees them."""
    return base_of(rig.stand.legs, rig.stand.foot_radius_m, rig.leg_under_load)


def far_feet(rig: Rig) -> int:
    """How many feet are furthest from the load, and share the bags of the far legs: one or two.

    With a leg under the load there is a foot straight behind where the legs are even in number.
    Else an edge faces the load, the worst turn, and there is one where they are odd.
    """
    return 1 if rig.leg_under_load == (rig.stand.legs % 2 == 0) else 2


def bag_spot(rig: Rig) -> Spot:
    """Where its bags act.

    On the far legs that is 0.6 of the foot radius R away from the load where one foot is straight
    behind. Where two feet share them, each at 0.6 R along its leg and pi/legs off straight behind,
    they act at 0.6 R cos(pi/legs): for a tripod with a leg under its load half as far back. With
    nothing up there is no far side; the bags count at the column.
    """
    if rig.bags_at == "column" or (rig.head is None and rig.modifier is None):
        return Spot(0.0, BAG_HEIGHT_M)
    back = FAR_LEG_SHARE * rig.stand.foot_radius_m
    if far_feet(rig) == 2:
        back *= cos(pi / rig.stand.legs)
    return Spot(-back, BAG_HEIGHT_M)


def burden_of(rig: Rig) -> Burden:
    """What the rig puts on its feet, bags aside."""
    loads = loads_of(rig)
    stand_kg = rig.stand.mass_kg
    load = turning = 0.0
    for kg, x in loads:
        load += kg
        turning += kg * x
    standing = rig.height_m * (COLUMN_SHARE * stand_kg + load)
    return Burden(stand_kg + load, turning, standing, stand_kg, loads)


def point_masses(rig: Rig) -> tuple[PointMass, ...]:
    """The whole rig, bags too, as points: stand, what it carries, bags."""
    spot = bag_spot(rig)
    return (
        PointMass(rig.stand.mass_kg, 0.0, COLUMN_SHARE * rig.height_m),
        *(PointMass(kg, x, rig.height_m) for kg, x in loads_of(rig)),
        *(PointMass(bag.mass_kg, spot.x, spot.z) for bag in rig.bags),
    )
