"""What one head gives on its axis, from its guide number or the photographer's own meter; ambient.

Everything in stops (``log2 N²``), distances in m.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import log2
from typing import Final

from runbook.light.falloff import Source, view_share
from runbook.light.stops import stops_of
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops, iso_stops, shutter_stops
from runbook.model.power import stops_below
from runbook.model.setup import Light

INCIDENT_LUX: Final = 250.0  # C of a flat incident meter: ISO 2720:1974 via GNU Units, second-hand

# a meter shows tenths: less room light than this does not show in a reading
AMBIENT_ADDS_STOPS: Final = 0.1
# with more room light than this a tenth off at the meter is a stop off in the flash: our own limit
AMBIENT_MOST_STOPS: Final = 3.0


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
    losses, except cloths. Raises ValueError when the row's power is no power, or is off.
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


def ambient_stops(lux: float, shutter: str, iso: float) -> float:
    """Return what the room's own light reads at this shutter and ISO: ``N² = t · ISO · lux / 250``.

    ``DARK`` in the dark. Raises ValueError when the shutter is no time.
    """
    return stops_of(lux * 100 / INCIDENT_LUX) - shutter_stops(shutter) + iso_stops(iso)


def without_ambient(stops: float, ambient: float | None) -> float | None:
    """Return the flash in a meter's reading that contains room light; both in stops.

    The reading itself where room light adds less than 0.1 stop to it. None where nearly all of it
    is room light, so that the flash is unknown.
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
