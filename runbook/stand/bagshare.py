"""Bags shared over stands so that as little as possible is missing.

Masses in kg; inside, whole tenths: a need is rounded up and a bag down, which no scale on a set
tells apart.

The heaviest bag goes where most is lacking, then bags move and change places while that helps.
Where that is not plainly the least, a walk over the stands (``bagwalk``) finds or proves it, first
without, then with the bound that prices of the bags prove (``bagprices``). Ten stands and twenty
bags, all different or of few kinds, take milliseconds, at the worst some tens of them. Past what
it is allowed the answer is a good one, and says that it is not proven.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor

from runbook.plan.tuples import NamedTuple


class Sharing(NamedTuple):
    """For each stand the bags it gets, as places in the list of bags, and what it still lacks.

    ``proven`` is false when a smaller total could not be ruled out.
    """

    given: tuple[tuple[int, ...], ...]
    short_kg: tuple[float, ...]
    proven: bool

    @property
    def total_short_kg(self) -> float:
        return sum(self.short_kg)


def share_bags(
    needs_kg: Sequence[float], bags_kg: Sequence[float], allowance: int | None = None
) -> Sharing:
    """The sharing of bags over stands that leaves the least total shortfall.

    A stand gains nothing from more than it needs. ``allowance`` bounds the loads looked at where
    somebody waits for the answer.
    """
    needs = [max(0, ceil(need * 10 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 10 + 1e-6) for bag in bags_kg]
    wanting = [n for n, need in enumerate(needs) if need]
    found, proven = _least([needs[n] for n in wanting], [bag for bag in bags if bag], allowance)
    loads: list[list[int]] = [[] for _ in needs]
    for n, load in zip(wanting, found, strict=True):
        loads[n] = load
    given = _named(_thinned(needs, loads), bags)
    short = tuple(
        max(0.0, need - sum(bags_kg[n] for n in mine))
        for need, mine in zip(needs_kg, given, strict=True)
    )
    return Sharing(given, short, proven)


def _least(
    needs: list[int], bags: list[int], allowance: int | None
) -> tuple[list[list[int]], bool]:
    """For each stand the masses that hang on it, and whether no sharing leaves less."""
    certain = max(0, sum(needs) - sum(bags))  # less than that cannot be
    loads, spare, short = _heaviest_first(needs, bags)
    if short <= certain:
        return loads, True
    from runbook.stand.bagleast import least
    from runbook.stand.bagswaps import bettered

    return least(needs, bags, bettered(needs, loads, spare, certain), certain, allowance)


def _heaviest_first(needs: list[int], bags: list[int]) -> tuple[list[list[int]], list[int], int]:
    """Each bag, the heaviest first, where most is lacking.

    The bags nobody needs besides, and what is missing then: the least where bags are plenty or far
    too few.
    """
    lacks = list(needs)
    loads: list[list[int]] = [[] for _ in needs]
    heaviest = sorted(bags, reverse=True)
    for n, bag in enumerate(heaviest):
        most = max(lacks, default=0)
        if most <= 0:
            return loads, heaviest[n:], 0
        place = lacks.index(most)
        lacks[place] -= bag
        loads[place].append(bag)
    return loads, [], sum(max(0, lack) for lack in lacks)


def _thinned(needs: list[int], loads: list[list[int]]) -> list[list[int]]:
    """Each stand's bags without those it can do without."""
    kept = []
    for need, load in zip(needs, loads, strict=True):
        mine = sorted(load)
        for bag in tuple(mine):
            if sum(mine) - bag >= need:
                mine.remove(bag)
        kept.append(mine)
    return kept


def _named(loads: list[list[int]], bags: list[int]) -> tuple[tuple[int, ...], ...]:
    """Masses back to places in the list of bags."""
    free: dict[int, list[int]] = {}
    for n in reversed(range(len(bags))):
        free.setdefault(bags[n], []).append(n)
    return tuple(tuple(sorted(free[bag].pop() for bag in load)) for load in loads)
