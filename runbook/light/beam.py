"""One head's light as it leaves its modifier, and what it gives at any point."""

from __future__ import annotations

from typing import NamedTuple

from runbook.light.falloff import Source, field_falloff, view_share
from runbook.light.space import degrees_of, distance, off_axis_cosine
from runbook.light.stops import DARK, stops_of
from runbook.model.geometry import Point


class Beam(NamedTuple):
    """Where a beam starts, its axis (a unit vector), its source and its light.

    ``stops`` is what it gives on the axis where the source's view share is 1; ``exponent`` is that
    of its field angle, None for light all round; ``spread_deg`` the field angle itself.
    """

    origin: Point
    axis: Point
    source: Source
    stops: float
    exponent: float | None = None
    spread_deg: float = 360.0

    def reading(self, point: Point) -> float:
        """Stops at a point, the meter turned to the head; ``DARK`` outside the beam."""
        if self.stops == DARK:
            return DARK
        thrown = field_falloff(off_axis_cosine(self.origin, self.axis, point), self.exponent)
        share = view_share(self.source, distance(self.origin, point))
        return self.stops + stops_of(thrown * share)

    def holds(self, point: Point) -> bool:
        """Whether a point is within the field angle."""
        off_deg = degrees_of(off_axis_cosine(self.origin, self.axis, point))
        return 2 * off_deg <= self.spread_deg
