"""The order that ends the day soonest: all of few tried, else neighbouring blocks swapped.

What an order is worth is whatever the caller reckons it to be; the least is best. Beyond a few
setups there is no proof: the day's end hangs on looks, breaks and talent, for which no bound is
worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import permutations
from random import Random
from typing import Final

from runbook.change.makespan import never
from runbook.clock.order import swapped

Order = tuple[int, ...]
Worth = tuple[float, ...]
_ALL_TRIED: Final = 6
_WHOLE: Final = 15  # up to so many setups blocks of every length change places
_BLOCK: Final = 3
_SHAKES: Final = 20
_SHAKEN: Final = 4  # swaps tried in a shake


def soonest(
    starts: Sequence[Order],
    worth: Callable[[Order], Worth],
    allows: Callable[[Order], bool],
    rng: Random,
    should_stop: Callable[[], bool] = never,
) -> Order:
    """The best order found from the allowed ``starts``; ``should_stop`` ends it early.

    Up to six setups it is the best there is. Among equals the earlier start is kept. Raises
    ValueError without a start.
    """
    best = min(starts, key=worth)
    if len(best) <= _ALL_TRIED:
        others = (each for each in permutations(sorted(best)) if allows(each))
        return min((best, *others), key=worth)
    search = _Search(len(best), worth, allows, should_stop)
    best = min((search.settled(each) for each in starts), key=worth)
    for _ in range(_SHAKES if len(best) <= _WHOLE else _SHAKES // 10):
        if should_stop():
            break
        best = min(best, search.settled(search.shaken(best, rng)), key=worth)
    return best


class _Search:
    """Swaps of neighbouring blocks, for as long as one helps."""

    def __init__(
        self,
        count: int,
        worth: Callable[[Order], Worth],
        allows: Callable[[Order], bool],
        should_stop: Callable[[], bool],
    ) -> None:
        self.worth, self.allows, self.should_stop = worth, allows, should_stop
        longest = count if count <= _WHOLE else _BLOCK
        self.cuts = [
            (low, middle, high)
            for low in range(count)
            for middle in range(low + 1, count)
            for high in range(middle + 1, count + 1)
            if min(middle - low, high - middle) <= longest
        ]

    def settled(self, order: Order) -> Order:
        """From an order to one that no swap betters."""
        best = self.worth(order)
        last = order  # once the cuts come round to it, none has helped since
        while True:
            for cut in self.cuts:
                if self.should_stop():
                    return order
                other = swapped(order, *cut)
                if self.allows(other) and (its := self.worth(other)) < best:
                    best, order = its, other
            if order == last:
                return order
            last = order

    def shaken(self, order: Order, rng: Random) -> Order:
        """Some way off: a few swaps that are allowed, whatever they cost."""
        for cut in rng.sample(self.cuts, min(_SHAKEN, len(self.cuts))):
            other = swapped(order, *cut)
            order = other if self.allows(other) else order
        return order
