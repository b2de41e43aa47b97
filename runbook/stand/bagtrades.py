"""Loads that need not be tried, for a trade makes others of them that do as well.

Some bags of a load change places with one bag that hangs elsewhere or lies about. Where the stand
then lacks less but still needs all it has, or has less over but still enough, nothing is lost
elsewhere that is not won here; and where both weigh the same, the load has fewer bags. Every trade
brings the load nearer to what its stand needs, or makes it of fewer bags, so they come to an end:
of a stand's loads from the bags that are left, those that no trade betters are enough. (After the
dominance of Martello and Toth for packing bins, Knapsack Problems, 1990; from memory.) Masses in
tenths of a kilogram.
"""

from __future__ import annotations

from runbook.stand.bagstock import Load, Stock


class Trades:
    """What the loads of a stock are better traded for; worked out once each."""

    def __init__(self, stock: Stock) -> None:
        self.stock = stock
        self._known: dict[tuple[int, int, int], int] = {}

    def of(self, need: int, load: Load, kept: int = -1) -> int:
        """The masses a bag elsewhere may have to better the load: bit m for m tenths.

        Of the ``kept`` kind none is given away. None like its own is among those masses.
        """
        key = need, load.packed, kept
        masses = self._known.get(key)
        if masses is None:
            masses = self._known[key] = self._of(need, load, kept)
        return masses

    def _of(self, need: int, load: Load, kept: int) -> int:
        some = 1  # the masses of some of its bags, or of none
        several = own = 0
        for n in load.kinds:
            kind = self.stock.kinds[n]
            own |= 1 << kind
            if n != kept:
                several |= (several | some & ~1) << kind
                some |= some << kind
        lacks = need - load.mass
        if lacks > 0:
            better = _heavier(some, lacks)
        elif lacks < 0:
            better = _heavier(some, -lacks) >> 1 - lacks
        else:
            better = 0
        return (better | several) & ~own


def _heavier(masses: int, most: int) -> int:
    """The masses that are from one to so many tenths over one of these."""
    masses <<= 1
    reach = 1
    while reach < most:
        step = min(reach, most - reach)
        masses |= masses << step
        reach += step
    return masses
