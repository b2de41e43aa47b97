"""What the flashes of a day take out of the heads' batteries, and how fast a head is ready again.

Flashes are counted in full-power ones: a flash at 1/8 spends an eighth of one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import Final

from runbook.model.day import Plan
from runbook.model.kit import Head
from runbook.model.power import Power

TEST_POPS: Final = 3  # a setup's own: one to meter the head alone, one the whole, one look


def recycle_s(head: Head, power: Power) -> float:
    """Return the seconds until a head is ready again: from ``recycle_min_s`` up in step with the energy."""
    return head.recycle_min_s + (head.recycle_full_s - head.recycle_min_s) * power.share


def flashes_spent(frames: int, power: Power, pops: int = TEST_POPS) -> float:
    """Return the full-power flashes one setup takes out of a head: its frames and test flashes, times power."""
    return (frames + pops) * power.share


@dataclass(frozen=True, slots=True)
class Battery:
    """A head's battery over the day.

    ``spent`` out of ``of`` full-power flashes a charge; ``changes``, the setups before which to
    put in a full one so that none stops in the middle; ``overruns``, setups one charge cannot
    last; ``charges``, how many are needed in all; ``spares``, what the case holds beside the first.
    """

    head: str
    spent: float
    of: float
    changes: tuple[str, ...]
    overruns: tuple[str, ...]
    charges: int
    spares: int

    @property
    def change_before(self) -> str | None:
        """The first setup before which to change it."""
        return self.changes[0] if self.changes else None

    @property
    def lasts(self) -> bool:
        """Whether the batteries at hand last the day."""
        return self.charges <= 1 + self.spares


def battery_use(head: Head, of: float, uses: Iterable[tuple[str, float]]) -> Battery:
    """Return one head's battery through setups that each spend so many flashes, full at the start."""
    left, spent, charges = of, 0.0, 1
    changes: list[str] = []
    overruns: list[str] = []
    for setup_id, need in uses:
        spent += need
        if left < of and need > left:
            changes.append(setup_id)
            left, charges = of, charges + 1
        if need > of:
            overruns.append(setup_id)
        left -= need
        if left < 0:  # at once: by a slip a charge may be next to nothing
            more = ceil(-left / of)
            left, charges = max(left + more * of, 0.0), charges + more
    return Battery(head.id, spent, of, tuple(changes), tuple(overruns), charges, head.spare_batteries)


def batteries(plan: Plan, pops: int = TEST_POPS) -> tuple[Battery, ...]:
    """Return the battery heads that burn, over the setups in the day's order."""
    used = []
    for head in plan.kit.heads:
        uses = [
            (setup.id, flashes_spent(setup.frames, setup.light[head.id].power, pops))
            for setup in plan.order
            if head.id in setup.light and setup.light[head.id].power.fires
        ]
        if uses and head.flashes_full is not None and not head.mains:
            used.append(battery_use(head, head.flashes_full, uses))
    return tuple(used)
