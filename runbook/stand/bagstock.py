"""The bags at hand by kind, and the loads of them that weigh so much together.

Masses in whole tenths of a kilogram. Bags of one mass are one kind. How many of each kind are free,
or hang together, is one number, with a digit for every kind.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import Final

from runbook.plan.tuples import NamedTuple

_FEW: Final = 3  # loads of so many bags are listed once; larger ones are made where they may fit


class TooMuch(Exception):
    """There is more to look at than time is given."""


class Load(NamedTuple):
    """Bags hung together: their mass, all but the lightest, and their kinds, the lightest first.

    ``packed`` counts them by kind, as digits.
    """

    mass: int
    without_lightest: int
    kinds: tuple[int, ...]
    packed: int


class Stock:
    """The bags at hand. Every digit's top bit is a guard: a free load borrows from none of them."""

    def __init__(self, bags: list[int]) -> None:
        self.mass = sum(bags)
        self.kinds = sorted(set(bags))
        self.counts = [bags.count(kind) for kind in self.kinds]
        width = len(bags).bit_length() + 1
        self.digit = (1 << width - 1) - 1
        self.shifts = [(n, width * n) for n in reversed(range(len(self.kinds)))]
        self.units = [1 << width * n for n in range(len(self.kinds))]
        self.guard = sum(unit << width - 1 for unit in self.units)
        self.all = sum(unit * count for unit, count in zip(self.units, self.counts, strict=True))
        self.small = sorted(self._small())
        self.masses = [load.mass for load in self.small]

    def _small(self) -> list[Load]:
        """The loads of few bags."""
        loads = [Load(0, 0, (), 0)]
        last = loads
        for _ in range(_FEW):
            last = [
                Load(load.mass + self.kinds[n], load.mass, (n, *load.kinds), load.packed + unit)
                for load in last
                for n, unit in enumerate(self.units[: (*load.kinds, len(self.units))[0] + 1])
                if load.kinds.count(n) < self.counts[n]
            ]
            loads += last
        return loads

    def load_of(self, bags: list[int]) -> Load:
        """The load that such bags make together."""
        kinds = sorted(self.kinds.index(bag) for bag in bags)
        mass = sum(bags)
        packed = sum(self.units[kind] for kind in kinds)
        return Load(mass, mass - min(bags, default=0), tuple(kinds), packed)

    def bags_of(self, packed: int) -> list[int]:
        """The masses of packed bags."""
        return [self.kinds[n] for n, count in self.of(packed) for _ in range(count)]

    def of(self, packed: int) -> list[tuple[int, int]]:
        """Each kind that is packed, and how many of it; the heaviest first."""
        digit = self.digit
        return [(n, count) for n, shift in self.shifts if (count := packed >> shift & digit)]

    def up_to(self, load: Load) -> int:
        """All bags no heavier than the heaviest of a load, as packed; none where it has none."""
        return self.units[load.kinds[-1]] * (self.digit + 1) - 1 if load.kinds else 0

    def lying(self, free: int) -> int:
        """The masses of the free bags: bit m for m tenths."""
        return sum([1 << self.kinds[n] for n, _ in self.of(free)])

    def reached(self, free: int) -> int:
        """The masses that some of the free bags weigh together: bit m for m tenths."""
        reached = 1
        for n, count in self.of(free):
            for _ in range(count):
                reached |= reached << self.kinds[n]
        return reached

    def reaches(self, free: int, low: int, high: int) -> bool:
        """Whether some of the free bags weigh from ``low`` to ``high`` together."""
        return bool(self.reached(free) >> low & (2 << high - low) - 1)

    def fitting(self, free: int, need: int, low: int, high: int) -> list[Load]:
        """The free loads from ``low`` to ``high`` of which ``need`` asks for every bag."""
        guard = self.guard
        guarded = free | guard
        few = [load for load in self.few(need, low, high) if guarded - load.packed & guard == guard]
        return few + self._many(free, need, low, high)

    def few(self, need: int, low: int, high: int) -> list[Load]:
        """Those of few bags, were all bags free."""
        first, last = bisect_left(self.masses, low), bisect_right(self.masses, high)
        return [load for load in self.small[first:last] if load.without_lightest < need]

    def _many(self, free: int, need: int, low: int, high: int) -> list[Load]:
        kinds = self.of(free)
        lightest = [self.kinds[n] for n, count in reversed(kinds) for _ in range(count)]
        # what a load of so many bags weighs at the least by the time it is one of many
        still = [sum(lightest[: _FEW + 1 - bags]) for bags in range(_FEW + 1)]
        if len(lightest) <= _FEW or still[0] > high:
            return []
        rest = [sum(self.kinds[n] * count for n, count in kinds[at:]) for at in range(len(kinds))]
        found = []
        stack: list[tuple[int, int, int, tuple[int, ...], int]] = [(0, 0, 0, (), 0)]
        while stack:
            at, mass, without, load, packed = stack.pop()
            if mass >= need or at == len(kinds):
                if mass >= low and len(load) > _FEW:
                    found.append(Load(mass, without, load, packed))
                continue
            if mass + rest[at] < low or (len(load) <= _FEW and mass + still[len(load)] > high):
                continue
            n, count = kinds[at]
            kind, unit = self.kinds[n], self.units[n]
            at += 1
            stack.append((at, mass, without, load, packed))
            for _ in range(count):
                if mass >= need or mass + kind > high:
                    break
                mass, without, load, packed = mass + kind, mass, (n, *load), packed + unit
                stack.append((at, mass, without, load, packed))
        return found


def missing(needs: list[int], loads: list[list[int]]) -> int:
    """What is missing in all, in tenths of a kilogram."""
    return sum(max(0, need - sum(load)) for need, load in zip(needs, loads, strict=True))
