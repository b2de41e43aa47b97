"""Findings on circuits, batteries that fly, and bursts of flashes."""

from __future__ import annotations

from collections.abc import Iterator

from runbook.model.day import Plan
from runbook.model.problems import Problem
from runbook.model.setup import Setup
from runbook.stands.electrical import APPROVED_SPARES, air_class, approval_spares, circuit_load
from runbook.stands.flashing import flash_level, limit_words, most_at_rate


def mains_problems(plan: Plan, setup: Setup) -> Iterator[Problem]:
    place = plan.day.place
    if place.circuit_a is None:
        return
    heads = [(plan.kit.head[light.head], light.power.share) for light in setup.lights]
    load = circuit_load(heads, place.circuit_a, place.mains_v)
    if load.of_breaker > 1.0:
        yield Problem(
            "stop",
            "circuit-overloaded",
            setup.id,
            None,
            f"{load.lasting_w:.0f} W of modelling lamps and {load.passing_w:.0f} W of recycling "
            f"ask for {load.needs_a:.1f} A; the circuit has {place.circuit_a:g}",
            "turn modelling lamps down, or put heads on another circuit",
        )


def circuit_problems(plan: Plan) -> Iterator[Problem]:
    used = {light.head for setup in plan.order for light in setup.lights}
    mains = [head.id for head in plan.kit.heads if head.mains and head.id in used]
    if mains and plan.day.place.circuit_a is None:
        yield Problem(
            "note",
            "circuit-unknown",
            None,
            mains[0],
            f"{', '.join(mains)} on the mains, and the circuit is not known",
            "ask for the breaker and write circuit_a under [place]",
        )


def battery_problems(plan: Plan) -> Iterator[Problem]:
    if not plan.day.place.travel_by_air:
        return
    for head in plan.kit.heads:
        if head.mains:
            continue
        if head.battery_wh is None:
            yield Problem(
                "note",
                "battery-unknown",
                None,
                head.id,
                "its battery's energy is not known, and airlines ask for it",
                "read the Wh off the battery and write battery_wh",
            )
            continue
        kind = air_class(head.battery_wh)
        if kind == "refused":
            yield Problem(
                "stop",
                "battery-refused",
                None,
                head.id,
                f"a battery of {head.battery_wh:g} Wh is over 160 and does not fly as baggage",
                "send it as freight, or hire there; check your airline's current rule",
            )
        elif kind == "approval":
            yield Problem(
                "warn",
                "battery-needs-approval",
                None,
                head.id,
                f"a battery of {head.battery_wh:g} Wh flies only with the airline's approval",
                "ask the airline before the day; spares in the cabin, terminals covered",
            )
    spares = approval_spares(plan.kit.heads)
    if spares > APPROVED_SPARES:
        yield Problem(
            "stop",
            "battery-spares",
            None,
            None,
            f"{spares} spare batteries of 100 to 160 Wh; a passenger takes {APPROVED_SPARES}",
            "share them over passengers, or leave some; check your airline's current rule",
        )


def flash_problems(setup: Setup) -> Iterator[Problem]:
    if not any(light.power.fires for light in setup.lights):
        return
    # Heads fired by one frame go off as one flash.
    most = most_at_rate(setup.burst_per_s)
    level = flash_level(most)
    if level == "fine":
        return
    code, ask = "flashes-fast", "ask everyone present about light-triggered seizures first"
    if level == "ask everyone":
        code, ask = "flashes-very-fast", f"do not fire it yet: {ask}"
    yield Problem(
        "warn",
        code,
        setup.id,
        None,
        f"{most} flashes in a second: {limit_words(most)} (borrowed)",
        f"slow the burst, or {ask}",
    )
