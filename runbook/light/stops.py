"""Light kept in stops: ``log2`` of the squared f-number an incident meter would show.

One stop more is twice the light. No light at all is ``DARK``, minus infinity.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log2
from typing import Final

from runbook.model.nominal_values import aperture_mark

DARK: Final = -inf
METER_LEAST: Final = -2.0  # f/0.5: less than this no meter shows


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
