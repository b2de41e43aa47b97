"""Flashes per second, for eyes that may be touched off by them.

WCAG 2 2.3.1 allows three flashes in any one second on a screen; HSE's figure for clubs, quoted by
the Epilepsy Society, is four. Both are borrowed: no rule for a studio's flash was found.
"""

from __future__ import annotations

from math import ceil
from typing import Final, Literal

WARN_OVER: Final = 3
STRONG_OVER: Final = 4


def flashes_in_a_second(per_s: float) -> int:
    """The most in any second of a steady burst."""
    return ceil(per_s - 1e-9)


def flash_limit_text(in_a_second: int) -> str:
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
