"""One head's beam: how much light it starts with, and how that falls off with distance and angle.

Everything in stops (``log2 N²``), lengths in m, angles in degrees. What a head gives on its axis
comes from its guide number or from the photographer's own meter. A view share is the part of a
surface's view that the source fills when it faces it (a configuration factor): 1 touching a large
source, 0 far away. Formulas: J. R. Howell, *A Catalog of Radiation Heat Transfer Configuration
Factors*, B-12 (disc) and B-3 (rectangle), second-hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import atan, cos, dist, log, log2, pi, radians, sqrt
from typing import Any, Final, Literal

from runbook.light.scene import degrees_of, off_axis_cosine
from runbook.light.stops import DARK, stops_of
from runbook.model.geometry import Point
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops, iso_stops
from runbook.model.power import stops_below
from runbook.model.setup import Light

ALL_ROUND: Final = 360.0


@dataclass(frozen=True, slots=True)
class Source:
    """The lit front of a modifier; ``bare``, or without a size, it counts as a point."""

    shape: Literal["round", "rectangle", "bare"]
    width_m: float = 0.0
    height_m: float = 0.0

    @property
    def largest_m(self) -> float:
        """The diameter, or the longer side."""
        return self.width_m if self.shape == "round" else max(self.width_m, self.height_m)

    def share(self, distance_m: Any, arctan: Callable[[Any], Any] = atan) -> Any:
        """Return the view share on the axis, of a number or, with numpy's arctan, of an array.

        ``R² / (R² + d²)`` for a disc, four corner shares for a rectangle, ``1/d²`` for a point,
        of which only ratios mean anything.
        """
        half_wide, half_high = self.width_m / 2, self.height_m / 2
        if self.shape == "round" and half_wide:
            return half_wide**2 / (half_wide**2 + distance_m**2)
        if self.shape == "rectangle" and half_wide and half_high:
            return 4 * corner_share(half_wide / distance_m, half_high / distance_m, arctan)
        return 1 / distance_m**2


def corner_share(a: Any, b: Any, arctan: Callable[[Any], Any] = atan) -> Any:
    """Return the view share of a rectangle from over one corner, its sides in distances (a/c, b/c).

    ``(1/2π) [a/√(1+a²)·atan(b/√(1+a²)) + b/√(1+b²)·atan(a/√(1+b²))]``
    """
    root_a, root_b = (1 + a * a) ** 0.5, (1 + b * b) ** 0.5
    return (a / root_a * arctan(b / root_a) + b / root_b * arctan(a / root_b)) / (2 * pi)


def view_share(source: Source, distance_m: float) -> float:
    """Return the view share of a source on its axis at a distance."""
    return float(source.share(distance_m))


def distance_for_share(source: Source, share: float) -> float | None:
    """Return the distance at which a source fills this share of the view; None when none is far enough.

    A source with a size never fills more than the whole view, however near it is brought.
    """
    near, far = 1e-3, 1e4
    if not view_share(source, far) <= share <= view_share(source, near):
        return None
    for _ in range(60):  # halves seven powers of ten in the logarithm: exact to 1e-17
        middle = sqrt(near * far)
        near, far = (middle, far) if view_share(source, middle) > share else (near, middle)
    return sqrt(near * far)


def distance_to_undo(source: Source, distance_m: float, left_over: float) -> float | None:
    """Return the distance at which a head reads so many stops less (plus) or more; None when there is none."""
    return distance_for_share(source, view_share(source, distance_m) * 2.0**-left_over)


def field_exponent(spread_deg: float) -> float | None:
    """Return ``m`` of ``I(φ) = cos(φ)^m``, a tenth at half the field angle; None for light all round.

    From 180 up to 360 degrees the front half is even (0). Field angle, a tenth of the greatest
    intensity: schorsch.com glossary, seen; the cosine power is the common model of it.
    """
    if spread_deg >= ALL_ROUND:
        return None
    return 0.0 if spread_deg >= 180 else log(0.1) / log(cos(radians(spread_deg / 2)))


def field_falloff(cosine: float, exponent: float | None) -> float:
    """Return ``I(φ)`` over the axis, from ``cos φ``; nothing past 90 degrees, except for light all round."""
    if exponent is None:
        return 1.0
    return float(cosine**exponent) if cosine > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Beam:
    """One head's light: where it starts, its axis (a unit vector), its source and its field angle.

    ``stops`` is what it gives on the axis where the source's view share is 1. ``by_hand`` are cloths whose loss is
    in that already: as they hang in the set, they do no more to it.
    """

    origin: Point
    axis: Point
    source: Source
    stops: float
    spread_deg: float = ALL_ROUND
    by_hand: tuple[str, ...] = ()

    @property
    def exponent(self) -> float | None:
        """The power of the cosine that gives its field angle; None for light all round."""
        return field_exponent(self.spread_deg)

    def reading(self, point: Point) -> float:
        """Return the stops at a point, the meter turned to the head; ``DARK`` outside the beam."""
        if self.stops == DARK:
            return DARK
        falloff = field_falloff(off_axis_cosine(self.origin, self.axis, point), self.exponent)
        return self.stops + stops_of(falloff * view_share(self.source, dist(self.origin, point)))

    def holds(self, point: Point) -> bool:
        """Return whether a point is within the field angle."""
        return 2 * degrees_of(off_axis_cosine(self.origin, self.axis, point)) <= self.spread_deg


# -- what a head gives -----------------------------------------------------------------------------


def source_of(kit: Kit, light: Light) -> Source:
    """Return the lit front of the modifier of a light."""
    modifier = kit.modifier[light.modifier]
    return Source(modifier.shape, modifier.width_m, modifier.height_m)


def field_spread_deg(kit: Kit, modifier: str, accessories: Iterable[str]) -> float:
    """Return the field angle: of the last accessory that has one, else of the modifier."""
    spreads = (kit.accessory[name].spread_deg for name in accessories)
    return [kit.modifier[modifier].field_deg, *(spread for spread in spreads if spread is not None)][-1]


def assumes_bare_spread(kit: Kit, light: Light) -> bool:
    """Return whether a field angle is a standard reflector's, because nothing in the kit gives one."""
    modifier = kit.modifier[light.modifier]
    given = (modifier.spread_deg, *(kit.accessory[name].spread_deg for name in light.accessories))
    return modifier.shape == "bare" and all(spread is None for spread in given)


def measured_row(kit: Kit, light: Light, measured: Sequence[Measured] = ()) -> Measured | None:
    """Return the meter's own reading to start from: same head, modifier and accessories, or None.

    Readings passed in beat the kit's. Of several, the one taken nearest the light's distance (by
    ratio) counts, the later one when they tie.
    """
    used = (light.head, light.modifier, sorted(light.accessories))
    for rows in (measured, kit.measured):
        fitting = [row for row in rows if (row.head, row.modifier, sorted(row.accessories)) == used]
        if fitting:
            return min(reversed(fitting), key=lambda row: abs(log2(row.distance_m / light.distance_m)))
    return None


def full_power_stops(kit: Kit, light: Light, iso: float, row: Measured | None = None) -> float:
    """Return the stops on axis at full power where the source's view share is 1: add ``log2 V(d)`` to it.

    From the guide number: ``log2(GN² · ISO/100 / d0²) - losses - log2 V(d0)``, ``d0`` being where
    the modifier's loss was metered, 1 m bare. ``GN = N · d`` and its scaling with ISO and power:
    encyclopaedia article on the guide number, seen. A measured row replaces guide number and
    losses, except cloths. Raises ValueError when the row's power is not a power, or is off.
    """
    head, modifier, source = kit.head[light.head], kit.modifier[light.modifier], source_of(kit, light)
    cloths = sum(kit.cloth[name].loss_stops for name in light.through)
    if row is None:
        metered_m = 1.0 if source.shape == "bare" else modifier.loss_at_m
        losses = modifier.loss_stops + sum(kit.accessory[name].loss_stops for name in light.accessories)
        on_axis = 2 * log2(head.guide_number_m / metered_m) - losses
    else:
        below = stops_below(row.power, Fraction(head.power_step)).below_full
        if below is None:
            raise ValueError(f"a reading of head {row.head} cannot be taken with it off")
        metered_m, on_axis = row.distance_m, aperture_stops(row.reads_f) + float(below) - iso_stops(row.iso)
    return on_axis + iso_stops(iso) - cloths - log2(view_share(source, metered_m))
