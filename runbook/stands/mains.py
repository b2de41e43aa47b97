"""Mains circuits and batteries: what a breaker bears all day, what an aeroplane takes.

Watts, amperes, volts, watt-hours. The 80 % rule is NEC 210.19(A)/210.20(A): a breaker is worth the
passing load plus 1.25 times the lasting one. Battery classes as air passengers met them in 2024
(Lithium Batteries 2024, p. 35): airlines tighten them, so the airline's own rule stands above.

Findings on circuits, batteries that fly, and bursts of flashes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, Literal, NamedTuple

from runbook.model.day import Plan
from runbook.model.kit import Head
from runbook.model.problems import Problem
from runbook.model.setup import Setup
from runbook.stands.flash_rate import flash_level, flash_limit_text, flashes_in_a_second

LASTING_SHARE: Final = 0.8
# Our own assumption: what of the mains' energy a flash head stores.
FLASH_EFFICIENCY: Final = 0.8
FREE_WH: Final = 100.0
APPROVAL_WH: Final = 160.0
APPROVED_SPARES: Final = 2

AirClass = Literal["free", "approval", "refused"]


class CircuitLoad(NamedTuple):
    """What a circuit carries: lasting and passing W, the breaker that asks for, and its share."""

    lasting_w: float
    passing_w: float
    needs_a: float
    of_breaker: float


def flash_w(energy_ws: float, every_s: float, efficiency: float = FLASH_EFFICIENCY) -> float:
    """The mean W a mains head draws while it fills so many Ws every so many seconds."""
    return energy_ws / (every_s * efficiency)


def breaker_a(lasting_a: float, passing_a: float = 0.0) -> float:
    """The least breaker for a lasting and a passing current."""
    return passing_a + lasting_a / LASTING_SHARE


def circuit_load(heads: Iterable[tuple[Head, float]], circuit_a: float, volts: float) -> CircuitLoad:
    """Mains heads on one circuit, each with its power as a share of full.

    Modelling lamps last; filling a flash passes, at its mean draw while it fills. The peak while it
    fills is higher and is the maker's to tell. Heads on batteries draw nothing here.
    """
    lasting = passing = 0.0
    for head, share in heads:
        if head.mains:
            lasting += head.modelling_w
            full = head.recycle_full_s - head.recycle_min_s
            fill_s = head.recycle_min_s + full * share
            passing += flash_w(head.energy_ws * share, fill_s) if share > 0 else 0.0
    needs = breaker_a(lasting / volts, passing / volts)
    return CircuitLoad(lasting, passing, needs, needs / circuit_a)


def air_class(wh: float) -> AirClass:
    """Whether a lithium battery flies: in the cabin, with the airline's word, or not at all."""
    if wh <= FREE_WH:
        return "free"
    return "approval" if wh <= APPROVAL_WH else "refused"


def approval_spares(heads: Iterable[Head]) -> int:
    """Spare batteries in the class of which a passenger takes two at most."""
    return sum(
        head.spare_batteries
        for head in heads
        if head.battery_wh is not None and air_class(head.battery_wh) == "approval"
    )


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
    most = flashes_in_a_second(setup.burst_per_s)
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
        f"{most} flashes in a second: {flash_limit_text(most)} (borrowed)",
        f"slow the burst, or {ask}",
    )
