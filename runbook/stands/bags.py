"""Which bags at hand hang on which stand, so that the least mass is missing.

Masses in kg; inside, whole grams: a need is rounded up and a bag down. The heaviest bag goes where
most is missing; then bags are hung, taken off, moved and swapped while that helps. Where the
counts of equal bags allow few enough loads, every sharing is searched instead.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from math import ceil, floor

# How many (stand, bags left, load) triples are searched at most; beyond that the swaps decide.
_SEARCHED = 40_000
# A sharing is judged by the grams missing, then the bags used, then the grams hung.
_Cost = tuple[int, int, int]
_NOWHERE = -1


@dataclass(frozen=True, slots=True)
class Sharing:
    """For each stand the bags it gets, as indices into the list of bags, and what it still lacks.

    ``least`` is whether no other sharing leaves less missing in total.
    """

    given: tuple[tuple[int, ...], ...]
    short_kg: tuple[float, ...]
    least: bool

    @property
    def total_short_kg(self) -> float:
        """The mass missing on all stands together."""
        return sum(self.short_kg)


def share_bags(needs_kg: Sequence[float], bags_kg: Sequence[float]) -> Sharing:
    """Return the bags for each stand: least missing, then fewest bags, then lightest.

    A stand gains nothing from more than it needs, and no bag hangs needlessly.
    """
    needs = [max(0, ceil(need * 1000 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 1000 + 1e-6) for bag in bags_kg]
    given = _searched(needs, bags)
    exact = given is not None
    if given is None:
        given = _improved(needs, bags, _heaviest_first(needs, bags))
    missing = sum(max(0, need - _mass(bags, mine)) for need, mine in zip(needs, given, strict=True))
    short = tuple(max(0.0, need - sum(bags_kg[n] for n in mine)) for need, mine in zip(needs_kg, given, strict=True))
    return Sharing(given, short, exact or missing <= max(0, sum(needs) - sum(bags)))


def _mass(bags: Sequence[int], mine: Sequence[int]) -> int:
    return sum(bags[n] for n in mine)


def _searched(needs: Sequence[int], bags: Sequence[int]) -> tuple[tuple[int, ...], ...] | None:
    """The best of all sharings by counts of equal bags; None where there are too many."""
    kinds = sorted(set(bags), reverse=True)
    counts = tuple(bags.count(kind) for kind in kinds)
    states = 1
    for count in counts:
        states *= count + 1
    if len(needs) * states * states > _SEARCHED:
        return None

    @cache
    def best(stand: int, left: tuple[int, ...]) -> tuple[_Cost, tuple[tuple[int, ...], ...]]:
        if stand == len(needs):
            return (0, 0, 0), ()
        need = needs[stand]
        found: tuple[_Cost, tuple[tuple[int, ...], ...]] | None = None
        for load in product(*(range(count + 1) for count in left)):
            mass = sum(kind * count for kind, count in zip(kinds, load, strict=True))
            lightest = min((kind for kind, n in zip(kinds, load, strict=True) if n), default=0)
            if lightest and mass - lightest >= need:
                continue
            rest = tuple(have - used for have, used in zip(left, load, strict=True))
            (short, used, hung), others = best(stand + 1, rest)
            cost = (short + max(0, need - mass), used + sum(load), hung + mass)
            if found is None or cost < found[0]:
                found = cost, (load, *others)
        assert found is not None
        return found

    loads = best(0, counts)[1]
    free = {kind: [n for n, bag in enumerate(bags) if bag == kind][::-1] for kind in kinds}
    return tuple(
        tuple(sorted(free[kind].pop() for kind, n in zip(kinds, load, strict=True) for _ in range(n))) for load in loads
    )


def _heaviest_first(needs: Sequence[int], bags: Sequence[int]) -> list[int]:
    """The stand of each bag: each in turn, the heaviest first, goes where most is missing."""
    lacks = list(needs)
    at = [_NOWHERE] * len(bags)
    for n in sorted(range(len(bags)), key=lambda n: -bags[n]):
        if max(lacks, default=0) > 0:
            at[n] = lacks.index(max(lacks))
            lacks[at[n]] -= bags[n]
    return at


def _improved(needs: Sequence[int], bags: Sequence[int], at: list[int]) -> tuple[tuple[int, ...], ...]:
    """The same, with bags moved and swapped for as long as that makes it better."""

    def cost(at: Sequence[int]) -> _Cost:
        loads = [0] * len(needs)
        for n, stand in enumerate(at):
            if stand != _NOWHERE:
                loads[stand] += bags[n]
        missing = sum(max(0, need - load) for need, load in zip(needs, loads, strict=True))
        return missing, sum(stand != _NOWHERE for stand in at), sum(loads)

    least, better = cost(at), True
    while better:
        better = False
        for other in _neighbours(at, len(needs)):
            if (now := cost(other)) < least:
                at, least, better = other, now, True
                break
    return tuple(tuple(n for n, stand in enumerate(at) if stand == place) for place in range(len(needs)))


def _neighbours(at: Sequence[int], stands: int) -> Iterator[list[int]]:
    """Every sharing that differs by one bag moved or two bags swapped."""
    for n, here in enumerate(at):
        for there in range(_NOWHERE, stands):
            if there != here:
                yield [*at[:n], there, *at[n + 1 :]]
        for m in range(n):
            if at[m] != here:
                swapped = list(at)
                swapped[n], swapped[m] = at[m], here
                yield swapped
