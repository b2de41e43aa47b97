"""Lifting and reach: how many people a lift needs, and what is worked on above reach.

The rule is the HSE lifting and lowering filter (L23, INDG143) with its team fractions: a filter for
care, no limit. Masses in kg, heights in m. Above reach: DGUV Information 215-314, 4.3 asks for a
platform or the like to put a head on or take it off; HSE INDG402 keeps ladder work short (30 min)
and light (10 kg).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Final

from runbook.model.day import Place, Plan, Problem
from runbook.model.setup import Setup
from runbook.model.units import Units, length, mass

# Hands from below mid lower leg up to above the shoulder: L23, load close in, the lower of its two
# columns, as a plan does not know who will be nearest.
_ZONE_TOPS_M: Final = (0.25, 0.75, 1.05, 1.40)
_FILTER_KG: Final = (7, 13, 16, 13, 7)
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
# What one person holds out, or against a wind, for as long as a setup is shot: common practice, no source.
HELD_OUT_KG: Final = 3.0
HELD_OUT_MIN: Final = 60  # of shooting in a day that one person holds panels; our own figure
_BAGGED: Final = {"bag", "unbag"}
_RAISED: Final = {"raise", "lower"}
_CARRIED: Final = {"place", "strike", "move", "fit", "free"}


@dataclass(frozen=True, slots=True)
class Hands:
    """How many people a step takes, and why."""

    people: int
    why: str


def filter_kg(low_m: float, high_m: float) -> float:
    """Return what one person may lift between two heights of the hands without a closer look.

    The least figure of all zones the hands pass through.
    """
    low, high = sorted((low_m, high_m))
    first, last = sum(low >= top for top in _ZONE_TOPS_M), sum(high > top for top in _ZONE_TOPS_M)
    return min(_FILTER_KG[first : max(first, last) + 1])


def team_kg(*alone_kg: float) -> float:
    """Return what a team of up to four may lift, from what its members may lift alone."""
    return _TEAM[len(alone_kg) - 1] * sum(alone_kg)


def people_for(kg: float, low_m: float, high_m: float) -> int | None:
    """Return the fewest people for a lift; None when even four are too few."""
    alone = filter_kg(low_m, high_m)
    return next((n for n in range(1, len(_TEAM) + 1) if kg <= team_kg(*(alone,) * n) + 1e-9), None)


def hands_for(
    verb: str,
    kg: float,
    *,
    low_m: float | None = None,
    high_m: float = _HELD_M,
    boom: bool = False,
    units: Units = "metric",
) -> Hands:
    """Return how many people a step takes that moves ``kg`` with the hands between two heights.

    ``verb`` is the step's. A boom takes two whenever its arm or its weight moves: one holds the
    arm, one works the lock. A lift over the filter takes as many as the team fractions ask; a
    section that goes up or down with over 15 kg on it takes two. Bags are taken 0.1 m up, all else
    from above the ankle, unless ``low_m`` is given (``grip_m`` of the kit).
    """
    low = low_m if low_m is not None else _BAG_GRIP_M if verb in _BAGGED else _GRIP_M
    people, load = people_for(kg, low, high_m), mass(kg, units, ".1f")
    if boom and verb in _CARRIED | _RAISED:
        return Hands(max(2, people or len(_TEAM)), "one holds the boom's arm, one works the lock")
    if verb in _RAISED and kg > RAISED_KG:
        most = mass(RAISED_KG, units, "g")
        return Hands(2, f"{load}, over the {most} one person raises by hand: use a wind-up stand")
    if verb not in _CARRIED | _BAGGED:
        return Hands(1, "nothing heavy is lifted")
    if people is None:
        return Hands(len(_TEAM), f"{load}, more than four people lift safely: use wheels")
    alone = f"the {mass(filter_kg(low, high_m), units, 'g')} one person lifts from {length(low, units, '.2f')} up"
    return Hands(people, f"{load}, {'within' if people == 1 else 'over'} {alone}")


def rail_hands(rail_m: float, place: Place, *, on_stands: bool, units: Units = "metric") -> Hands:
    """Return how many people hang, raise or take down a cloth whose rail is so high.

    A rail on two stands takes one person at each of them, one over reach another beside the one on the step.
    """
    if on_stands:
        return Hands(2, "a rail on two stands: one person at each end")
    if rail_m > place.reach_m:
        at, reach = length(rail_m, units, ".2f"), length(place.reach_m, units, "g")
        return Hands(2, f"its rail is {at} up, over the reach of {reach}: one on a step or ladder, one below")
    return Hands(1, "its rail is within reach")


def lift_problems(plan: Plan) -> Iterator[Problem]:
    """Yield a warning for each lift of the day that takes more people than the crew is.

    Things that are alike, as six bags of one mass, share one warning, under the first of them.
    """
    alike: dict[Hands, list[str]] = defaultdict(list)
    for item, hands in _lifts_over_crew(plan).items():
        alike[hands].append(item)
    for hands, items in alike.items():
        names = f"{', '.join(items)}: " if len(items) > 1 else ""
        what = f"{names}{hands.why}; needs {hands.people} people, the crew is {_crew(plan)}"
        do = "get help for that lift, bring it on wheels, or use something lighter"
        bag = plan.kit.bag.get(items[0])
        if bag and bag.grip_m is None and hands_for("bag", bag.mass_kg, low_m=LOW_ZONE_M).people < hands.people:
            at = length(LOW_ZONE_M, plan.day.units, "g")
            do = f"if its handle is {at} up or more, write grip_m in the kit; else {do}"
        yield Problem("warn", "lift-alone", None, items[0], what, do)


def people_over_crew(plan: Plan) -> dict[str, int]:
    """Return the people that each thing takes whose lift needs more than the crew is."""
    return {item: hands.people for item, hands in _lifts_over_crew(plan).items()}


def _crew(plan: Plan) -> int:
    return max(1, len(plan.day.crew))


def _lifts_over_crew(plan: Plan) -> Mapping[str, Hands]:
    """Return the hardest lift of each thing of the day that takes more people than the crew is."""
    lifts: dict[str, Hands] = {}
    for setup in plan.order:
        for item, hands in _lifts(plan, setup):
            lifts[item] = max(lifts.get(item, hands), hands, key=lambda lift: lift.people)
    return {item: hands for item, hands in lifts.items() if hands.people > _crew(plan)}


def _lifts(plan: Plan, setup: Setup) -> Iterator[tuple[str, Hands]]:
    """Yield the lifts of a setup: stands, heads, modifiers, bags and panels, each stand at its lowest."""
    kit, units = plan.kit, plan.day.units
    held_on = [place.held_by for place in setup.panels if place.held_by in kit.stand]
    held_on += chain.from_iterable(hung.held_by for hung in setup.hung_cloths)
    for stand in (kit.stand[name] for name in [*(light.stand for light in setup.lights), *held_on]):
        high_m = max(WORK_M, stand.height_min_m)
        yield stand.id, hands_for("place", stand.mass_kg, low_m=stand.grip_m, boom=stand.is_boom, units=units)
        if stand.is_boom:
            yield stand.id, hands_for("fit", stand.counterweight_kg, high_m=high_m, boom=True, units=units)
    for light in setup.lights:
        stand, modifier = kit.stand[light.stand], kit.modifier[light.modifier]
        high_m = max(WORK_M, stand.height_min_m)
        yield light.head, hands_for("fit", kit.head[light.head].mass_kg, high_m=high_m, units=units)
        if not modifier.is_nothing:
            yield modifier.id, hands_for("fit", modifier.mass_kg, high_m=high_m, units=units)
    for bag in (kit.bag[name] for name in setup.bags):
        yield bag.id, hands_for("bag", bag.mass_kg, low_m=bag.grip_m, units=units)
    for placed in setup.panels:
        panel, on = kit.panel[placed.panel], kit.stand.get(placed.held_by or "")
        verb, high_m = ("place", _HELD_M) if on is None else ("fit", max(WORK_M, on.height_min_m))
        yield panel.id, hands_for(verb, panel.mass_kg, low_m=panel.grip_m, high_m=high_m, units=units)
    for hung in setup.hung_cloths:
        cloth = kit.cloth[hung.cloth]
        yield cloth.id, hands_for("place", cloth.mass_kg, units=units)
        yield cloth.id, rail_hands(hung.rail_m(cloth), plan.day.place, on_stands=bool(hung.held_by), units=units)
