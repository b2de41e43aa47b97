"""What each bag is worth to the stands, and what that proves about sharing them.

Were loads divisible, the least that is missing would be a linear programme: every stand takes one
load, in parts of several perhaps, and no kind of bag is taken more often than it is there. Its dual
values are prices: what one bag more of a kind would save. Whatever the prices, what the stands'
cheapest loads cost, less what all the bags are worth, is a bound that no sharing beats; at the best
prices it is seldom a tenth under the true least.

The simplex method with the inverse of its basis kept, loads brought in as they pay (Dantzig 1951;
Gilmore and Gomory, Operations Research 9, 1961), and prices kept from the first to what prices can
be (dual-optimal inequalities: Ben Amor, Desrosiers and Valério de Carvalho, Operations Research 54,
2006; all from memory). Masses in tenths of a kilogram.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf
from typing import Final, TypeAlias

from runbook.plan.tuples import NamedTuple
from runbook.stand.bagstock import Load, Stock, TooMuch
from runbook.stand.bagtable import Table

ZERO: Final = 1e-7  # smaller is rounding
_FIRST: Final = 40  # loads of a stand that are tried from the start, the closest to its need
_MORE: Final = 8  # loads of a stand that are brought in at a time
_EXCHANGES: Final = 1_000  # some hundred and fifty are enough, or three hundred at the worst

Kinds: TypeAlias = tuple[int, ...]
Offer: TypeAlias = tuple[int, Kinds]  # what a load leaves its stand lacking, and its kinds of bags


class Priced(NamedTuple):
    """The prices of the kinds of bags, and the bound they prove.

    ``least`` is what each stand's loads cost at the least: what the stand lacks with a load, and
    its bags' prices. ``parts`` says how much of which load each stand takes.
    """

    bound: float
    prices: list[float]
    least: list[float]
    parts: list[dict[Kinds, float]]


class _Programme:
    """The linear programme: the inverse of its basis, what is taken, and the dual values.

    Rows are the stands, then the kinds of bags. At first every stand takes its load of a sharing
    that is known, and the bags that leaves are taken by nobody.
    """

    def __init__(self, known: list[Load], costs: list[float], stock: Stock) -> None:
        self.stands = len(known)
        rows = range(self.stands + len(stock.kinds))
        self.inverse = [[float(row == column) for column in rows] for row in rows]
        self.taken = [1.0] * self.stands + [float(count) for count in stock.counts]
        self.values = costs + [0.0] * len(stock.kinds)
        self.heavier = [b - a for a, b in pairwise([0, *stock.kinds])]
        self.left = _EXCHANGES
        self.basis: list[tuple[int, Kinds] | None] = [None for _ in rows]
        for stand, load in enumerate(known):
            self.basis[stand] = stand, load.kinds
            for kind in load.kinds:
                self.inverse[self.stands + kind][stand] -= 1.0
                self.taken[self.stands + kind] -= 1.0

    @property
    def prices(self) -> list[float]:
        return [max(0.0, -value) for value in self.values[self.stands :]]

    @property
    def parts(self) -> list[dict[Kinds, float]]:
        """How much of which load each stand takes."""
        parts: list[dict[Kinds, float]] = [{} for _ in range(self.stands)]
        for what, part in zip(self.basis, self.taken, strict=True):
            if what:
                stand, kinds = what
                parts[stand][kinds] = part
        return parts

    def correct_prices(self) -> bool:
        """Let a bag stand in for one of the next lighter kind; whether any price was so corrected.

        A bag is worth as much as a lighter one, and more by no more than it is heavier: what a
        lighter one in its place leaves lacking. The lightest is compared with no bag at all.
        """
        values = [0.0, *self.values[self.stands :]]
        drops = [b - a for a, b in pairwise(values)]
        jumps = [-drop - most for drop, most in zip(drops, self.heavier, strict=True)]
        drop, jump = max(drops), max(jumps)
        if max(drop, jump) <= ZERO:
            return False
        kind, sign = (drops.index(drop), 1.0) if drop >= jump else (jumps.index(jump), -1.0)
        row = self.stands + kind
        if kind:
            into = [sign * (line[row] - line[row - 1]) for line in self.inverse]
        else:
            into = [sign * line[row] for line in self.inverse]
        self._exchange(None, into, max(drop, jump))
        return True

    def take(self, stand: int, kinds: Kinds, saves: float) -> None:
        """Let a stand take some of a load that costs so much less than what it takes now."""
        rows = [self.stands + kind for kind in kinds]
        into = [line[stand] + sum([line[row] for row in rows]) for line in self.inverse]
        self._exchange((stand, kinds), into, saves)

    def _exchange(self, what: tuple[int, Kinds] | None, into: list[float], saves: float) -> None:
        """Bring something into the basis, in place of what runs out first."""
        self.left -= 1
        if self.left < 0:
            raise TooMuch
        least, out = 0.0, -1
        for row, slope in enumerate(into):
            if slope > ZERO:
                lasts = self.taken[row] / slope
                if out < 0 or lasts < least or (lasts == least and slope > into[out]):
                    least, out = lasts, row
        pivot = into[out]
        line = [value / pivot for value in self.inverse[out]]
        for row, slope in enumerate(into):
            if slope and row != out:
                old = self.inverse[row]
                self.inverse[row] = [a - slope * b for a, b in zip(old, line)]  # noqa: B905 hot
                self.taken[row] = max(0.0, self.taken[row] - slope * least)
        self.inverse[out], self.taken[out], self.basis[out] = line, least, what
        self.values = [a - saves * b for a, b in zip(self.values, line, strict=True)]


def priced(needs: list[int], stock: Stock, known: list[Load], missing: int) -> Priced:
    """The best prices for loads in a sharing with no more ``missing``, or prices that rule it out.

    ``known`` is a sharing to begin with, a load a stand. Raises TooMuch.
    """
    waste = missing - sum(needs) + stock.mass
    windows = [(need, max(0, need - missing), min(need + waste, stock.mass)) for need in needs]
    most = max([high for _, _, high in windows])
    dear = 10.0 * sum(needs)  # for a load that is in no such sharing
    start = [
        float(max(0, need - load.mass)) if low <= load.mass <= high else dear
        for load, (need, low, high) in zip(known, windows, strict=True)
    ]
    programme = _Programme(known, start, stock)
    pools: list[list[Offer]] = []
    for need, low, high in windows:
        offers = [(max(0, need - load.mass), load) for load in stock.few(need, low, high)]
        offers.sort(key=lambda offer: abs(need - offer[1].mass))
        pools.append([(lack, load.kinds) for lack, load in offers[:_FIRST]])
    while True:
        _settle(programme, pools)
        prices = programme.prices
        table = Table(stock, prices, most)
        costs = [table.costs(*window) for window in windows]
        least = [min(each) for each in costs]
        bound = sum(least) - sum([p * n for p, n in zip(prices, stock.counts, strict=True)])
        cheaper = [
            sorted([(cost, mass) for mass, cost in enumerate(each, low) if cost < value - ZERO])
            for each, value, (_, low, _) in zip(costs, programme.values, windows, strict=False)
        ]
        if bound > missing + ZERO or not any(cheaper):
            return Priced(min(bound, missing + 1.0), prices, least, programme.parts)
        for need, pool, found in zip(needs, pools, cheaper, strict=True):
            pool += [(max(0, need - mass), table.cheapest(mass)) for _, mass in found[:_MORE]]


def _settle(programme: _Programme, pools: list[list[Offer]]) -> None:
    """Take what is cheaper, stand after stand, until nothing in the pools is."""
    stand = settled = 0
    while settled < len(pools):
        while programme.correct_prices():
            pass
        price = programme.prices.__getitem__
        costs = [lack + sum(map(price, kinds)) for lack, kinds in pools[stand]]
        cost = min(costs, default=inf)
        saves = programme.values[stand] - cost
        if saves > ZERO:
            programme.take(stand, pools[stand][costs.index(cost)][1], saves)
            settled = 0
        else:
            settled += 1
        stand = (stand + 1) % len(pools)
