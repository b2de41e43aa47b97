"""A walk over the stands that finds a sharing of bags, or rules a total out.

What may be missing in all also says what may be wasted, for the masses must add up; so every
stand's load lies in a narrow window and few loads fit it. (Bin completion: Fukunaga and Korf,
Journal of Artificial Intelligence Research 28, 2007; from memory.) Masses in tenths of a kilogram.
"""

from __future__ import annotations

from typing import Final

from runbook.stand.bagstock import Load, TooMuch
from runbook.stand.bagtrades import Trades

_STOP: Final = 16  # what a stop of the walk costs besides the loads it looks at


class Walk:
    """Over the stands, the smallest need first. ``left`` is how many loads it may still look at.

    What it rules out it keeps, so it can be gone on with.
    """

    def __init__(self, needs: list[int], trades: Trades) -> None:
        self.trades = trades
        self.stock = trades.stock
        self.order = sorted(range(len(needs)), key=lambda n: needs[n])
        self.needs = [needs[n] for n in self.order]
        self.to_come = [sum(self.needs[at:]) for at in range(len(needs) + 1)]
        self.ruled_out: dict[tuple[int, int], int] = {}
        self.left = 0
        reached = self.stock.reached(self.stock.all)
        gaps = [self._gap(need, reached) for need in self.needs]
        # missing weighed against waste three ways: from a stand on, no sharing costs less
        self.costs = [
            (a, b, [sum(min(a * x, b * y) for x, y in gaps[at:]) for at in range(len(gaps))])
            for a, b in ((1, 1), (1, 2), (2, 1))
        ]

    def _gap(self, need: int, reached: int) -> tuple[int, int]:
        """From a need down and up to the nearest masses that some bags have."""
        under = need + 1 - (reached & (2 << need) - 1).bit_length()
        above = reached >> need
        return under, (above & -above).bit_length() - 1 if above else self.stock.mass + 1

    def with_missing(self, missing: int) -> list[list[int]] | None:
        """For each stand the masses on it, with no more missing in all; None where none do.

        Raises TooMuch.
        """
        found = self._go(0, self.stock.all, self.stock.mass, missing)
        if found is None:
            return None
        loads: list[list[int]] = [[] for _ in self.order]
        for n, packed in zip(self.order, found, strict=True):
            loads[n] = self.stock.bags_of(packed)
        return loads

    def _go(self, at: int, free: int, mass: int, missing: int) -> list[int] | None:
        """Loads for the stands from ``at`` on, from so many bags of so much mass."""
        waste = missing - self.to_come[at] + mass
        if waste < 0 or self.ruled_out.get((at, free), -1) >= missing:
            return None
        to_go = len(self.needs) - at
        if to_go <= 1:  # whatever is left may hang there
            return [free] * to_go
        if any(a * missing + b * waste < least[at] for a, b, least in self.costs):
            return None
        need = self.needs[at]
        low, high = need - missing, need + waste
        self.left -= _STOP
        loads: list[Load] = []
        if to_go > 2 or self.stock.reaches(free, max(0, low), high):
            lying, trades = self.stock.lying(free), self.trades.of
            fitting = self.stock.fitting(free, need, low, high)
            loads = [load for load in fitting if not trades(need, load) & lying]
            loads.sort(key=lambda load: (abs(load.mass - need), len(load.kinds)))
        self.left -= len(loads)
        if self.left < 0:
            raise TooMuch
        for load in loads:
            lacks = max(0, need - load.mass)
            rest = self._go(at + 1, free - load.packed, mass - load.mass, missing - lacks)
            if rest is not None:
                return [load.packed, *rest]
        self.ruled_out[at, free] = missing
        return None
