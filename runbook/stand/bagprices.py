"""What each bag is worth to the stands, and what that proves about sharing them.

Were loads divisible, the least that is missing would be a linear programme: every stand takes one
load, in parts of several perhaps, and no kind of bag is taken more often than it is there. Its dual
values are prices: what one bag more of a kind would save. Whatever the prices, what the stands'
cheapest loads cost, less what all the bags are worth, is a bound that no sharing beats; at the best
prices it is seldom a tenth under the true least.

The simplex method with the inverse of its basis kept, loads brought in as they pay (Dantzig 1951;
Gilmore and Gomory, Operations Research 9, 1961; both from memory). Masses in tenths of a kilogram.
"""

from __future__ import annotations

from typing import Final, TypeAlias

from runbook.plan.tuples import NamedTuple
from runbook.stand.bagstock import Load, Stock, TooMuch

ZERO: Final = 1e-7  # smaller is rounding
_FIRST: Final = 40  # loads of a stand that are tried from the start, the closest to its need
_MORE: Final = 8  # loads of a stand that are brought in at a time
_LOOK: Final = 40  # exchanges after which all loads are looked over again
_LOOPS: Final = 1000
_LOADS: Final = 20_000  # more than so many take too long to list and to price


# A load for one stand: what it leaves the stand lacking, its kinds of bags, and itself.
Offer: TypeAlias = tuple[int, tuple[int, ...], Load]


class Priced(NamedTuple):
    """The prices of the kinds of bags, what each stand's loads cost at the least, and the bound.

    What a load costs is what is missing with it, and what its bags would save elsewhere.
    """

    bound: float
    prices: list[float]
    least: list[float]


def offers(needs: list[int], stock: Stock, missing: int) -> list[list[Offer]]:
    """Each stand's loads in any sharing with no more missing in all, the closest to its need first.

    Raises TooMuch.
    """
    waste = missing - sum(needs) + stock.mass
    found: list[list[Offer]] = []
    left = _LOADS
    for need in needs:
        loads = stock.fitting(stock.all, need, need - missing, need + waste)
        left -= len(loads)
        if left < 0:
            raise TooMuch
        loads.sort(key=lambda load: abs(load.mass - need))
        found.append([(max(0, need - load.mass), load.kinds, load) for load in loads])
    return found


def costs_of(mine: list[Offer], prices: list[float]) -> list[float]:
    """What is missing with each load, and what its bags would save elsewhere."""
    price = prices.__getitem__
    return [lack + sum(map(price, kinds)) for lack, kinds, _ in mine]


class _Programme:
    """The linear programme: the inverse of its basis, what is taken, and the dual values.

    Rows are the stands, then the kinds of bags. At first every stand takes its load of a sharing
    that is known, and the bags that leaves are taken by nobody.
    """

    def __init__(self, known: list[Load], costs: list[float], counts: list[int]) -> None:
        self.stands = len(known)
        rows = range(self.stands + len(counts))
        self.inverse = [[float(row == column) for column in rows] for row in rows]
        self.taken = [1.0] * self.stands + [float(count) for count in counts]
        self.values = costs + [0.0] * len(counts)
        for stand, load in enumerate(known):
            for kind in load.kinds:
                self.inverse[self.stands + kind][stand] -= 1.0
                self.taken[self.stands + kind] -= 1.0

    @property
    def prices(self) -> list[float]:
        return [max(0.0, -value) for value in self.values[self.stands :]]

    def leave_worthless(self) -> bool:
        """Let nobody take some of a kind whose price is under nothing; whether there was one."""
        worst = max(self.values[self.stands :])
        if worst <= ZERO:
            return False
        row = self.values.index(worst, self.stands)
        self._exchange([line[row] for line in self.inverse], worst)
        return True

    def take(self, stand: int, load: Load, saves: float) -> None:
        """Let a stand take some of a load that costs so much less than what it takes now."""
        rows = [self.stands + kind for kind in load.kinds]
        into = [line[stand] + sum([line[row] for row in rows]) for line in self.inverse]
        self._exchange(into, saves)

    def _exchange(self, into: list[float], saves: float) -> None:
        """Bring something into the basis, in place of what runs out first."""
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
        self.inverse[out], self.taken[out] = line, least
        self.values = [a - saves * b for a, b in zip(self.values, line, strict=True)]


def priced(
    needs: list[int], stock: Stock, offered: list[list[Offer]], known: list[Load], missing: int
) -> Priced:
    """The best prices for what is offered, or prices that rule out ``missing`` and less.

    ``known`` is a sharing to begin with, a load a stand. Raises TooMuch.
    """
    packed = [{load.packed for _, _, load in mine} for mine in offered]
    dear = 10.0 * sum(needs)  # for a load that is not among those offered
    start = [
        float(max(0, need - load.mass)) if load.packed in mine else dear
        for need, load, mine in zip(needs, known, packed, strict=True)
    ]
    programme = _Programme(known, start, stock.counts)
    pools = [mine[:_FIRST] for mine in offered]
    turn = since = 0
    for _ in range(_LOOPS):
        if programme.leave_worthless():
            continue
        prices = programme.prices
        since += 1
        stand = _next(pools, programme, prices, turn) if since < _LOOK else None
        if stand is not None:
            turn = stand + 1
            continue
        since = 0
        costs = [costs_of(mine, prices) for mine in offered]
        least = [min(each) for each in costs]
        bound = sum(least) - sum([p * n for p, n in zip(prices, stock.counts, strict=True)])
        cheaper = [
            sorted([(cost, n) for n, cost in enumerate(each) if cost < value - ZERO])[:_MORE]
            for each, value in zip(costs, programme.values[: len(costs)], strict=True)
        ]
        for pool, mine, found in zip(pools, offered, cheaper, strict=True):
            pool += [mine[n] for _, n in found]
        if not any(cheaper) or bound > missing + ZERO:
            return Priced(bound, prices, least)
        # a load that costs more over its stand's cheapest than this is in no sharing looked for
        spare = missing - bound + ZERO
        offered = [
            [offer for offer, cost in zip(mine, each, strict=True) if cost <= low + spare]
            for mine, each, low in zip(offered, costs, least, strict=True)
        ]
    raise TooMuch


def _next(
    pools: list[list[Offer]], programme: _Programme, prices: list[float], turn: int
) -> int | None:
    """Let the next stand that has a cheaper load take some of it; which one, if any has."""
    for n in range(turn, turn + len(pools)):
        stand = n % len(pools)
        costs = costs_of(pools[stand], prices)
        cost = min(costs)
        saves = programme.values[stand] - cost
        if saves > ZERO:
            programme.take(stand, pools[stand][costs.index(cost)][2], saves)
            return stand
    return None
