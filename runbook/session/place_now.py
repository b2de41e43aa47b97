"""The day's place as it is now: outdoors, in the wind that was said last."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from runbook.journal.entries import Entry, Note, live
from runbook.plan.day import Place
from runbook.plan.units import Units
from runbook.stand.words import gust_words

_WIND: Final = re.compile(r"wind: gusts of (\d+(?:\.\d+)?) m/s\b")


def wind_note(gust_ms: float, units: Units = "metric") -> str:
    """A wind as it is kept in the journal: in m/s as all files are, and as the day's screens say
    it.
    """
    said, step = gust_words(gust_ms, units).split(", ", 1)
    also = "" if units == "metric" else f" ({said})"
    return f"wind: gusts of {round(gust_ms, 2):g} m/s{also}, {step}"


def wind_noted(entries: Sequence[Entry]) -> tuple[float, datetime] | None:
    """The last wind in a journal, as a gust in m/s, and when it was said."""
    for entry in reversed(live(entries)):
        if isinstance(entry.data, Note) and (found := _WIND.match(entry.data.text)):
            return float(found[1]), entry.at
    return None


def place_now(place: Place, entries: Sequence[Entry]) -> Place:
    """The day's place with the wind as it was last said to be."""
    if place.indoors:
        return place
    noted = wind_noted(entries)
    return place if noted is None else place._replace(wind_ms=0.0, gust_ms=noted[0])
