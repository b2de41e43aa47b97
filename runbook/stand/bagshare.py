"""Bags shared over stands so that as little as possible is missing.

Masses in kg; inside, whole tenths: a need is rounded up and a bag down, which no scale on a set
tells apart. Two passes. A search along the bags, heaviest first, finds a good sharing at once,
and the best where bags are plenty or far too few. Where it cannot say so itself, a layer of states
for each stand, holding only what could still beat it, settles the question. With bags of up to
five kinds that is quick for 10 stands and 20 bags; with twenty different bags that nearly match the
needs it may run out of its allowance, and the answer says that it is not proven.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor
from typing import Final

from runbook.plan.tuples import NamedTuple

_SEARCH: Final = 600
_WORK: Final = 200_000


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

    A stand gains nothing from more than it needs. ``allowance`` bounds the second pass: the loads
    it weighs, times the kinds of bag there are.
    """
    needs = [max(0, ceil(need * 10 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 10 + 1e-6) for bag in bags_kg]
    first = _Search(needs, bags)
    loads, proven = first.best, first.proven
    if not proven:
        better, proven = _settle(needs, bags, first.short, allowance)
        loads = better or loads
    given = _named(_thinned(needs, loads), bags)
    short = tuple(
        max(0.0, need - sum(bags_kg[n] for n in mine))
        for need, mine in zip(needs_kg, given, strict=True)
    )
    return Sharing(given, short, proven)


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


class _Search:
    """Branch and bound along the bags, heaviest first, each to a stand that still lacks."""

    def __init__(self, needs: list[int], bags: list[int]) -> None:
        self.bags = sorted(bags, reverse=True)
        self.rest = [sum(self.bags[n:]) for n in range(len(bags) + 1)]
        self.short = sum(needs)
        self.best: list[list[int]] = [[] for _ in needs]
        self.seen: set[tuple[int, tuple[int, ...]]] = set()
        self.left = _SEARCH
        lacks = list(needs)
        self.goal = self.bound(0, lacks, self.short)
        self.go(0, lacks, self.short, [[] for _ in needs])
        self.proven = self.left > 0 or self.short <= self.goal

    def bound(self, n: int, lacks: list[int], short: int) -> int:
        """No way on from here leaves less. A lack under the lightest bag still costs a bag."""
        if n == len(self.bags):
            return short
        lightest = self.bags[-1]
        small = sorted((lack for lack in lacks if 0 < lack < lightest), reverse=True)
        big = short - sum(small)
        filled = 0
        most = min(big, self.rest[n])
        for count, lack in enumerate(small[: len(self.bags) - n], 1):
            filled += lack
            spent = self.rest[len(self.bags) - count]
            most = max(most, filled + min(big, self.rest[n] - spent))
        return short - most

    def go(self, n: int, lacks: list[int], short: int, loads: list[list[int]]) -> None:
        if short < self.short:
            self.short, self.best = short, [list(load) for load in loads]
        if n == len(self.bags) or self.short <= self.goal or self.left <= 0:
            return
        self.left -= 1
        state = (n, tuple(sorted(lacks)))
        if state in self.seen or self.bound(n, lacks, short) >= self.short:
            return
        self.seen.add(state)
        bag = self.bags[n]
        places = {lack: place for place, lack in enumerate(lacks) if lack > 0}
        for lack in sorted(places, key=lambda lack: (lack != bag, -lack)):
            place = places[lack]
            gain = min(lack, bag)
            lacks[place] -= gain
            loads[place].append(bag)
            self.go(n + 1, lacks, short - gain, loads)
            loads[place].pop()
            lacks[place] += gain


class _Way(NamedTuple):
    """The least shortfall on the way to a state, and the step that led there."""

    short: int
    before: tuple[int, ...]
    load: tuple[int, ...]


def _settle(
    needs: list[int], bags: list[int], found: int, allowance: int
) -> tuple[list[list[int]] | None, bool]:
    """A sharing that leaves less than ``found``, if there is one; and whether that is certain.

    A state is how many bags of each kind are left. To beat ``found`` the shortfalls must stay
    under it, and so what is hung beyond needs stays under the mass left over by that much: every
    stand's load lies in a narrow window.
    """
    kinds = sorted(set(bags), reverse=True)
    order = sorted(range(len(needs)), key=lambda n: -needs[n])
    over = found - 1 - sum(needs) + sum(bags)
    start = tuple(bags.count(kind) for kind in kinds)
    layers = [{start: _Way(0, (), ())}]
    used = work = 0
    for n in order:
        need = needs[n]
        layer: dict[tuple[int, ...], _Way] = {}
        for state, way in layers[-1].items():
            gone = sum(bags) - sum(kind * count for kind, count in zip(kinds, state, strict=True))
            wasted = gone - (used - way.short)
            window = (need - (found - 1 - way.short), need + over - wasted)
            for after, load in _loads(kinds, state, need, window):
                work += len(kinds)
                missing = way.short + max(0, need - sum(load))
                known = layer.get(after)
                if known is None or missing < known.short:
                    layer[after] = _Way(missing, state, load)
            if work > allowance:
                return None, False
        if not layer:
            return None, True
        layers.append(layer)
        used += need
    return _walked_back(layers, order, found), True


def _loads(
    kinds: list[int], state: tuple[int, ...], need: int, window: tuple[int, int]
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """The loads within a window that have no bag beyond the one that reaches the need.

    As (bags left, masses hung). Bags go on heaviest first, so none that is needless comes last.
    """
    low, high = window
    found = []
    stack: list[tuple[int, int, tuple[int, ...], tuple[int, ...]]] = [(0, 0, state, ())]
    while stack:
        n, held, left, load = stack.pop()
        if held >= need or n == len(kinds):
            if held >= low:
                found.append((left, load))
            continue
        kind = kinds[n]
        stack.append((n + 1, held, left, load))
        for count in range(1, left[n] + 1):
            more = held + kind * count
            if more > high:
                break
            after = (*left[:n], left[n] - count, *left[n + 1 :])
            stack.append((n + 1, more, after, load + (kind,) * count))
            if more >= need:
                break
    return found


def _walked_back(
    layers: list[dict[tuple[int, ...], _Way]], order: list[int], found: int
) -> list[list[int]] | None:
    last = layers[-1]
    state = min(last, key=lambda state: last[state].short)
    if last[state].short >= found:
        return None
    loads: list[list[int]] = [[] for _ in order]
    for layer, n in zip(reversed(layers[1:]), reversed(order), strict=True):
        way = layer[state]
        loads[n] = list(way.load)
        state = way.before
    return loads
