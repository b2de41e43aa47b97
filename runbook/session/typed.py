"""What a person types at the set, read the way a meter or a counter shows it."""

from __future__ import annotations

import re
from typing import Final

from runbook.journal.entries import MOST_GUST_MS
from runbook.plan.marks import APERTURE_MARKS, aperture_stops
from runbook.plan.units import MS_PER_MPH, Units, speed
from runbook.stand.wind import top_of_force

_READING: Final = re.compile(
    r"(?:f\s*/?\s*)?(?P<mark>\d{1,3}(?:[.,]\d{1,2})?)"
    r"(?:\s*(?:(?P<sign>[+-])\s*0?[.,]?(?P<tenths>\d)|\s(?P<digit>\d)))?"
)

_WIND: Final = re.compile(
    r"(?P<force>force\s*|bft\s*)?(?P<number>\d{1,3}(?:[.,]\d{1,2})?)\s*(?P<unit>[a-z/]*)"
)
# a knot is a nautical mile of 1852 m in an hour, exact by definition
_MS: Final = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "mph": MS_PER_MPH, "kn": 1852 / 3600}
_WIND_HINT: Final = "write it like 6 m/s, 20 km/h, 13 mph, 12 kn or force 4"


def read_reading(text: str) -> float:
    """Stops of a meter's reading: ``5.6``, ``f/5.6 +0.3``, ``5.6 3`` (a mark and tenths).

    Raises ValueError with what would be right.
    """
    found = _READING.fullmatch(text.strip().lower())
    if found is None:
        raise ValueError(
            f"{text.strip() or 'nothing'!r} is no reading; write it like 5.6 or 5.6 +0.3"
        )
    mark = float(found["mark"].replace(",", "."))
    if not 0.5 <= mark <= 128:
        raise ValueError(f"f/{mark:g} is no reading; a meter shows f/0.5 to f/128")
    if mark not in APERTURE_MARKS and (found["tenths"] or found["digit"]):
        raise ValueError(f"f/{mark:g} is no mark; tenths go with marks like 4, 5.6 or 8")
    tenths = int(found["tenths"] or found["digit"] or 0)
    return aperture_stops(mark) + (-1 if found["sign"] == "-" else 1) * tenths / 10


def read_frames(text: str) -> int:
    """So many frames: ``36``, or ``-4`` to correct. Raises ValueError with what would be right."""
    try:
        count = int(text.strip())
    except ValueError:
        raise ValueError(
            f"{text.strip() or 'nothing'!r} is no count; write it like 36, or -4 to correct"
        ) from None
    if not -9999 <= count <= 9999 or count == 0:
        raise ValueError("count between 1 and 9999 frames, or -9999 to -1 to correct")
    return count


def read_words(text: str) -> str:
    """A note or a reason: anything but nothing. Raises ValueError when there is nothing."""
    said = " ".join(text.split())
    if not said:
        raise ValueError("write a few words; they stay in the journal")
    return said[:500]


def wind_hint(units: Units = "metric") -> str:
    """Return what can be typed as a wind, its unit and its bounds."""
    bare = "mph" if units == "imperial" else "m/s"
    most = speed(MOST_GUST_MS, units, ".0f")
    return f"0 to {most}; a bare number is in {bare}; also km/h, mph, kn, m/s, force 0 to 12"


def read_wind(text: str, units: Units = "metric") -> float:
    """Gusts in m/s: ``6``, ``6 m/s``, ``20 km/h``, ``13 mph``, ``12 kn`` or ``force 4``.

    A bare number is in m/s, on an imperial day in mph; a force of the Beaufort scale is taken at
    its upper end. Raises ValueError with what would be right.
    """
    found = _WIND.fullmatch(text.strip().lower())
    if found is None or (found["unit"] and (found["force"] or found["unit"] not in _MS)):
        raise ValueError(f"{text.strip() or 'nothing'!r} is no wind; {_WIND_HINT}")
    number = float(found["number"].replace(",", "."))
    if found["force"]:
        if number not in range(13):
            raise ValueError(f"there is no force {number:g}; the scale goes from 0 to 12")
        return top_of_force(int(number))
    gust = number * _MS[found["unit"] or ("mph" if units == "imperial" else "m/s")]
    if gust > MOST_GUST_MS:
        what = f"{speed(gust, units)} is out of range: 0 to {speed(MOST_GUST_MS, units)}"
        raise ValueError(f"{what}; {_WIND_HINT}")
    return gust
