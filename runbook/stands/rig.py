"""One stand at one moment, with what is on it, and the masses that makes.

A changeover passes through stands that are empty, half fitted or not yet bagged: each of those
moments is a ``Rig`` like any other. Masses in kg, lengths in m; x runs from the column out along
the load, z up.

A boom's arm on its pivot: what balances it, and what a wrong counterweight leaves.

Lengths in m along the arm from the pivot, plus towards the head; masses in kg; moments in kg m.
The arm is uniform and level. Plain statics, the seesaw of the school books with a heavy plank
whose middle is off the pivot.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, pi, sin
from typing import Final, Literal, NamedTuple

from runbook.model.kit import Accessory, Bag, Head, Kit, Modifier, Stand
from runbook.model.setup import Light
from runbook.stands.stability import TINY, Base, Burden, Spot, base_of

BagsAt = Literal["column", "far legs"]

# Planning assumptions of our own: where a stand's own mass and its bags act.
COLUMN_SHARE: Final = 0.35
# Nearer to balance than this a hand on the arm feels nothing: our own tolerance.
_BALANCED_KG: Final = 0.25
_BALANCED_SHARE: Final = 0.05
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


def head_loads(rig: Rig) -> tuple[tuple[float, float], ...]:
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
    return (*head_loads(rig), arm_load(rig.stand))


def counterweight_needed_kg(rig: Rig) -> float | None:
    """The counterweight that balances a boom; None for a stand that is none.

    Raises ValueError when a boom has no arm.
    """
    if not rig.stand.is_boom:
        return None
    return balance_kg(arm_loads(rig), rig.stand.arm_back_m or 0.0)


def is_balanced(rig: Rig) -> bool:
    """Whether a boom's arm stays level by itself; an arm with nothing on it does not matter."""
    needed = counterweight_needed_kg(rig)
    hung = rig.stand.counterweight_kg if rig.counterweight_on else 0.0
    if needed is None or (rig.head is None and not hung):
        return True
    if turning_kgm(arm_loads(rig)) < 0:
        return False
    return abs(hung - needed) <= max(_BALANCED_KG, _BALANCED_SHARE * needed) + TINY


def loads_of(rig: Rig) -> tuple[tuple[float, float], ...]:
    """What the column carries, as (kg, x). A boom's arm hands over one mass, with what its
    counterweight leaves of the moments as an offset."""
    if not rig.stand.is_boom:
        return head_loads(rig)
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


def bags_on_far_legs(rig: Rig) -> bool:
    """Whether its bags hang on far legs: with nothing up there is no far side."""
    return rig.bags_at == "far legs" and (rig.head is not None or rig.modifier is not None)


def far_leg_bags(rig: Rig) -> tuple[tuple[Bag, ...], ...]:
    """The bags on each far leg: each in turn, the heaviest first, on the leg with less on it."""
    legs: list[list[Bag]] = [[] for _ in range(far_feet(rig))]
    for bag in sorted(rig.bags, key=lambda bag: (-bag.mass_kg, bag.id)):
        min(legs, key=lambda hung: sum(each.mass_kg for each in hung)).append(bag)
    return tuple(tuple(hung) for hung in legs)


def even_spot(rig: Rig) -> Spot:
    """Where bags act in the place given when they are shared evenly over the far legs.

    On the far legs that is 0.6 of the foot radius R away from the load where one foot is straight
    behind. Where two feet share them, each at 0.6 R along its leg and pi/legs off straight behind,
    they act at 0.6 R cos(pi/legs): for a tripod with a leg under its load half as far back.
    """
    if not bags_on_far_legs(rig):
        return Spot(0.0, BAG_HEIGHT_M)
    back = FAR_LEG_SHARE * rig.stand.foot_radius_m
    if far_feet(rig) == 2:
        back *= cos(pi / rig.stand.legs)
    return Spot(-back, BAG_HEIGHT_M)


def bag_spot(rig: Rig) -> Spot:
    """Where its bags act, as they hang: one bag has one leg, and pulls to that side."""
    even = even_spot(rig)
    if not rig.bags or not bags_on_far_legs(rig) or far_feet(rig) == 1:
        return even
    one, other = (sum(bag.mass_kg for bag in hung) for hung in far_leg_bags(rig))
    aside = FAR_LEG_SHARE * rig.stand.foot_radius_m * sin(pi / rig.stand.legs)
    return even._replace(y=aside * (one - other) / (one + other))


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


# (kg, metres along the arm from the pivot)
ArmLoads = Iterable[tuple[float, float]]


def arm_load(stand: Stand) -> tuple[float, float]:
    """The arm itself: its mass, and its middle. Raises ValueError for a stand without an arm."""
    if stand.arm_m is None or stand.arm_back_m is None:
        raise ValueError(f"{stand.id} has no arm; a boom needs arm_m and arm_back_m")
    return stand.arm_mass_kg, (stand.arm_m - stand.arm_back_m) / 2


def turning_kgm(loads: ArmLoads) -> float:
    """The moment of masses about the pivot in kg m; plus turns the head down."""
    return sum(kg * x for kg, x in loads)


def balance_kg(loads: ArmLoads, back_m: float) -> float:
    """The counterweight at ``back_m`` behind the pivot that balances the loads; 0 if none does.

    Raises ValueError when there is no arm behind the pivot to hang it on.
    """
    if back_m <= 0:
        raise ValueError("there is no arm behind the pivot to hang a counterweight on")
    return max(0.0, turning_kgm(loads) / back_m)
