"""Mains circuits and batteries: what a breaker carries all day, what an aeroplane takes.

Watts, amperes, volts, watt-hours. The 80 % rule is NEC 210.19(A)/210.20(A): a breaker is worth the
passing load plus 1.25 times the lasting one. Battery classes as air passengers met them in 2024
(Lithium Batteries 2024, p. 35): airlines tighten them, so the airline's own rule stands above.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from runbook.model.day import Plan
from runbook.model.kit import Head
from runbook.model.problems import Problem
from runbook.model.setup import Setup

LASTING_SHARE: Final = 0.8
# Our own assumption: what of the mains' energy a flash head stores.
FLASH_EFFICIENCY: Final = 0.8
FREE_WH: Final = 100.0
APPROVAL_WH: Final = 160.0
APPROVED_SPARES: Final = 2

AirClass = Literal["free", "approval", "refused"]


@dataclass(frozen=True, slots=True)
class CircuitLoad:
    """What a circuit carries, lasting and passing in W, and the breaker in A that it needs."""

    lasting_w: float
    passing_w: float
    needs_a: float


def flash_w(energy_ws: float, every_s: float, efficiency: float = FLASH_EFFICIENCY) -> float:
    """Return the mean W a mains head draws while it fills so many Ws every so many seconds."""
    return energy_ws / (every_s * efficiency)


def breaker_a(lasting_a: float, passing_a: float = 0.0) -> float:
    """Return the least breaker for a lasting and a passing current."""
    return passing_a + lasting_a / LASTING_SHARE


def circuit_load(heads: Iterable[tuple[Head, float]], volts: float) -> CircuitLoad:
    """Return the load of heads on one circuit, each with its power as a share of full.

    Modelling lamps last; filling a flash passes, at its mean draw while it fills. The peak while it
    fills is higher; only the maker knows it. Heads on batteries draw nothing here.
    """
    lasting = passing = 0.0
    for head, share in heads:
        if head.mains:
            lasting += head.modelling_w
            fill_s = head.recycle_min_s + (head.recycle_full_s - head.recycle_min_s) * share
            passing += flash_w(head.energy_ws * share, fill_s) if share > 0 else 0.0
    return CircuitLoad(lasting, passing, breaker_a(lasting / volts, passing / volts))


def air_class(wh: float) -> AirClass:
    """Return whether a lithium battery flies: in the cabin, with the airline's approval, or not at all."""
    if wh <= FREE_WH:
        return "free"
    return "approval" if wh <= APPROVAL_WH else "refused"


def mains_problems(plan: Plan, setup: Setup) -> Iterator[Problem]:
    """Yield a stop when a setup needs more than the circuit has."""
    place = plan.day.place
    if place.circuit_a is None:
        return
    load = circuit_load([(plan.kit.head[light.head], light.power.share) for light in setup.lights], place.mains_v)
    if load.needs_a > place.circuit_a:
        what = (
            f"{load.lasting_w:.0f} W of modelling lamps and {load.passing_w:.0f} W of recycling need "
            f"{load.needs_a:.1f} A; the circuit has {place.circuit_a:g} A"
        )
        do = "turn modelling lamps down, or put heads on another circuit"
        yield Problem("stop", "circuit-overloaded", setup.id, None, what, do)


def circuit_problems(plan: Plan) -> Iterator[Problem]:
    """Yield a note when heads run on mains and the circuit is not known."""
    used = {light.head for setup in plan.order for light in setup.lights}
    mains = [head.id for head in plan.kit.heads if head.mains and head.id in used]
    if mains and plan.day.place.circuit_a is None:
        what = f"mains heads ({', '.join(mains)}), and the circuit's rating is unknown"
        do = "find the breaker's rating and write circuit_a under [place]"
        yield Problem("note", "circuit-unknown", None, mains[0], what, do)


def battery_problems(plan: Plan) -> Iterator[Problem]:
    """Yield what airlines hold against the batteries, on a day that travels by air."""
    if not plan.day.place.travel_by_air:
        return
    spares = 0
    for head in plan.kit.heads:
        kind = None if head.battery_wh is None else air_class(head.battery_wh)
        spares += head.spare_batteries if kind == "approval" else 0
        if head.mains:
            continue
        if head.battery_wh is None:
            what, do = "battery energy unknown; airlines ask for it", "read the Wh off the battery, write battery_wh"
            yield Problem("note", "battery-unknown", None, head.id, what, do)
        elif kind == "refused":
            what = f"battery {head.battery_wh:g} Wh, over the {APPROVAL_WH:g} Wh allowed in baggage"
            do = "send it as freight, or hire there; check your airline's current rule"
            yield Problem("stop", "battery-refused", None, head.id, what, do)
        elif kind == "approval":
            what = f"battery {head.battery_wh:g} Wh, over the {FREE_WH:g} Wh allowed without the airline's approval"
            do = "ask the airline before the day; carry spares in the cabin, terminals covered"
            yield Problem("warn", "battery-needs-approval", None, head.id, what, do)
    if spares > APPROVED_SPARES:
        what = f"{spares} spare batteries of {FREE_WH:g} to {APPROVAL_WH:g} Wh, {APPROVED_SPARES} allowed per passenger"
        do = "share them over passengers, or leave some; check your airline's current rule"
        yield Problem("stop", "battery-spares", None, None, what, do)
