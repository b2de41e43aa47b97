"""Mains circuits and batteries: what a breaker bears all day, what an aeroplane takes.

Watts, amperes, volts, watt-hours. The 80 % rule is NEC 210.19(A)/210.20(A): a breaker is worth the
passing load plus 1.25 times the lasting one. Battery classes as air passengers met them in 2024
(Lithium Batteries 2024, p. 35): airlines tighten them, so the airline's own rule stands above.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

from runbook.model.kit import Head

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
