"""Light in stops: ``log2`` of the squared f-number an incident meter would show.

One stop more is twice the light. No light at all is ``DARK``, minus infinity.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log2
from typing import Final

from runbook.model.nominal_values import aperture_mark, iso_stops, shutter_stops

DARK: Final = -inf
METER_LEAST: Final = -2.0  # f/0.5: less than this no meter shows
INCIDENT_LUX: Final = 250.0  # C of a flat incident meter: ISO 2720:1974 via GNU Units, second-hand

# a meter shows tenths: less ambient light than this does not show in a reading
AMBIENT_ADDS_STOPS: Final = 0.1
# with more ambient light than this a tenth off at the meter is a stop off in the flash: our own limit
AMBIENT_MOST_STOPS: Final = 3.0


def stops_of(light: float) -> float:
    """Stops of an amount of light; ``DARK`` of none."""
    return log2(light) if light > 0 else DARK


def f_number(stops: float) -> float:
    """The exact f-number of so many stops: ``N = 2^(stops / 2)``."""
    return float(2.0 ** (stops / 2))


def add_light(readings: Iterable[float]) -> float:
    """Several lights on one point, in stops: ``log2`` of the sum of ``2^s``; ``DARK`` of none.

    Light adds, stops do not: two equal lights are one stop more, not twice the stops. US Navy
    NAVEDTRA 14209 (1993), p. 144, seen.
    """
    lit = [stops for stops in readings if stops != DARK]
    if not lit:
        return DARK
    # counted from the brightest, so that no sum overflows or vanishes
    top = max(lit)
    return top + log2(sum(2.0 ** (stops - top) for stops in lit))


def meter_text(stops: float) -> str:
    """A reading as a meter shows it: a full-stop mark and tenths above it, ``f/5.6 +0.3``."""
    if stops < METER_LEAST:
        return "no light" if stops == DARK else "under f/0.5"
    mark, over = aperture_mark(round(stops, 1))
    tenths = round(over, 1)
    return f"f/{mark} {tenths:+.1f}" if tenths else f"f/{mark}"


def ambient_stops(lux: float, shutter: str, iso: float) -> float:
    """Return what the room's own light reads at this shutter and ISO: ``N² = t · ISO · lux / 250``.

    ``DARK`` in the dark. Raises ValueError when the shutter is not a time.
    """
    return stops_of(lux * 100 / INCIDENT_LUX) - shutter_stops(shutter) + iso_stops(iso)


def without_ambient(stops: float, ambient: float | None) -> float | None:
    """Return the flash in a meter's reading that contains ambient light; both in stops.

    The reading itself where ambient light adds less than 0.1 stop to it. None where nearly all of it
    is ambient light, so that the flash is unknown.
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
