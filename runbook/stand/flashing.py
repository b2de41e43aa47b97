"""Flashes per second, for eyes that may be touched off by them.

WCAG 2 2.3.1 allows three flashes in any one second on a screen; HSE's figure for clubs, quoted by
the Epilepsy Society, is four. Both are borrowed: no rule for a studio's flash was found.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil
from typing import Final, Literal

WARN_OVER: Final = 3
STRONG_OVER: Final = 4


def most_in_a_second(times_s: Iterable[float]) -> int:
    """The most flashes in any second [t, t + 1), all units that can be seen together added."""
    times = sorted(times_s)
    most = first = 0
    for last, at in enumerate(times):
        # Times near a whole second apart must not be told apart by their last binary digit.
        while at - times[first] >= 1.0 - 1e-9:
            first += 1
        most = max(most, last - first + 1)
    return most


def most_at_rate(per_s: float) -> int:
    """The most in any second of a steady burst."""
    return ceil(per_s - 1e-9)


def limit_words(in_a_second: int) -> str:
    """Which of the limits so many flashes in a second pass; empty where they pass none."""
    if in_a_second > STRONG_OVER:
        return f"more than the {STRONG_OVER} allowed in clubs, and the {WARN_OVER} on screens"
    if in_a_second > WARN_OVER:
        return f"more than the {WARN_OVER} allowed on screens"
    return ""


def flash_level(in_a_second: int) -> Literal["fine", "warn", "ask everyone"]:
    """What so many flashes in a second call for."""
    if in_a_second > STRONG_OVER:
        return "ask everyone"
    return "warn" if in_a_second > WARN_OVER else "fine"
