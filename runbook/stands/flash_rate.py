"""Flashes per second, for people with photosensitive epilepsy.

WCAG 2 2.3.1 allows three flashes in any one second on a screen; HSE's figure for clubs, quoted by
the Epilepsy Society, is four. Both are borrowed: no rule for a studio's flash was found.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import Final

from runbook.model.problems import Problem
from runbook.model.setup import Setup

SCREEN_LIMIT: Final = 3
CLUB_LIMIT: Final = 4


def flashes_in_a_second(per_s: float) -> int:
    """Return the most flashes in any second of a steady burst."""
    return ceil(per_s - 1e-9)


def flash_problems(setup: Setup) -> Iterator[Problem]:
    """Yield a warning for a burst over a published limit; heads fired by one frame flash as one."""
    flashes = flashes_in_a_second(setup.burst_per_s)
    if flashes <= SCREEN_LIMIT or not any(light.power.fires for light in setup.lights):
        return
    code, limit = "flashes-fast", f"{SCREEN_LIMIT} allowed on screens"
    do = "slow the burst, or ask everyone present about photosensitive epilepsy first"
    if flashes > CLUB_LIMIT:
        code, limit = "flashes-very-fast", f"{CLUB_LIMIT} allowed in clubs, and the {SCREEN_LIMIT} on screens"
        do = "slow the burst; do not fire it before everyone was asked about photosensitive epilepsy"
    what = f"{flashes} flashes in a second, more than the {limit} (borrowed limits)"
    yield Problem("warn", code, setup.id, None, what, do)
