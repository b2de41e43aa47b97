"""What a person types at the set, read the way a meter or a counter shows it."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from runbook.journal.entries import MOST_GUST_MS
from runbook.model.nominal_values import APERTURE_MARKS, FULL_APERTURES, aperture_stops
from runbook.model.units import MS_PER_MPH, Units, speed
from runbook.stands.wind import top_of_force

_DUE: Final = re.compile(r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>[0-5]\d))?")
_MOST_BREAK_MIN: Final = 600
_READING: Final = re.compile(
    r"(?:f\s*/?\s*)?(?P<mark>\d{1,3}(?:[.,]\d{1,2})?)"
    r"(?:\s*(?:(?P<sign>[+-])\s*0?[.,]?(?P<tenths>\d)|\s(?P<digit>\d)))?"
)

_WIND: Final = re.compile(r"(?P<force>force\s*|bft\s*)?(?P<number>\d{1,3}(?:[.,]\d{1,2})?)\s*(?P<unit>[a-z/]*)")
# a knot is a nautical mile of 1852 m in an hour, exact by definition
_MS: Final = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "mph": MS_PER_MPH, "kn": 1852 / 3600}
_WIND_HINT: Final = "write it like 6 m/s, 20 km/h, 13 mph, 12 kn or force 4"


class Meaning(NamedTuple):
    """What a typed reading can mean, in words, and its stops."""

    text: str
    stops: float


def reading_meanings(text: str) -> tuple[Meaning, ...]:
    """What a meter's reading says: ``5.6``, ``f/5.6 +0.3``, ``5.6 3`` (a mark and tenths).

    There are two for a number that is no mark but may be one with its tenths, as many meters show
    them: ``8.3`` is f/8 and three tenths, or the aperture f/8.3. With an ``f`` in front it is the
    aperture. Raises ValueError with what would be right.
    """
    typed = text.strip().lower()
    match = _READING.fullmatch(typed)
    if match is None:
        raise ValueError(f"{typed or 'nothing'!r} is no reading; write it like 5.6 or 5.6 +0.3")
    number = match["mark"].replace(",", ".")
    f = float(number)
    if not 0.5 <= f <= 128:
        raise ValueError(f"f/{f:g} is no reading; a meter shows f/0.5 to f/128")
    tenths = match["tenths"] or match["digit"]
    if f in APERTURE_MARKS:
        stops = aperture_stops(f) + (-1 if match["sign"] == "-" else 1) * int(tenths or 0) / 10
        return (Meaning(f"f/{f:g}", stops),)
    if tenths:
        raise ValueError(f"f/{f:g} is no mark; tenths go with marks like 4, 5.6 or 8")
    aperture = Meaning(f"the aperture f/{f:g}", aperture_stops(f))
    mark, digit = number[:-1].rstrip("."), number[-1]
    if typed.startswith("f") or "." not in number or mark not in FULL_APERTURES:
        return (aperture,)
    in_tenths = aperture_stops(float(mark)) + int(digit) / 10
    return (Meaning(f"f/{mark} and {digit} tenths of a stop", in_tenths), aperture)


def read_reading(text: str) -> float:
    """Stops of a meter's reading that has one meaning.

    Raises ValueError with what would be right, as ``reading_meanings`` does, and where there are
    two meanings.
    """
    meaning, *other = reading_meanings(text)
    if other:
        number = text.strip().replace(",", ".")
        mark, digit = number[:-1].rstrip("."), number[-1]
        raise ValueError(f"{number} may be {meaning.text} or {other[0].text}; write {mark} +0.{digit} or f/{number}")
    return meaning.stops


def read_frames(text: str) -> int:
    """So many frames: ``36``, or ``-4`` to correct. Raises ValueError with what would be right."""
    try:
        count = int(text.strip())
    except ValueError:
        raise ValueError(f"{text.strip() or 'nothing'!r} is no count; write it like 36, or -4 to correct") from None
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


def read_due(text: str) -> str:
    """A time of day as ``HH:MM``: ``13:40``, ``9.15`` or ``14``. Raises ValueError otherwise."""
    parts = _DUE.fullmatch(text.strip())
    if parts is None or int(parts["hour"]) > 23:
        raise ValueError(f"{text.strip() or 'nothing'!r} is no time of day; write it like 13:40")
    return f"{int(parts['hour']):02}:{parts['minute'] or '00'}"


def read_break(text: str) -> tuple[float, str]:
    """Minutes and reason of an unplanned break: ``20 fire alarm``. Raises ValueError otherwise."""
    minutes, _, reason = text.strip().partition(" ")
    if not minutes.isdecimal() or not 1 <= int(minutes) <= _MOST_BREAK_MIN or not reason.strip():
        raise ValueError("write the minutes (1 to 600) and the reason, like: 20 fire alarm")
    return float(minutes), read_words(reason)


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
