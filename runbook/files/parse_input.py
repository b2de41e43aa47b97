"""What a person types into a form: metres or feet, kilograms or pounds.

A number without a unit is in the units of the day. Each reader gives a value as the files hold it
and raises ValueError with what would be right.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Final

from runbook.files.errors import instead
from runbook.model.fields import is_id
from runbook.model.nominal_values import shutter_stops
from runbook.model.power import Dial
from runbook.model.units import KG_PER_POUND, M_PER_INCH, Units

_NUMBER: Final = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_MEASURE: Final = re.compile(rf"({_NUMBER})\s*(\D*?)(?:\s*({_NUMBER})\s*(\D*?))?")
_FOOT: Final = 12 * M_PER_INCH
_METRES: Final = {
    "m": 1.0, "cm": 0.01, "mm": 0.001, **dict.fromkeys(("ft", "feet", "foot", "'", "′", "’"), _FOOT),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "”", "''"), M_PER_INCH),
}  # fmt: skip
_KILOS: Final = {"kg": 1.0, "g": 0.001, "lb": KG_PER_POUND, "lbs": KG_PER_POUND, "oz": KG_PER_POUND / 16}
# places kept of what was typed in other units: a tenth of a millimetre, a gram
_M_PLACES, _KG_PLACES = 4, 3


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _wrong(text: str, what: str, like: str) -> ValueError:
    typed = f"{text.strip()!r}" if text.strip() else "nothing"
    return ValueError(f"{typed} is no {what}; write it like {like}")


def _measure(text: str, scale: Mapping[str, float], bare: float, small: float, places: int) -> float | None:
    """A number with a unit of a scale, or two with a large unit and a ``small`` one; None when it is neither."""
    found = _MEASURE.fullmatch(text.strip().lower())
    if found is None:
        return None
    value, unit = _number(found[1]), scale.get(found[2]) if found[2] else bare
    if unit is None:
        return None
    if found[3] is None:
        return value if unit == 1.0 else round(value * unit, places)
    more, of = _number(found[3]), scale.get(found[4]) if found[4] else small
    if found[2] and unit in (_FOOT, KG_PER_POUND) and of == small and value >= 0 and more >= 0:
        return round(value * unit + more * small, places)
    return None


def read_length(text: str, units: Units = "metric") -> float:
    """Metres: ``1.4 m``, ``1,4``, ``140 cm``, ``4 ft 6 in``, ``4'6"``, ``54 in``."""
    metres = _measure(text, _METRES, 1.0 if units == "metric" else _FOOT, M_PER_INCH, _M_PLACES)
    if metres is None:
        raise _wrong(text, "length", "1.4 m or 4 ft 6 in" if units == "metric" else "4 ft 6 in or 1.4 m")
    return metres


def read_mass(text: str, units: Units = "metric") -> float:
    """Kilograms: ``7 kg``, ``6,8``, ``15 lb``, ``900 g``, ``2 lb 4 oz``."""
    kilos = _measure(text, _KILOS, 1.0 if units == "metric" else KG_PER_POUND, KG_PER_POUND / 16, _KG_PLACES)
    if kilos is None:
        raise _wrong(text, "mass", "7 kg or 15 lb" if units == "metric" else "15 lb or 7 kg")
    return kilos


def read_number(text: str, unit: str = "") -> float:
    """A number, with its unit or without: ``45``, ``45°``, ``1,5``, ``25 min``."""
    typed = text.strip().lower()
    ends = (unit.lower(), "°") if unit == "deg" else (unit.lower(),)
    typed = next((typed.removesuffix(end).rstrip() for end in ends if end and typed.endswith(end)), typed)
    if not re.fullmatch(_NUMBER, typed):
        raise _wrong(text, "number", f"1.5 {unit}".rstrip())
    return _number(typed)


def read_aperture(text: str) -> float:
    """An f-number: ``5.6``, ``f/5.6``, ``f 5,6``."""
    typed = re.sub(r"^f\s*/?\s*", "", text.strip().lower())
    if not re.fullmatch(_NUMBER, typed) or _number(typed) <= 0:
        raise _wrong(text, "aperture", "5.6 or f/5.6")
    return _number(typed)


def read_whole(text: str) -> int:
    """A whole number."""
    typed = text.strip()
    if not re.fullmatch(r"[+-]?\d{1,18}", typed):
        raise _wrong(text, "whole number", "36")
    return int(typed)


def read_shutter(text: str) -> str:
    """A shutter time as it is marked: ``1/160``, ``1/160 s``, ``2``."""
    typed = re.sub(r"\s*s(ec)?$", "", text.strip().lower()).replace(",", ".").replace(" ", "")
    shutter_stops(typed)
    return typed


def read_power(text: str, dial: Dial) -> str:
    """A power on a head's own dial, as it is written: ``1/8+0.3``, ``full``."""
    typed = re.sub(r"\s+", "", text.lower()).replace(",", ".")
    dial.read(typed)
    return typed


def read_time(text: str) -> dt.time:
    """A time of day: ``8:00``, ``08.30``, ``0830``, ``8``, ``6 pm``."""
    found = re.fullmatch(
        r"(?P<h>\d{1,2})(?:\s*[:.h]\s*(?P<m>\d{2})(?::(?P<s>\d{2}))?|(?P<mm>\d{2}))?"
        r"\s*(?P<half>[ap]\.?m\.?)?",
        text.strip().lower(),
    )
    if found:
        hour = int(found["h"])
        if found["half"] and 1 <= hour <= 12:
            hour = hour % 12 + (12 if found["half"][0] == "p" else 0)
        try:
            return dt.time(hour, int(found["m"] or found["mm"] or 0), int(found["s"] or 0))
        except ValueError:
            pass
    raise _wrong(text, "time of day", "8:00, 14:30 or 6 pm")


def read_date(text: str) -> dt.date:
    """A date: ``2026-12-04``."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise _wrong(text, "date", "2026-12-04") from None


def read_yes(text: str) -> bool:
    """Yes or no."""
    words = {"yes": True, "y": True, "true": True, "on": True, "no": False, "n": False, "false": False, "off": False}
    if text.strip().lower() not in words:
        raise _wrong(text, "yes or no", "yes or no")
    return words[text.strip().lower()]


def read_id(text: str) -> str:
    """An id: 1 to 24 letters, digits, ``-`` and ``_``."""
    typed = text.strip()
    if not is_id(typed):
        raise ValueError(f"{typed!r} is no id; write 1 to 24 letters, digits, - or _")
    return typed


def read_choice(text: str, choices: Sequence[str], what: str = "choice") -> str:
    """One of a few words; as much of its beginning as is of no other is enough."""
    typed = text.strip()
    if typed in choices:
        return typed
    begun = [choice for choice in choices if typed and choice.lower().startswith(typed.lower())]
    exact = [choice for choice in begun if choice.lower() == typed.lower()]
    if len(exact or begun) == 1:
        return (exact or begun)[0]
    raise ValueError(f"{typed!r} is no {what}; {instead(typed, choices)}")


def read_ids(text: str, choices: Sequence[str], what: str) -> list[str]:
    """Ids with commas or spaces between them, each of what there is; nothing is none."""
    return [read_choice(part, choices, what) for part in re.split(r"[\s,;]+", text) if part]


def read_pair(text: str) -> list[float]:
    """Two numbers: ``36 x 24``, ``36, 24``."""
    parts = [part for part in re.split(r"\s*(?:x|×|;|,\s|\s)\s*", text.strip().lower()) if part]
    if len(parts) != 2 or not all(re.fullmatch(_NUMBER, part) for part in parts):
        raise _wrong(text, "pair of numbers", "36 x 24")
    return [_number(part) for part in parts]


# -- as it is put before a person to change: nothing of it lost ----------------------------------


def length_to_edit(metres: float, units: Units) -> str:
    """A length to the tenth of a millimetre, which is all that is kept of one typed in inches."""
    if units == "metric":
        return f"{metres!r} m"
    inches = metres / M_PER_INCH
    feet = int(inches // 12)
    rest = f"{inches - 12 * feet:.3f}".rstrip("0").rstrip(".")
    if rest == "12":
        feet, rest = feet + 1, "0"
    return f"{feet} ft {rest} in" if feet else f"{rest} in"


def mass_to_edit(kilograms: float, units: Units) -> str:
    """A mass to the gram."""
    if units == "metric":
        return f"{kilograms!r} kg"
    return f"{kilograms / KG_PER_POUND:.4f}".rstrip("0").rstrip(".") + " lb"
