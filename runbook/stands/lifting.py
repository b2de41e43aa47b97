"""Lifting: how many people a lift needs.

The rule is the HSE lifting and lowering filter (L23, INDG143) with its team fractions: a filter for
care, no limit. Masses in kg, heights of the hands in m.

Work above what a person reaches from the floor: come down first, or use a step.

DGUV Information 215-314, 4.3 asks for a platform or the like to put a head on or take it off; HSE
INDG402 keeps ladder work short (30 min) and light (10 kg). Heights in m.

Findings on lifts that the crew is too small for: one for each kind of thing, however many.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final, Literal, NamedTuple

from runbook.model.day import Plan
from runbook.model.kit import Stand
from runbook.model.problems import Problem
from runbook.model.setup import Light
from runbook.model.units import Units, length, mass

Who = Literal["women", "men"]

# Hands from below mid lower leg up to above the shoulder. The close column as L23 is quoted;
# the arms-out column from memory.
_ZONE_TOPS_M: Final = (0.25, 0.75, 1.05, 1.40)
_FILTER_KG: Final[dict[tuple[Who, bool], tuple[float, ...]]] = {
    ("men", False): (10, 20, 25, 20, 10),
    ("men", True): (5, 10, 15, 10, 5),
    ("women", False): (7, 13, 16, 13, 7),
    ("women", True): (3, 7, 10, 7, 3),
}
# Share of what its members could lift alone that a team can (L23, para. 120); more than four
# people on one thing are unlikely to work together, and four are given no share of their own.
_TEAM: Final = (1.0, 2 / 3, 1 / 2, 1 / 2)
# Hands on a case, a folded stand or a panel take hold above the ankle.
_GRIP_M: Final = 0.30
_HELD_M: Final = 1.00
_BAG_GRIP_M: Final = 0.10
# From here up the filter's lowest zone is behind.
LOW_ZONE_M: Final = _ZONE_TOPS_M[0]
# Where hands end when a load is fitted onto a stand at its lowest; our own figure.
WORK_M: Final = 1.40
# What one person raises with its section of a stand by hand (DIN 56950-3, seen in a summary only).
RAISED_KG: Final = 15.0
_BAGGED: Final = {"bag", "unbag"}
_RAISED: Final = {"raise", "lower"}
_CARRIED: Final = {"place", "strike", "move", "fit", "free"}


class Hands(NamedTuple):
    """How many people a step takes, and why in words that can be read out."""

    people: int
    why: str


def filter_kg(low_m: float, high_m: float, *, arms_out: bool = False, who: Who = "women") -> float:
    """What one person may lift between two heights of the hands without a closer look.

    The least figure of all zones the hands pass through. The lower column is the default: a plan
    does not know who will be nearest.
    """
    figures = _FILTER_KG[who, arms_out]
    low, high = min(low_m, high_m), max(low_m, high_m)
    first = sum(low >= top for top in _ZONE_TOPS_M)
    last = sum(high > top for top in _ZONE_TOPS_M)
    return min(figures[first : max(first, last) + 1])


def team_kg(each_kg: tuple[float, ...]) -> float:
    """What a team may lift, from what its members may lift alone. Raises ValueError over four."""
    if not 1 <= len(each_kg) <= len(_TEAM):
        raise ValueError("a team lift is for one to four people; use wheels, or make it lighter")
    return _TEAM[len(each_kg) - 1] * sum(each_kg)


def people_for(kg: float, low_m: float, high_m: float, *, arms_out: bool = False, who: Who = "women") -> int | None:
    """The fewest people for a lift; None when even four are too few."""
    each = filter_kg(low_m, high_m, arms_out=arms_out, who=who)
    for people in range(1, len(_TEAM) + 1):
        if kg <= team_kg((each,) * people) + 1e-9:
            return people
    return None


@lru_cache(maxsize=512)  # a day lifts the same few things over and over
def hands_for(
    verb: str,
    kg: float,
    *,
    low_m: float | None = None,
    high_m: float = _HELD_M,
    boom: bool = False,
    units: Units = "metric",
) -> Hands:
    """How many people a step takes that moves ``kg`` with the hands between two heights.

    ``verb`` is the step's. A boom takes two whenever its arm or its weight moves: one holds the
    arm, one works the lock. A lift over the filter takes as many as the team fractions ask; a
    section that goes up or down with over 15 kg on it takes two. Bags are taken 0.1 m up, all else
    from above the ankle, unless ``low_m`` says otherwise (``grip_m`` of the kit).
    """
    low = low_m if low_m is not None else _BAG_GRIP_M if verb in _BAGGED else _GRIP_M
    people = people_for(kg, low, high_m)
    if boom and verb in _CARRIED | _RAISED:
        return Hands(max(2, people or len(_TEAM)), "a boom: one holds the arm, one works the lock")
    load = mass(kg, units, ".1f")
    if verb in _RAISED and kg > RAISED_KG:
        most = mass(RAISED_KG, units, "g")
        return Hands(2, f"{load} is over the {most} one person raises by hand: better wind it up")
    if verb not in _CARRIED | _BAGGED:
        return Hands(1, "nothing heavy is lifted")
    alone = mass(filter_kg(low, high_m), units, "g")
    where = f"one person lifts with hands from {length(low, units, '.2f')} up"
    if people == 1:
        return Hands(1, f"{load} is within the {alone} {where}")
    if people is None:
        return Hands(len(_TEAM), f"{load} is more than four lift safely: use wheels")
    return Hands(people, f"{load} is over the {alone} {where}")


class Reach(NamedTuple):
    """How a load at a height is worked on, and why."""

    how: Literal["from the floor", "lower it", "use a step"]
    over_m: float
    why: str


def reach_of(stand: Stand, height_m: float, reach_m: float, units: Units = "metric") -> Reach:
    """How hands get to a load: the stand comes down if it can, else a step comes up."""
    high = length(height_m, units, ".2f")
    over = height_m - reach_m
    if over <= 0:
        return Reach("from the floor", 0.0, f"{high} is in reach")
    if stand.height_min_m <= reach_m:
        by = length(over, units, ".2f")
        why = f"{high} is {by} over reach; the stand comes down far enough"
        return Reach("lower it", over, why)
    least = stand.height_min_m - reach_m
    lowest, by = length(stand.height_min_m, units, ".2f"), length(least, units, ".2f")
    why = f"its lowest, {lowest}, is still {by} over reach"
    return Reach("use a step", least, why)


def lift_problems(plan: Plan) -> Iterator[Problem]:
    """Yield a warning for each lift of the day that takes more people than the crew is.

    Things that are alike, as six bags of one mass, share one warning, under the first of them.
    """
    crew = max(1, len(plan.day.crew))
    alike: dict[tuple[Hands, bool], list[str]] = {}
    for item, lift in _over_crew(plan).items():
        alike.setdefault(lift, []).append(item)
    for (hands, may_be_higher), items in alike.items():
        names = f"{', '.join(items)}: " if len(items) > 1 else ""
        do = "get help for that lift, bring it on wheels, or take something lighter"
        if may_be_higher:
            at = length(LOW_ZONE_M, plan.day.units, "g")
            do = f"if its handle is {at} up or more, write grip_m in the kit; else {do}"
        yield Problem(
            "warn",
            "lift-alone",
            None,
            items[0],
            f"{names}{hands.why}; it takes {hands.people} people, the crew is {crew}",
            do,
        )


def people_over_crew(plan: Plan) -> dict[str, int]:
    """Return the people that each thing takes whose lift needs more than the crew is."""
    return {item: hands.people for item, (hands, _) in _over_crew(plan).items()}


def _over_crew(plan: Plan) -> dict[str, tuple[Hands, bool]]:
    crew = max(1, len(plan.day.crew))
    return {item: lift for item, lift in _lifts(plan).items() if lift[0].people > crew}


def _lifts(plan: Plan) -> dict[str, tuple[Hands, bool]]:
    """The hardest lift of each thing of the day; whether a grip nobody measured decides it."""
    lifts: dict[str, tuple[Hands, bool]] = {}
    for setup in plan.order:
        for light in setup.lights:
            for item, hands in _onto(plan, light).items():
                known, _ = lifts.get(item, (hands, False))
                lifts[item] = max(known, hands, key=lambda each: each.people), False
        bags = [name for light in setup.lights for name in light.bags]
        bags += [name for placed in setup.panels for name in placed.bags]
        for name in bags:
            lifts[name] = _bag_lift(plan, name)
        for placed in setup.panels:
            panel = plan.kit.panel[placed.panel]
            hands = hands_for("place", panel.mass_kg, low_m=panel.grip_m, units=plan.day.units)
            lifts[placed.panel] = hands, False
    return lifts


def _bag_lift(plan: Plan, name: str) -> tuple[Hands, bool]:
    bag, units = plan.kit.bag[name], plan.day.units
    hands = hands_for("bag", bag.mass_kg, low_m=bag.grip_m, units=units)
    higher = hands_for("bag", bag.mass_kg, low_m=LOW_ZONE_M, units=units)
    return hands, bag.grip_m is None and higher.people < hands.people


def _onto(plan: Plan, light: Light) -> dict[str, Hands]:
    """The lifts that put up a light: stand, counterweight, head, modifier, each at its lowest."""
    kit, units = plan.kit, plan.day.units
    stand, modifier = kit.stand[light.stand], kit.modifier[light.modifier]
    high_m = max(WORK_M, stand.height_min_m)

    def fitted(kg: float, *, boom: bool = False) -> Hands:
        return hands_for("fit", kg, high_m=high_m, boom=boom, units=units)

    placed = hands_for("place", stand.mass_kg, low_m=stand.grip_m, boom=stand.is_boom, units=units)
    up = [placed]
    if stand.is_boom:
        up.append(fitted(stand.counterweight_kg, boom=True))
    lifts = {stand.id: max(up, key=lambda hands: hands.people)}
    lifts[light.head] = fitted(kit.head[light.head].mass_kg)
    if not modifier.is_nothing:
        lifts[modifier.id] = fitted(modifier.mass_kg)
    return lifts
