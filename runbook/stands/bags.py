"""Which bags at hand hang on which stand, so that the least mass is missing.

Masses in kg; inside, whole grams: a need is rounded up and a bag down. Where the counts of equal
bags allow few enough loads, every sharing is searched. Else the heaviest bag goes where most is
missing; then bags are moved and swapped while that helps.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, floor, prod

# How many (stand, bags left, load) triples are searched at most; beyond that the swaps decide.
_SEARCHED = 40_000
_NOWHERE = -1
# A sharing is judged by the grams missing, then the bags used, then the grams hung.
_Cost = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Sharing:
    """For each stand the bags it gets, as indices into the list of bags, and what it still lacks.

    ``least`` is whether no other sharing leaves less missing in total.
    """

    given: tuple[tuple[int, ...], ...]
    short_kg: tuple[float, ...]
    least: bool


def share_bags(needs_kg: Sequence[float], bags_kg: Sequence[float]) -> Sharing:
    """Return the bags for each stand: least missing, then fewest bags, then lightest.

    A stand gains nothing from more than it needs, and no bag hangs needlessly.
    """
    needs = [max(0, ceil(need * 1000 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 1000 + 1e-6) for bag in bags_kg]
    counts = [bags.count(kind) for kind in set(bags)]
    exact = len(needs) * prod(count + 1 for count in counts) ** 2 <= _SEARCHED
    stands = _searched(needs, bags) if exact else _improved(needs, bags)
    given = tuple(tuple(n for n, at in enumerate(stands) if at == stand) for stand in range(len(needs)))
    missing = _cost(needs, bags, stands)[0]
    short = tuple(max(0.0, need - sum(bags_kg[n] for n in mine)) for need, mine in zip(needs_kg, given, strict=True))
    return Sharing(given, short, exact or missing <= max(0, sum(needs) - sum(bags)))


def _cost(needs: Sequence[int], bags: Sequence[int], stands: Sequence[int]) -> _Cost:
    """Return the cost of a sharing, given the stand of each bag."""
    lacks, hung = [*needs, 0], 0
    for bag, stand in zip(bags, stands, strict=True):
        lacks[stand] -= bag
        hung += bag if stand != _NOWHERE else 0
    return sum(lack for lack in lacks[:-1] if lack > 0), len(bags) - stands.count(_NOWHERE), hung


def _searched(needs: Sequence[int], bags: Sequence[int]) -> list[int]:
    """Return the stand of each bag in the best of all sharings, stand by stand over counts of equal bags."""
    kinds = sorted(set(bags), reverse=True)
    loads: dict[tuple[int, ...], tuple[_Cost, tuple[tuple[int, ...], ...]]] = {
        tuple(bags.count(kind) for kind in kinds): ((0, 0, 0), ())
    }
    for need in needs:
        longer: dict[tuple[int, ...], tuple[_Cost, tuple[tuple[int, ...], ...]]] = {}
        for left, ((missing, used, hung), before) in loads.items():
            for load in product(*(range(have + 1) for have in left)):
                mass = sum(kind * n for kind, n in zip(kinds, load, strict=True))
                lightest = min((kind for kind, n in zip(kinds, load, strict=True) if n), default=0)
                if lightest and mass - lightest >= need:
                    continue
                cost = (missing + max(0, need - mass), used + sum(load), hung + mass)
                rest = tuple(have - n for have, n in zip(left, load, strict=True))
                longer[rest] = min((cost, (*before, load)), longer.get(rest, (cost, (*before, load))))
        loads = longer
    _, best = min(loads.values())
    at = {kind: [stand for stand, load in enumerate(best) for _ in range(load[n])] for n, kind in enumerate(kinds)}
    return [at[bag].pop(0) if at[bag] else _NOWHERE for bag in bags]


def _improved(needs: Sequence[int], bags: Sequence[int]) -> list[int]:
    """Return the stand of each bag, moved and swapped for as long as that makes the sharing better."""
    lacks, stands = list(needs), [_NOWHERE] * len(bags)
    for n in sorted(range(len(bags)), key=lambda n: -bags[n]):
        if max(lacks) > 0:
            stands[n] = lacks.index(max(lacks))
            lacks[stands[n]] -= bags[n]
    least: _Cost | None = None
    while least is None or _cost(needs, bags, stands) < least:
        least = _cost(needs, bags, stands)
        better = (other for other in _neighbours(stands, len(needs)) if _cost(needs, bags, other) < least)
        stands = next(better, stands)
    return stands


def _neighbours(stands: list[int], count: int) -> Iterator[list[int]]:
    """Yield every sharing that differs by one bag moved or two bags swapped."""
    for n, here in enumerate(stands):
        yield from ([*stands[:n], there, *stands[n + 1 :]] for there in range(_NOWHERE, count) if there != here)
        for m in range(n):
            if stands[m] != here:
                yield [*stands[:m], here, *stands[m + 1 : n], stands[m], *stands[n + 1 :]]
