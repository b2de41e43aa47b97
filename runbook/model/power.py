"""Power as a flash head's dial shows it: ``full``, ``1/8``, ``1/8+0.3``, ``1/2-0.7``, ``off``.

A power is held as the stops below full, an exact fraction, so that clicks add up without drift:
``0.3`` and ``0.7`` written on a third-stop dial mean exactly one and two thirds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import total_ordering
from math import ceil
from typing import Final

_WRITTEN: Final = re.compile(r"(?:1/(?P<part>\d{1,5})|(?P<full>full|1/1|1))(?P<more>[+-]\d?\.\d+)?")
_WHOLE_STOPS: Final = {2**stops: Fraction(stops) for stops in range(17)}  # below full, by the part of it
_THIRDS: Final = {Fraction(tenths, 10): Fraction(thirds, 3) for tenths, thirds in ((3, 1), (7, 2), (-3, -1), (-7, -2))}


@total_ordering
@dataclass(frozen=True, slots=True)
class Power:
    """How much of a head's full energy a flash spends.

    ``below_full`` is in stops (0 is full, 3 is 1/8); None is ``off``. Ordered from off to full.
    """

    below_full: Fraction | None

    @property
    def fires(self) -> bool:
        """False for ``off``."""
        return self.below_full is not None

    @property
    def share(self) -> float:
        """The share of full energy, 0 to 1."""
        return 0.0 if self.below_full is None else float(2.0 ** -float(self.below_full))

    def __lt__(self, other: Power) -> bool:
        if self.below_full is None or other.below_full is None:
            return self.below_full is None and other.below_full is not None
        return self.below_full > other.below_full

    def __str__(self) -> str:
        """As it is written on any dial: a whole stop, and tenths or thirds above it."""
        if self.below_full is None:
            return "off"
        if self == SOLVE:
            return "solve"
        whole = ceil(self.below_full)
        above = whole - self.below_full
        name = "full" if whole == 0 else f"1/{2**whole}"
        return name if above == 0 else f"{name}+{float(above):.1f}"


OFF: Final = Power(None)
FULL: Final = Power(Fraction(0))
# left out of the plan: to be worked out from what is asked; above full, so that no dial has it
SOLVE: Final = Power(Fraction(-1))


def stops_below(text: str, step: Fraction) -> Power:
    """Read a power as a dial with this ``step`` (1/3 or 1/10 of a stop) would be written.

    On a third-stop dial ``0.3`` and ``0.7`` are exactly a third and two thirds. Raises ValueError
    with what would be right when the text is not a power.
    """
    if text.strip().lower() == "off":
        return OFF
    found = _WRITTEN.fullmatch(text.strip().lower())
    if found is None:
        raise ValueError(f"{text!r} is not a power; write it like 1/8, 1/8+0.3, full or off")
    below = _WHOLE_STOPS.get(int(found["part"] or 1))
    if below is None:
        raise ValueError(f"{text!r} is not a whole number of stops below full; write it like 1/8, 1/8+0.3, full or off")
    above = Fraction(found["more"] or 0)
    if step == Fraction(1, 3):
        above = _THIRDS.get(above, above)
    below -= above
    if below < 0:
        raise ValueError(f"{text!r} is above full power; full is the most a head can give")
    return Power(below)


@dataclass(frozen=True, slots=True)
class Dial:
    """The powers a head can be set to: from full down to ``lowest`` in equal clicks of ``step``."""

    step: Fraction
    lowest: Power

    def read(self, text: str) -> Power:
        """A power written for this dial. Raises ValueError when it is not a power, or not on it."""
        power = stops_below(text, self.step)
        if power.below_full is None:
            return power
        if power < self.lowest:
            raise ValueError(f"{text} is under this head's least power; {self.lowest} is the least")
        if (power.below_full / self.step).denominator != 1:
            near = self.nearest(float(power.below_full))
            raise ValueError(f"{text} is not on this head's dial; {near} is the nearest click")
        return power

    def nearest(self, below_full: float) -> Power:
        """The power on the dial closest to so many stops below full, within its range."""
        assert self.lowest.below_full is not None
        clicks = min(max(round(below_full / self.step), 0), int(self.lowest.below_full / self.step))
        return Power(clicks * self.step)

    def nudged(self, power: Power, clicks: int) -> Power:
        """So many clicks up (plus) or down from ``power``, stopping at the ends of the dial."""
        start = self.lowest.below_full if power.below_full is None else power.below_full
        assert start is not None
        return self.nearest(float(start - clicks * self.step))

    def clicks(self, old: Power, new: Power) -> int:
        """Clicks from one power to another, plus is up. Raises ValueError when either is off."""
        if old.below_full is None or new.below_full is None:
            raise ValueError("a head that is off has no clicks to count")
        return round((old.below_full - new.below_full) / self.step)

    def every(self) -> tuple[Power, ...]:
        """Every power on the dial, least first."""
        assert self.lowest.below_full is not None
        most = int(self.lowest.below_full / self.step)
        return tuple(Power(n * self.step) for n in range(most, -1, -1))
