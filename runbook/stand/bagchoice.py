"""Loads chosen by their price: the sharing with so much missing, or that there is none.

What a load costs over its stand's cheapest, and what the bags nobody takes are worth, add up to
what a sharing has more missing than the prices' bound. With little between bound and aim, few
loads can be in any such sharing, and most bags must. Masses in tenths of a kilogram.
"""

from __future__ import annotations

from typing import Final

from runbook.plan.tuples import NamedTuple
from runbook.stand.bagprices import Priced, costs_of
from runbook.stand.bagstock import Load, TooMuch
from runbook.stand.bagtrades import Trades

_SLACK: Final = 1e-6


class _Choice(NamedTuple):
    """A load for a stand: what it costs over the stand's cheapest, and its part in the programme.

    ``has`` are its kinds as bits.
    """

    over: float
    part: float
    packed: int
    has: int
    load: Load


class _Left(NamedTuple):
    """A stand that has no load yet, and what it may still take; ``need`` stands for all like it."""

    stand: int
    need: int
    choices: list[_Choice]


def choose(
    needs: list[int], trades: Trades, found: Priced, missing: int, tries: int
) -> list[Load] | None:
    """A load for each stand with no more than ``missing`` in all; None where there is none.

    Raises TooMuch after so many tries.
    """
    spare = missing - found.bound + _SLACK
    left = []
    for stand, (need, mine) in enumerate(zip(needs, found.offered, strict=True)):
        costs = costs_of(mine, found.prices)
        least = min(costs)
        choices = [
            _Choice(
                max(0.0, cost - least),
                found.parts.get((stand, load.packed), 0.0),
                load.packed,
                sum([1 << kind for kind in {*load.kinds}]),
                load,
            )
            for cost, (lack, _, load) in zip(costs, mine, strict=True)
            if lack <= missing and cost - least <= spare
        ]
        left.append(_Left(stand, need, choices))
    return _Choosing(trades, found.prices, tries).go(left, trades.stock.all, spare)


class _Choosing:
    """Depth first: for what has the fewest choices, be it a stand or a bag that must be used."""

    def __init__(self, trades: Trades, prices: list[float], tries: int) -> None:
        self.stock = trades.stock
        self.trades = trades
        self.prices = prices
        self.tries = tries
        self.ruled_out: dict[tuple[int, ...], float] = {}

    def go(self, left: list[_Left], free: int, spare: float) -> list[Load] | None:
        """Loads for the stands that are left, in their order."""
        if not left:
            return []
        state = free, *sorted([each.need for each in left])
        if self.ruled_out.get(state, -1.0) >= spare:
            return None
        self.tries -= 1
        if self.tries < 0:
            raise TooMuch
        branches = self._fewest(left, free, spare)
        branches.sort(key=lambda branch: (-branch[1].part, branch[1].over))
        for stand, choice in branches:
            freed, spared = free - choice.packed, spare - choice.over
            then = self._then(left, stand, freed, spared)
            rest = None if then is None else self.go(then, freed, spared)
            if rest is not None:
                at = [each.stand for each in left].index(stand)
                return [*rest[:at], choice.load, *rest[at:]]
        self.ruled_out[state] = spare
        return None

    def _fewest(self, left: list[_Left], free: int, spare: float) -> list[tuple[int, _Choice]]:
        """Choices of which one must be made, as few as can be."""
        lying, trades = self.stock.lying(free), self.trades.of
        untraded = [
            [(stand, choice) for choice in choices if not trades(need, choice.load) & lying]
            for stand, need, choices in left
        ]
        fewest = min(untraded, key=len)
        least, must = len(fewest), None
        if least <= 1:
            return fewest
        with_kind = [0] * len(self.prices)
        for each in left:
            for choice in each.choices:
                for kind in {*choice.load.kinds}:
                    with_kind[kind] += 1
        for kind, _ in self.stock.of(free):
            if self.prices[kind] > spare and with_kind[kind] < least:
                least, must = with_kind[kind], kind
        if must is None:
            return fewest
        return [
            (each.stand, choice)
            for each in left
            for choice in each.choices
            if choice.has >> must & 1 and not trades(each.need, choice.load, must) & lying
        ]

    def _then(self, left: list[_Left], taken: int, free: int, spare: float) -> list[_Left] | None:
        """What is left after a choice; None where that leads nowhere."""
        guard = self.stock.guard
        guarded = free | guard
        then, over, has = [], 0.0, 0
        for stand, need, choices in left:
            if stand == taken:
                continue
            may = [
                choice
                for choice in choices
                if choice.over <= spare and guarded - choice.packed & guard == guard
            ]
            if not may:
                return None
            over += min([choice.over for choice in may])
            for choice in may:
                has |= choice.has
            then.append(_Left(stand, need, may))
        unused = sum(
            [self.prices[kind] * n for kind, n in self.stock.of(free) if not has >> kind & 1]
        )
        return then if over + unused <= spare else None
