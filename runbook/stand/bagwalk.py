"""A walk over the stands that finds a sharing of bags, or rules a total out.

What may be missing in all also says what may be wasted, for the masses must add up; so every
stand's load lies in a narrow window and few loads fit it, and of those fewer still are not bettered
by a trade (``bagtrades``). (Bin completion: Fukunaga and Korf, Journal of Artificial Intelligence
Research 28, 2007; from memory.) Masses in tenths of a kilogram.
"""

from __future__ import annotations

from typing import Final

from runbook.stand.bagprices import Priced
from runbook.stand.bagstock import Load, Stock, TooMuch
from runbook.stand.bagtrades import bettered_by

_STOP: Final = 16  # what a stop of the walk costs besides the loads it looks at
_SLACK: Final = 1e-6


class Walk:
    """Over the stands, the smallest need first. ``left`` is how many loads it may still look at.

    What it rules out it keeps, so it can be gone on with. The last stands, where they all need the
    same, may change places: each takes none heavier than the heaviest bag of the one before, and so
    keeps its own heaviest whatever it trades.
    """

    def __init__(self, needs: list[int], stock: Stock) -> None:
        self.stock = stock
        self.order = sorted(range(len(needs)), key=lambda n: needs[n])
        self.needs = [needs[n] for n in self.order]
        self.alike = self.needs.index(self.needs[-1])
        self.to_come = [sum(self.needs[at:]) for at in range(len(needs) + 1)]
        self.ruled_out: dict[tuple[int, int], int] = {}
        self.left = 0
        self.better: list[dict[int, int]] = [{} for _ in needs]
        reached = stock.reached(stock.all)
        gaps = [self._gap(need, reached) for need in self.needs]
        # missing weighed against waste three ways: from a stand on, no sharing costs less
        self.costs = [
            (a, b, [sum(min(a * x, b * y) for x, y in gaps[at:]) for at in range(len(gaps))])
            for a, b in ((1, 1), (1, 2), (2, 1))
        ]
        nothing = [0.0] * len(needs)
        self.go_by(Priced(0.0, [0.0] * len(stock.kinds), nothing, [{} for _ in needs]))

    def go_by(self, found: Priced) -> None:
        """Go by such prices: from a stand on no sharing costs less, and its parts come first."""
        self.prices = found.prices
        least = [found.least[n] for n in self.order]
        self.least = [sum(least[at:]) - _SLACK for at in range(len(least))]
        self.parts = [found.parts[n] for n in self.order]

    def _gap(self, need: int, reached: int) -> tuple[int, int]:
        """From a need down and up to the nearest masses that some bags have."""
        under = need + 1 - (reached & (2 << need) - 1).bit_length()
        above = reached >> need
        return under, (above & -above).bit_length() - 1 if above else self.stock.mass + 1

    def with_missing(self, missing: int) -> list[list[int]] | None:
        """For each stand the masses on it, with no more missing in all; None where none do.

        Raises TooMuch.
        """
        stock = self.stock
        worth = sum([price * n for price, n in zip(self.prices, stock.counts, strict=True)])
        found = self._go(0, stock.all, stock.mass, missing, worth)
        if found is None:
            return None
        loads: list[list[int]] = [[] for _ in self.order]
        for n, packed in zip(self.order, found, strict=True):
            loads[n] = self.stock.bags_of(packed)
        return loads

    def _go(self, at: int, free: int, mass: int, missing: int, worth: float) -> list[int] | None:
        """Loads for the stands from ``at`` on, from so many bags of so much mass and worth."""
        waste = missing - self.to_come[at] + mass
        if waste < 0 or self.ruled_out.get((at, free), -1) >= missing:
            return None
        to_go = len(self.needs) - at
        if to_go <= 1:  # whatever is left may hang there
            return [free] * to_go
        if missing + worth < self.least[at]:
            return None
        if any(a * missing + b * waste < least[at] for a, b, least in self.costs):
            return None
        need = self.needs[at]
        low, high = need - missing, need + waste
        self.left -= _STOP
        loads: list[Load] = []
        if to_go > 2 or self.stock.reaches(free, max(0, low), high):
            loads = self._untraded(at, free, low, high)
            part = self.parts[at].get
            loads.sort(
                key=lambda load: (-part(load.kinds, 0.0), abs(load.mass - need), len(load.kinds))
            )
        for load in loads:
            lacks = max(0, need - load.mass)
            left = free - load.packed
            if at >= self.alike:
                left &= self.stock.up_to(load)
            gone = self.stock.of(free - left)
            weighs = sum([self.stock.kinds[kind] * n for kind, n in gone])
            taken = sum([self.prices[kind] * n for kind, n in gone])
            rest = self._go(at + 1, left, mass - weighs, missing - lacks, worth - taken)
            if rest is not None:
                return [load.packed, *rest]
        self.ruled_out[at, free] = missing
        return None

    def _untraded(self, at: int, free: int, low: int, high: int) -> list[Load]:
        """The free loads from ``low`` to ``high`` for a stand that no trade betters."""
        need, stock, known = self.needs[at], self.stock, self.better[at]
        lying = stock.lying(free)
        loads = []
        fitting = stock.fitting(free, need, low, high)
        self.left -= len(fitting)
        if self.left < 0:
            raise TooMuch
        for load in fitting:
            better = known.get(load.packed)
            if better is None:
                bags = [stock.kinds[kind] for kind in load.kinds]
                better = bettered_by(need, bags, max(bags, default=0) if at >= self.alike else 0)
                known[load.packed] = better
            if not better & lying:
                loads.append(load)
        return loads
