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


def bettered_by(need: int, load: list[int], kept: int = 0) -> int:
    """The masses that a bag elsewhere may have to better a load: bit m for m tenths.

    None that a bag of the load has, for that bag may be its own. One of the mass ``kept`` is not
    given away.
    """
    some = 1  # what some of its bags weigh together, or none
    own = 1 | 1 << kept
    given = list(load)
    if kept:
        given.remove(kept)
    for bag in given:
        some |= some << bag
        own |= 1 << bag
    lacks = need - sum(load)
    if lacks > 0:
        better = _heavier(some, lacks)
    elif lacks < 0:
        better = _heavier(some, -lacks) >> 1 - lacks
    else:
        better = 0
    return (better | some) & ~own


def _heavier(masses: int, most: int) -> int:
    """The masses that are from one to so many tenths over one of these."""
    masses <<= 1
    reach = 1
    while reach < most:
        step = min(reach, most - reach)
        masses |= masses << step
        reach += step
    return masses
