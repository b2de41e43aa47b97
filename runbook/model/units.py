"""Lengths, masses, pushes, winds and minutes as text, metric or imperial. Files stay SI.

``form`` is the format of a metric figure where a text wants its places (``.2f``) or the very number a file holds
(``g``). Imperial figures are always to the inch, or to a tenth.
"""

from __future__ import annotations

from typing import Final, Literal

Units = Literal["metric", "imperial"]

# exact by definition: the international yard and pound agreement of 1959
M_PER_INCH: Final = 0.0254
KG_PER_POUND: Final = 0.45359237
# a mile is 1760 yards of 36 inches
MS_PER_MPH: Final = 1760 * 36 * M_PER_INCH / 3600
# exact by definition: the third general conference on weights and measures, 1901
STANDARD_G: Final = 9.80665


def length(metres: float, units: Units = "metric", form: str = "") -> str:
    """``1.4 m``, or ``4 ft 7 in`` to the nearest inch."""
    if units == "metric":
        return f"{format(metres, form) if form else _short(metres, 2)} m"
    inches = round(metres / M_PER_INCH)
    feet, inches = divmod(inches, 12)
    return f"{feet} ft {inches} in" if feet else f"{inches} in"


def mass(kilograms: float, units: Units = "metric", form: str = "") -> str:
    """``7 kg``, or ``15.4 lb``."""
    if units == "metric":
        return f"{format(kilograms, form) if form else _short(kilograms, 1)} kg"
    return f"{_short(kilograms / KG_PER_POUND, 1)} lb"


def minutes_text(minutes: int) -> str:
    """Return ``40 min``, ``2 h``, ``3 h 18``."""
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02}" if rest else f"{hours} h"


def count_text(count: int, noun: str) -> str:
    """Return ``1 step``, ``2 steps``."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _short(number: float, places: int) -> str:
    """A number without trailing zeros, but with one decimal for metres."""
    text = f"{number:.{places}f}".rstrip("0").rstrip(".")
    return f"{text}.0" if places == 2 and "." not in text else text


def force(newtons: float, units: Units = "metric") -> str:
    """A push as the weight a hand knows: ``1.1 kgf``, or ``2.4 lbf``."""
    kilograms = newtons / STANDARD_G
    if units == "metric":
        return f"{kilograms:.1f} kgf"
    return f"{kilograms / KG_PER_POUND:.1f} lbf"


def speed(metres_per_s: float, units: Units = "metric", form: str = ".1f") -> str:
    """A wind: ``4.7 m/s``, or ``10.5 mph``."""
    if units == "metric":
        return f"{metres_per_s:{form}} m/s"
    return f"{metres_per_s / MS_PER_MPH:.1f} mph"


def figure(text: str) -> str:
    """The number alone of a mass, a push or a wind, beside another that has named their unit."""
    return text.split(maxsplit=1)[0]
