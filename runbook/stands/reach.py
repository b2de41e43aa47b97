"""Work above what a person reaches from the floor: come down first, or use a step.

DGUV Information 215-314, 4.3 asks for a platform or the like to put a head on or take it off; HSE
INDG402 keeps ladder work short (30 min) and light (10 kg). Heights in m.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from runbook.model.kit import Stand
from runbook.model.units import Units, length


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
