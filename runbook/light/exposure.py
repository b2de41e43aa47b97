"""What one head gives on its axis, from its guide number or the photographer's own meter; ambient.

Everything in stops (``log2 N²``), distances in m.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import log2
from typing import Final

from runbook.light.falloff import Source, view_share
from runbook.light.stops import stops_of
from runbook.model.kit import Head, Kit, Measured
from runbook.model.nominal_values import aperture_stops, iso_stops, shutter_stops
from runbook.model.power import stops_below
from runbook.model.setup import Light

INCIDENT_LUX: Final = 250.0  # C of a flat incident meter: ISO 2720:1974 via GNU Units, second-hand

# a meter shows tenths: less room light than this does not show in a reading
AMBIENT_ADDS_STOPS: Final = 0.1
# with more room light than this a tenth off at the meter is a stop off in the flash: our own limit
AMBIENT_MOST_STOPS: Final = 3.0


def source_of(kit: Kit, light: Light) -> Source:
    """The lit face of the modifier a light burns through."""
    modifier = kit.modifier[light.modifier]
    return Source(modifier.shape, modifier.width_m, modifier.height_m)


def field_spread_deg(kit: Kit, light: Light) -> float:
    """The field angle: of the last accessory that has one, else of the modifier."""
    given = _accessory_spreads(kit, light)
    return given[-1] if given else kit.modifier[light.modifier].field_deg


def assumes_bare_spread(kit: Kit, light: Light) -> bool:
    """Whether a head's field angle is a standard reflector's, for nothing in the kit gives one."""
    modifier = kit.modifier[light.modifier]
    given = _accessory_spreads(kit, light)
    return modifier.shape == "bare" and modifier.spread_deg is None and not given


def _accessory_spreads(kit: Kit, light: Light) -> list[float]:
    spreads = (kit.accessory[name].spread_deg for name in light.accessories)
    return [spread for spread in spreads if spread is not None]


def cloth_stops(kit: Kit, light: Light) -> float:
    """What the cloths in the beam cost."""
    return sum(kit.cloth[name].loss_stops for name in light.through)


def fitting_stops(kit: Kit, light: Light) -> float:
    """What modifier and accessories cost."""
    fitted = sum(kit.accessory[name].loss_stops for name in light.accessories)
    return kit.modifier[light.modifier].loss_stops + fitted


def measured_row(kit: Kit, light: Light, measured: Sequence[Measured] = ()) -> Measured | None:
    """The meter's own reading to start from: same head, modifier and accessories, or None.

    Readings passed in beat the kit's. Of several, the one taken nearest the light's distance (by
    ratio) counts, the later one when they tie.
    """

    def fits(row: Measured) -> bool:
        return (row.head, row.modifier, sorted(row.accessories)) == (
            light.head,
            light.modifier,
            sorted(light.accessories),
        )

    rows = [row for row in measured if fits(row)] or [row for row in kit.measured if fits(row)]
    return min(reversed(rows), key=lambda row: abs(log2(row.distance_m / light.distance_m)), default=None)


def full_power_stops(kit: Kit, light: Light, iso: float, row: Measured | None = None) -> float:
    """Stops on axis at full power where the source's view share is 1: add ``log2 V(d)`` to it.

    From the guide number: ``log2(GN² · ISO/100 / d0²) - losses - log2 V(d0)``, ``d0`` being where
    the modifier's loss was metered, 1 m bare. ``GN = N · d`` and its scaling with ISO and power:
    encyclopaedia article on the guide number, seen. A measured row replaces guide number and
    losses, cloths aside. Raises ValueError when the row's power is no power, or is off.
    """
    head, source = kit.head[light.head], source_of(kit, light)
    speed, cloths = iso_stops(iso), cloth_stops(kit, light)
    if row is not None:
        at_full = aperture_stops(row.reads_f) + _below_full(head, row) - iso_stops(row.iso)
        return at_full + speed - cloths - log2(view_share(source, row.distance_m))
    at_m = 1.0 if source.shape == "bare" else kit.modifier[light.modifier].loss_at_m
    on_axis = 2 * log2(head.guide_number_m / at_m) + speed
    return on_axis - fitting_stops(kit, light) - cloths - log2(view_share(source, at_m))


def _below_full(head: Head, row: Measured) -> float:
    below = stops_below(row.power, Fraction(head.power_step)).below_full
    if below is None:
        raise ValueError(f"a reading of head {row.head} cannot be taken with it off")
    return float(below)


def ambient_stops(lux: float, shutter: str, iso: float) -> float:
    """What the room's own light reads at this shutter and ISO: ``N² = t · ISO · lux / 250``.

    ``DARK`` in the dark. Raises ValueError when the shutter is no time.
    """
    return stops_of(lux * 100 / INCIDENT_LUX) - shutter_stops(shutter) + iso_stops(iso)


def without_ambient(stops: float, ambient: float | None) -> float | None:
    """The flash in a meter's reading, of which room light is a part; both in stops.

    The reading itself where room light adds less than 0.1 stop to it. None where nearly all of it
    is room light, so that nothing can be said of the flash.
    """
    if ambient is None:
        return stops
    share = 2.0 ** (ambient - stops)
    if share >= 1:
        return None
    added = -log2(1 - share)
    if added < AMBIENT_ADDS_STOPS:
        return stops
    return None if added > AMBIENT_MOST_STOPS else stops - added
