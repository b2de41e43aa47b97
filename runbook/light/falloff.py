"""How light thins out: with the distance from a source of some size, and off its beam's axis.

Lengths in m, angles in degrees. A view share is the part of a surface's view that the source
fills when it faces it (a configuration factor): 1 touching a large source, 0 far away. Formulas:
J. R. Howell, *A Catalog of Radiation Heat Transfer Configuration Factors*, B-12 (disc) and B-3
(rectangle), second-hand.

One head's light as it leaves its modifier, and what it gives at any point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import atan, cos, log, pi, radians, sqrt
from typing import Final, Literal

from runbook.light.scene import degrees_of, distance, off_axis_cosine
from runbook.light.stops import DARK, stops_of
from runbook.model.geometry import Point

ALL_ROUND: Final = 360.0


@dataclass(frozen=True, slots=True)
class Source:
    """The lit face of a modifier; ``bare``, or without a size, it counts as a point."""

    shape: Literal["round", "rectangle", "bare"]
    width_m: float = 0.0
    height_m: float = 0.0

    @property
    def is_round(self) -> bool:
        return self.shape == "round" and self.width_m > 0

    @property
    def is_rectangle(self) -> bool:
        return self.shape == "rectangle" and self.width_m > 0 and self.height_m > 0

    @property
    def largest_m(self) -> float:
        """The diameter, or the longer side."""
        return self.width_m if self.shape == "round" else max(self.width_m, self.height_m)


def disc_share(radius_m: float, distance_m: float) -> float:
    """View share of a disc, on its axis: ``R² / (R² + d²)``."""
    return radius_m**2 / (radius_m**2 + distance_m**2)


def corner_share(a: float, b: float) -> float:
    """View share of a rectangle seen from over one corner, its sides given in distances (a/c, b/c).

    ``(1/2π) [a/√(1+a²)·atan(b/√(1+a²)) + b/√(1+b²)·atan(a/√(1+b²))]``
    """
    root_a, root_b = sqrt(1 + a * a), sqrt(1 + b * b)
    return (a / root_a * atan(b / root_a) + b / root_b * atan(a / root_b)) / (2 * pi)


def rectangle_share(width_m: float, height_m: float, distance_m: float) -> float:
    """View share of a rectangle, on the axis through its middle: four corner shares."""
    return 4 * corner_share(width_m / (2 * distance_m), height_m / (2 * distance_m))


def share_by_square(source: Source) -> Callable[[float], float]:
    """The view share of ``source`` as a function of the distance squared, for tight loops.

    Only ratios of it mean anything for a point, where it is ``1/d²``.
    """
    if source.is_round:
        square = source.width_m**2 / 4
        return lambda d2: square / (square + d2)
    if source.is_rectangle:
        return _rectangle_by_square(source.width_m / 2, source.height_m / 2)
    return lambda d2: 1 / d2


def _rectangle_by_square(a: float, b: float) -> Callable[[float], float]:
    a2, b2, scale = a * a, b * b, 2 / pi

    def share(d2: float) -> float:
        root_a, root_b = sqrt(d2 + a2), sqrt(d2 + b2)
        return scale * (a / root_a * atan(b / root_a) + b / root_b * atan(a / root_b))

    return share


def view_share(source: Source, distance_m: float) -> float:
    """View share of ``source`` on its axis at a distance; ``1/d²`` for a point."""
    if source.is_round:
        return disc_share(source.width_m / 2, distance_m)
    if source.is_rectangle:
        return rectangle_share(source.width_m, source.height_m, distance_m)
    return 1 / distance_m**2


def distance_for_share(source: Source, share: float) -> float | None:
    """The distance at which ``source`` fills this share of the view; None when none is far enough.

    A source with a size never fills more than the whole view, however near it is brought.
    """
    by_square = share_by_square(source)
    near, far = 1e-3, 1e4
    if not by_square(far**2) <= share <= by_square(near**2):
        return None
    for _ in range(60):  # halving a range of seven powers of ten in the logarithm: exact to 1e-17
        middle = sqrt(near * far)
        near, far = (middle, far) if by_square(middle**2) > share else (near, middle)
    return sqrt(near * far)


def field_exponent(spread_deg: float) -> float | None:
    """``m`` of ``I(φ) = cos(φ)^m``, a tenth at half the field angle; None for light all round.

    From 180 up to 360 degrees the front half is even (0). Field angle, a tenth of the greatest
    intensity: schorsch.com glossary, seen; the cosine power is the common model of it.
    """
    if spread_deg >= ALL_ROUND:
        return None
    if spread_deg >= 180:
        return 0.0
    return log(0.1) / log(cos(radians(spread_deg / 2)))


def field_falloff(cosine: float, exponent: float | None) -> float:
    """``I(φ)`` over the axis, from ``cos φ``; nothing past 90 degrees, but for light all round."""
    if exponent is None:
        return 1.0
    return float(cosine**exponent) if cosine > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Beam:
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
