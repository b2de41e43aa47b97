"""Findings on lifts that the crew is too small for: one for each kind of thing, however many."""

from __future__ import annotations

from collections.abc import Iterator

from runbook.model.day import Plan
from runbook.model.problems import Problem
from runbook.model.setup import Light
from runbook.model.units import length
from runbook.stands.lifting import LOW_ZONE_M, WORK_M, Hands, hands_for


def lift_problems(plan: Plan) -> Iterator[Problem]:
    """Yield a warning for each lift of the day that takes more people than the crew is.

    Things that are alike, as six bags of one mass, share one warning, under the first of them.
    """
    crew = max(1, len(plan.day.crew))
    alike: dict[tuple[Hands, bool], list[str]] = {}
    for item, (hands, may_be_higher) in _lifts(plan).items():
        if hands.people > crew:
            alike.setdefault((hands, may_be_higher), []).append(item)
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
