"""Mains circuits, batteries on an aeroplane, and flashes per second: published limits and findings.

Watts, amperes, volts, watt-hours. The 80 % rule is NEC 210.19(A)/210.20(A): a breaker is worth the
passing load plus 1.25 times the lasting one. Battery classes as air passengers met them in 2024
(Lithium Batteries 2024, p. 35): airlines tighten them, so the airline's own rule stands above.
WCAG 2 2.3.1 allows three flashes in any one second on a screen; HSE's figure for clubs, quoted by
the Epilepsy Society, is four. Both are borrowed: no rule for a studio's flash was found.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import ceil
from typing import Final, Literal

from runbook.model.day import Plan, Problem
from runbook.model.kit import Head
from runbook.model.setup import Setup

LASTING_SHARE: Final = 0.8
# Our own assumption: what of the mains' energy a flash head stores.
FLASH_EFFICIENCY: Final = 0.8
FREE_WH: Final = 100.0
APPROVAL_WH: Final = 160.0
APPROVED_SPARES: Final = 2
SCREEN_LIMIT: Final = 3
CLUB_LIMIT: Final = 4

AirClass = Literal["free", "approval", "refused"]


def flash_w(energy_ws: float, every_s: float, efficiency: float = FLASH_EFFICIENCY) -> float:
    """Return the mean W a mains head draws while it fills so many Ws every so many seconds."""
    return energy_ws / (every_s * efficiency)


def breaker_a(lasting_a: float, passing_a: float = 0.0) -> float:
    """Return the least breaker for a lasting and a passing current."""
    return passing_a + lasting_a / LASTING_SHARE


def circuit_load_w(heads: Iterable[tuple[Head, float]]) -> tuple[float, float]:
    """Return the lasting and the passing load of heads, each with its power as a share of full.

    Modelling lamps last; filling a flash passes, at its mean draw while it fills. The peak while it
    fills is higher; only the maker knows it. Heads on batteries draw nothing here.
    """
    lasting = passing = 0.0
    for head, share in heads:
        if head.mains:
            lasting += head.modelling_w
            fill_s = head.recycle_min_s + (head.recycle_full_s - head.recycle_min_s) * share
            passing += flash_w(head.energy_ws * share, fill_s) if share > 0 else 0.0
    return lasting, passing


def air_class(wh: float) -> AirClass:
    """Return whether a lithium battery flies: in the cabin, with the airline's approval, or not at all."""
    if wh <= FREE_WH:
        return "free"
    return "approval" if wh <= APPROVAL_WH else "refused"


def flashes_in_a_second(per_s: float) -> int:
    """Return the most flashes in any second of a steady burst."""
    return ceil(per_s - 1e-9)


def circuit_problems(plan: Plan, setup: Setup) -> Iterator[Problem]:
    """Yield a stop when a setup needs more than the circuit has."""
    circuit_a, volts = plan.day.place.circuit_a, plan.day.place.mains_v
    lasting, passing = circuit_load_w((plan.kit.head[light.head], light.power.share) for light in setup.lights)
    needs_a = breaker_a(lasting / volts, passing / volts)
    if circuit_a is not None and needs_a > circuit_a:
        what = (
            f"{lasting:.0f} W of modelling lamps and {passing:.0f} W of recycling need {needs_a:.1f} A; "
            f"the circuit has {circuit_a:g} A"
        )
        do = "turn modelling lamps down, or put heads on another circuit"
        yield Problem("stop", "circuit-overloaded", setup.id, None, what, do)


def unknown_circuit_problems(plan: Plan) -> Iterator[Problem]:
    """Yield a note when heads run on mains and the circuit is not known."""
    used = {light.head for setup in plan.order for light in setup.lights}
    mains = [head.id for head in plan.kit.heads if head.mains and head.id in used]
    if mains and plan.day.place.circuit_a is None:
        what = f"mains heads ({', '.join(mains)}), and the circuit's rating is unknown"
        do = "find the breaker's rating and write circuit_a under [place]"
        yield Problem("note", "circuit-unknown", None, mains[0], what, do)


def flash_problems(setup: Setup) -> Iterator[Problem]:
    """Yield a warning for a burst over a published limit; heads fired by one frame flash as one."""
    flashes = flashes_in_a_second(setup.burst_per_s)
    if flashes <= SCREEN_LIMIT or not any(light.power.fires for light in setup.lights):
        return
    code, limit = "flashes-fast", f"{SCREEN_LIMIT} allowed on screens"
    do = "slow the burst, or ask everyone present about photosensitive epilepsy first"
    if flashes > CLUB_LIMIT:
        code, limit = "flashes-very-fast", f"{CLUB_LIMIT} allowed in clubs, and the {SCREEN_LIMIT} on screens"
        do = "slow the burst; do not fire it before everyone was asked about photosensitive epilepsy"
    what = f"{flashes} flashes in a second, more than the {limit} (borrowed limits)"
    yield Problem("warn", code, setup.id, None, what, do)


def battery_problems(plan: Plan) -> Iterator[Problem]:
    """Yield what airlines hold against the batteries, on a day that travels by air."""
    batteries = [head for head in plan.kit.heads if not head.mains] if plan.day.place.travel_by_air else []
    spares = 0
    for head in batteries:
        kind = None if head.battery_wh is None else air_class(head.battery_wh)
        if kind is None:
            what, do = "battery energy unknown; airlines ask for it", "read the Wh off the battery, write battery_wh"
            yield Problem("note", "battery-unknown", None, head.id, what, do)
        elif kind == "refused":
            what = f"battery {head.battery_wh:g} Wh, over the {APPROVAL_WH:g} Wh allowed in baggage"
            do = "send it as freight, or hire there; check your airline's current rule"
            yield Problem("stop", "battery-refused", None, head.id, what, do)
        elif kind == "approval":
            spares += head.spare_batteries
            what = f"battery {head.battery_wh:g} Wh, over the {FREE_WH:g} Wh allowed without the airline's approval"
            do = "ask the airline before the day; carry spares in the cabin, terminals covered"
            yield Problem("warn", "battery-needs-approval", None, head.id, what, do)
    if spares > APPROVED_SPARES:
        what = f"{spares} spare batteries of {FREE_WH:g} to {APPROVAL_WH:g} Wh, {APPROVED_SPARES} allowed per passenger"
        do = "share them over passengers, or leave some; check your airline's current rule"
        yield Problem("stop", "battery-spares", None, None, what, do)
