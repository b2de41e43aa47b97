"""Lengths and masses as people say them: metric, or feet, inches and pounds. Files stay SI."""

from __future__ import annotations

from typing import Final, Literal

Units = Literal["metric", "imperial"]

# exact by definition: the international yard and pound agreement of 1959
M_PER_INCH: Final = 0.0254
KG_PER_POUND: Final = 0.45359237


def length(metres: float, units: Units = "metric") -> str:
    """``1.4 m``, or ``4 ft 7 in`` to the nearest inch."""
    if units == "metric":
        return f"{_short(metres, 2)} m"
    inches = round(metres / M_PER_INCH)
    feet, inches = divmod(inches, 12)
    return f"{feet} ft {inches} in" if feet else f"{inches} in"


def mass(kilograms: float, units: Units = "metric") -> str:
    """``7 kg``, or ``15.4 lb``."""
    if units == "metric":
        return f"{_short(kilograms, 1)} kg"
    return f"{_short(kilograms / KG_PER_POUND, 1)} lb"


def _short(number: float, places: int) -> str:
    """A number without the zeros nobody says, but with one decimal where metres want one."""
    text = f"{number:.{places}f}".rstrip("0").rstrip(".")
    return f"{text}.0" if places == 2 and "." not in text else text
