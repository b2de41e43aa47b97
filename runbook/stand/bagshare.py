"""Bags shared over stands so that as little as possible is missing.

Masses in kg; inside, whole tenths: a need is rounded up and a bag down, which no scale on a set
tells apart.

The least is found from below: can it be done with nothing missing, with a tenth, with two? What
may be missing in all also says what may be wasted, for the masses must add up; so every stand's
load lies in a narrow window, few loads fit it, and a walk over the stands, the smallest need first,
soon meets a sharing or rules that total out. (Iterative deepening over what is called bin
completion: Fukunaga and Korf, Journal of Artificial Intelligence Research 28, 2007; from memory.)
Ten stands and twenty bags, all different or of few kinds, take milliseconds. The walk has an
allowance all the same; past it the answer is a good one, and says that it is not proven.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from math import ceil, floor
from typing import Final

from runbook.plan.tuples import NamedTuple

_WORK: Final = 50_000
_FEW: Final = 3  # loads of so many bags are listed once; larger ones are made where they may fit
_STOP: Final = 16  # what a stop of the walk costs besides the loads it looks at


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
    needs_kg: Sequence[float], bags_kg: Sequence[float], allowance: int = _WORK
) -> Sharing:
    """The sharing of bags over stands that leaves the least total shortfall.

    A stand gains nothing from more than it needs. ``allowance`` bounds the loads looked at.
    """
    needs = [max(0, ceil(need * 10 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 10 + 1e-6) for bag in bags_kg]
    loads, proven = _least(needs, bags, allowance)
    given = _named(_thinned(needs, loads), bags)
    short = tuple(
        max(0.0, need - sum(bags_kg[n] for n in mine))
        for need, mine in zip(needs_kg, given, strict=True)
    )
    return Sharing(given, short, proven)


def _least(needs: list[int], bags: list[int], allowance: int) -> tuple[list[list[int]], bool]:
    """For each stand the masses that hang on it, and whether no sharing leaves less.

    Up from the least that could be, in longer and longer strides, until there is a sharing; from
    there down until there is none.
    """
    best, short = _heaviest_first(needs, bags)
    certain = max(0, sum(needs) - sum(bags))  # less than that cannot be
    walk = _Walk(needs, bags, allowance)
    stride, up = 1, True
    while certain < short:
        missing = min(certain + stride, short) - 1 if up else short - 1
        try:
            found = walk.with_missing(missing)
        except _OverAllowance:
            if not up or missing == short - 1:
                return best, False
            walk.left = allowance // 20  # no proof any more, but a good one
            stride *= 2
            continue
        if found is None:
            certain = missing + 1
            stride *= 2
        else:
            best, short, up = found, _missing(needs, found), False
    return best, True


def _missing(needs: list[int], loads: list[list[int]]) -> int:
    return sum(max(0, need - sum(load)) for need, load in zip(needs, loads, strict=True))


def _heaviest_first(needs: list[int], bags: list[int]) -> tuple[list[list[int]], int]:
    """Each bag, the heaviest first, where most is lacking; and what is missing then.

    The best where bags are plenty or far too few.
    """
    lacks = list(needs)
    loads: list[list[int]] = [[] for _ in needs]
    for bag in sorted(bags, reverse=True):
        most = max(lacks, default=0)
        if most <= 0:
            break
        place = lacks.index(most)
        lacks[place] -= bag
        loads[place].append(bag)
    return loads, _missing(needs, loads)


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


class _Load(NamedTuple):
    """Bags hung together: their mass, how many, and how many of each kind as packed digits."""

    mass: int
    bags: int
    packed: int


class _Stock:
    """The bags at hand by kind. How many of each are free is one number, a digit a kind.

    The top bit of every digit is a guard: a load is free where taking it borrows from none.
    """

    def __init__(self, bags: list[int]) -> None:
        self.kinds = sorted(set(bags))
        width = len(bags).bit_length() + 1
        self.digit = (1 << width - 1) - 1
        self.units = [1 << width * n for n in range(len(self.kinds))]
        self.guard = sum(unit << width - 1 for unit in self.units)
        self.all = sum(
            unit * bags.count(kind) for kind, unit in zip(self.kinds, self.units, strict=True)
        )
        self.small = sorted(self._up_to(0, _Load(0, 0, 0)))
        self.masses = [load.mass for load in self.small]

    def reached(self, free: int) -> int:
        """The masses that some of the free bags weigh together: bit m for m tenths."""
        reached = 1
        for kind, _, n in self.of(free):
            for _ in range(n):
                reached |= reached << kind
        return reached

    def of(self, free: int) -> list[tuple[int, int, int]]:
        """Kind, unit and number of what is free, heaviest first."""
        each = zip(reversed(self.kinds), reversed(self.units), strict=True)
        return [(kind, unit, n) for kind, unit in each if (n := free // unit & self.digit)]

    def _up_to(self, start: int, load: _Load) -> Iterator[_Load]:
        """The loads of few bags that go on from a load by kinds not before ``start``."""
        yield load
        for n in range(start, len(self.kinds)):
            kind, unit = self.kinds[n], self.units[n]
            for more in range(1, min(self.all // unit & self.digit, _FEW - load.bags) + 1):
                mass, packed = load.mass + more * kind, load.packed + more * unit
                yield from self._up_to(n + 1, _Load(mass, load.bags + more, packed))

    def reaches(self, free: int, low: int, high: int) -> bool:
        """Whether some of the free bags weigh from ``low`` to ``high`` together."""
        return bool(self.reached(free) >> low & (2 << high - low) - 1)

    def few(self, free: int, low: int, high: int) -> list[_Load]:
        """The free loads of few bags from ``low`` to ``high``."""
        guard = self.guard
        guarded = free | guard
        first, last = bisect_left(self.masses, low), bisect_right(self.masses, high)
        return [load for load in self.small[first:last] if guarded - load.packed & guard == guard]

    def many(self, free: int, need: int, low: int, high: int) -> list[_Load]:
        """The larger free loads from ``low`` to ``high``, none with a bag past the need."""
        kinds = self.of(free)
        lightest = [kind for kind, _, n in reversed(kinds) for _ in range(n)][: _FEW + 1]
        if len(lightest) <= _FEW or sum(lightest) > high:
            return []
        rest = [sum(kind * n for kind, _, n in kinds[at:]) for at in range(len(kinds) + 1)]
        found = []
        stack = [(0, _Load(0, 0, 0))]
        while stack:
            at, load = stack.pop()
            mass = load.mass
            if mass >= need or at == len(kinds):
                if mass >= low and load.bags > _FEW:
                    found.append(load)
                continue
            if mass + rest[at] < low:
                continue
            kind, unit, free_ones = kinds[at]
            for more in range(free_ones + 1):
                heavier = mass + kind * more
                if heavier > high:
                    break
                load_on = _Load(heavier, load.bags + more, load.packed + unit * more)
                stack.append((at + 1, load_on))
                if heavier >= need:
                    break
        return found

    def masses_of(self, packed: int) -> list[int]:
        return [kind for kind, _, n in self.of(packed) for _ in range(n)]


class _OverAllowance(Exception):
    """The walk has looked at as many loads as it may."""


class _Walk:
    """A walk over the stands, the smallest need first, for one total that may be missing."""

    def __init__(self, needs: list[int], bags: list[int], allowance: int) -> None:
        self.stock = _Stock(bags)
        self.mass = sum(bags)
        self.order = sorted(range(len(needs)), key=lambda n: needs[n])
        self.needs = [needs[n] for n in self.order]
        self.to_come = [sum(self.needs[at:]) for at in range(len(needs) + 1)]
        self.ruled_out: dict[tuple[int, int], int] = {}
        self.left = allowance
        reached = self.stock.reached(self.stock.all)
        gaps = [self._gap(need, reached) for need in self.needs]
        # missing weighed against waste three ways: from a stand on, no sharing costs less
        self.costs = [
            (a, b, [sum(min(a * x, b * y) for x, y in gaps[at:]) for at in range(len(gaps))])
            for a, b in ((1, 1), (1, 2), (2, 1))
        ]

    def with_missing(self, missing: int) -> list[list[int]] | None:
        """For each stand the masses on it, with no more missing in all; None where none do.

        Raises _OverAllowance.
        """
        found = self._go(0, self.stock.all, self.mass, missing)
        if found is None:
            return None
        loads: list[list[int]] = [[] for _ in self.order]
        for n, packed in zip(self.order, found, strict=True):
            loads[n] = self.stock.masses_of(packed)
        return loads

    def _go(self, at: int, free: int, mass: int, missing: int) -> list[int] | None:
        """Loads for the stands from ``at`` on, from so many bags of so much mass."""
        waste = missing - self.to_come[at] + mass
        if waste < 0 or self.ruled_out.get((at, free), -1) >= missing:
            return None
        to_go = len(self.needs) - at
        if to_go <= 1:  # whatever is left may hang there
            return [free] * to_go
        if any(a * missing + b * waste < least[at] for a, b, least in self.costs):
            return None
        need = self.needs[at]
        low, high = need - missing, need + waste
        self.left -= _STOP
        loads = []
        if to_go > 2 or self.stock.reaches(free, max(0, low), high):
            loads = self.stock.few(free, low, high) + self.stock.many(free, need, low, high)
            loads.sort(key=lambda load: (abs(load.mass - need), load.bags))
        self.left -= len(loads)
        if self.left < 0:
            raise _OverAllowance
        for load in loads:
            lacks = max(0, need - load.mass)
            rest = self._go(at + 1, free - load.packed, mass - load.mass, missing - lacks)
            if rest is not None:
                return [load.packed, *rest]
        self.ruled_out[at, free] = missing
        return None

    def _gap(self, need: int, reached: int) -> tuple[int, int]:
        """From a need down and up to the nearest masses that some bags have."""
        under = need + 1 - (reached & (2 << need) - 1).bit_length()
        above = reached >> need
        return under, (above & -above).bit_length() - 1 if above else self.mass + 1
