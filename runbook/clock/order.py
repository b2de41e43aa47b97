"""The order of the setups: with the least changing, or with the soonest end of the day.

Least changing is a path through all setups from load-in to wrap that keeps what must come before what: the sequential
ordering problem. Up to 15 setups it is solved exactly over the sets of setups done and the last of them (Held and Karp
1962, Bellman 1962; from memory). Beyond that blocks are moved and reversed (or-opt, 2-opt), and the cheapest way out of
each setup and into the others gives a lower bound: the order is proven only if it meets the bound.

The soonest end depends on looks, breaks and talent, so the caller works out what an order is worth; no bound is known.
Every search calls ``check`` again and again; what that raises ends it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations, cycle, pairwise, permutations, product
from math import inf
from random import Random
from typing import Any, Final

Sequenced = tuple[int, ...]
Check = Callable[[], object]

EXACT_UP_TO: Final = 15
_ALL_TRIED: Final = 6  # setups up to which every order is tried for the soonest end
_BLOCK: Final = 3  # beyond 15 setups one of two blocks that change places is no longer than this
_SHAKES: Final = 20
_FEW_SHAKES: Final = 2  # for the soonest end of many setups, where an order is slow to work out
_SHAKEN: Final = 4  # moves in one shake
_SEED: Final = 1
_SLACK: Final = 1e-9  # less than this is no gain


def go_on() -> None:
    """Let a search go on."""


@dataclass(frozen=True, slots=True)
class Costs:
    """Seconds of changing: from load-in to each setup, between setups, from each to the wrap."""

    start: Sequence[float]
    between: Sequence[Sequence[float]]
    end: Sequence[float]


@dataclass(frozen=True, slots=True)
class Order:
    """Setups by index, the seconds of changing, and a lower bound for any allowed order."""

    order: Sequenced
    changing_s: float
    bound_s: float

    @property
    def proven(self) -> bool:
        """Whether no allowed order has less changing."""
        return self.changing_s <= self.bound_s


class NoOrder(ValueError):
    """The rules contradict each other. ``setups`` are the indexes of the setups on the circle."""

    def __init__(self, setups: Sequenced) -> None:
        self.setups = setups
        named = ", ".join(str(index + 1) for index in setups)
        super().__init__(f"no order keeps every rule: setups {named} would come before each other")


def changing_s(costs: Costs, order: Sequence[int]) -> float:
    """Return the seconds of changing in an order, load-in and wrap included."""
    if not order:
        return 0.0
    return costs.start[order[0]] + sum([costs.between[i][j] for i, j in pairwise(order)]) + costs.end[order[-1]]


class Rules:
    """What must come before what, closed under implication, and which setups stay together.

    Sets of setups are bit masks. ``before`` pairs a setup with one it must come before. ``looks`` gives each setup a
    look or None; the setups of a look stay together. Raises NoOrder, and ValueError for a wrong number of looks.
    """

    def __init__(
        self,
        count: int,
        before: Sequence[tuple[int, int]] = (),
        looks: Sequence[Hashable] = (),
        first: int | None = None,
        last: int | None = None,
    ) -> None:
        if looks and len(looks) != count:
            raise ValueError(f"{count} setups need {count} looks, not {len(looks)}")
        self.count = count
        look_of = [i if look is None else (look,) for i, look in enumerate(looks or [None] * count)]
        self.group = [sum(1 << j for j in range(count) if look_of[j] == look_of[i]) for i in range(count)]
        pairs = {*before}
        pairs |= {(first, j) for j in range(count) if first is not None and j != first}
        pairs |= {(i, last) for i in range(count) if last is not None and i != last}
        self.earlier = self._closed(pairs)
        self.later = [sum(1 << j for j in range(count) if self.earlier[j] >> i & 1) for i in range(count)]

    def _closed(self, pairs: set[tuple[int, int]]) -> list[int]:
        """Return all that must come before each; a rule for one of a look holds for all of it."""
        everyone = range(self.count)
        earlier = [0] * self.count
        for i, j in pairs:
            same_look = self.group[i] >> j & 1
            for k in everyone:
                if k == j or (self.group[j] >> k & 1 and not same_look):
                    earlier[k] |= 1 << i if same_look else self.group[i]
        for k, j in product(everyone, everyone):
            if earlier[j] >> k & 1:
                earlier[j] |= earlier[k]
        circle = tuple(j for j in everyone if earlier[j] >> j & 1)
        if circle:
            raise NoOrder(circle)
        return earlier

    def next_setups(self, done: int) -> list[int]:
        """Return the setups that can come next after the set ``done``: a look begun is finished first."""
        left = ~done
        begun = next((group & left for group in self.group if group & done and group & left), left)
        return [j for j in range(self.count) if begun >> j & 1 and not self.earlier[j] & left]

    def allows(self, order: Sequence[int]) -> bool:
        """Return whether an order keeps every rule."""
        done, unfinished = 0, 0
        for j in order:
            if self.earlier[j] & ~done or (unfinished and not unfinished >> j & 1):
                return False
            done |= 1 << j
            unfinished = self.group[j] & ~done
        return True


def least_changing(costs: Costs, rules: Rules | None = None, check: Check = go_on) -> Order:
    """Return the order with the least changing: the best, with proof, up to 15 setups.

    Among equals the given order, 0 1 2 ..., is kept. Raises ValueError where the costs do not fit together.
    """
    count = len(costs.start)
    sizes = {len(costs.end), len(costs.between), *(len(row) for row in costs.between)}
    if count and sizes != {count}:
        raise ValueError(f"{count} setups need {count} costs each way")
    rules = rules or Rules(count)
    if count <= EXACT_UP_TO:
        order = _exact(costs, rules)
        bound_s = changing_s(costs, order)
    else:
        order = _improved([_greedy(costs, rules)], lambda order: changing_s(costs, order), rules.allows, _SHAKES, check)
        bound_s = _lower_bound(costs, rules)
    given = tuple(range(count))
    if rules.allows(given) and changing_s(costs, given) <= changing_s(costs, order) + _SLACK:
        order = given
    total_s = changing_s(costs, order)
    return Order(order, total_s, min(bound_s, total_s))


def _exact(costs: Costs, rules: Rules) -> Sequenced:
    """Return the best order: the least changing to every set of setups done and the last of them."""
    import numpy as np

    n = rules.count
    if n < 2:
        return tuple(range(n))
    between = np.array(costs.between, float)
    least = np.full((1 << n, n), inf)  # [set done, last of them]
    for j in rules.next_setups(0):
        least[1 << j, j] = costs.start[j]
    everything = (1 << n) - 1
    for done in range(1, everything):
        reached = (least[done, :, None] + between).min(axis=0)
        for j in rules.next_setups(done):
            least[done | 1 << j, j] = reached[j]
    done = everything
    order = [int((least[done] + costs.end).argmin())]
    while done := done ^ 1 << order[0]:
        order.insert(0, int((least[done] + between[:, order[0]]).argmin()))
    return tuple(order)


def _greedy(costs: Costs, rules: Rules) -> Sequenced:
    """Return an allowed order that takes the cheapest next setup each time."""
    order: list[int] = []
    while len(order) < rules.count:
        row = costs.between[order[-1]] if order else costs.start
        order.append(min(rules.next_setups(sum(1 << j for j in order)), key=row.__getitem__))
    return tuple(order)


def _lower_bound(costs: Costs, rules: Rules) -> float:
    """Return a total that no allowed order is below.

    It adds the cheapest way out of each setup but one, and what the cheapest way into each but one costs over that
    (Little, Murty, Sweeney and Karel 1963; from memory).
    """
    import numpy as np

    setups = range(rules.count)
    wrong_way = [[i == j or bool(rules.earlier[i] >> j & 1) for j in setups] for i in setups]
    between = np.where(wrong_way, inf, costs.between)
    out = between.min(axis=1, where=np.isfinite(between), initial=np.max(costs.between))
    into = (between - out[:, None]).min(axis=0, initial=np.max(costs.between))
    return float(min(costs.start) + min(costs.end) + out.sum() - out.max() + into.sum() - into.max())


def soonest(
    starts: Sequence[Sequenced],
    worth: Callable[[Sequenced], Any],
    allows: Callable[[Sequenced], bool],
    check: Check = go_on,
) -> Sequenced:
    """Return the order that is worth least, searched from the allowed ``starts``.

    Up to six setups it is the best there is; among equals the earlier start is kept. Raises ValueError without a start.
    """
    best = min(starts, key=worth)
    if len(best) <= _ALL_TRIED:
        return min((best, *filter(allows, permutations(sorted(best)))), key=worth)
    return _improved(starts, worth, allows, _SHAKES if len(best) <= EXACT_UP_TO else _FEW_SHAKES, check)


def _improved(
    starts: Sequence[Sequenced],
    worth: Callable[[Sequenced], Any],
    allows: Callable[[Sequenced], bool],
    shakes: int,
    check: Check,
) -> Sequenced:
    """Return the best order found by moves of blocks from the starts, and from shaken orders."""
    count = len(starts[0])
    moves = block_moves(count, count if count <= EXACT_UP_TO else _BLOCK)

    def moved(order: Sequenced, move: Sequenced) -> Sequenced:
        other = tuple([order[k] for k in move])
        return other if allows(other) else order

    def settled(order: Sequenced) -> Sequenced:
        value, unimproved = worth(order), 0
        for move in cycle(moves):
            check()
            other = moved(order, move)
            unimproved += 1
            if other is not order and (other_value := worth(other)) < value:
                order, value, unimproved = other, other_value, 0
            if unimproved == len(moves):
                break
        return order

    best = min(map(settled, starts), key=worth)
    rng = Random(_SEED)
    for _ in range(shakes):
        shaken = reduce(moved, rng.sample(moves, min(_SHAKEN, len(moves))), best)
        best = min(best, settled(shaken), key=worth)
    return best


def block_moves(count: int, longest: int) -> list[Sequenced]:
    """Return every way to swap two neighbouring blocks or to turn one round, as new places.

    One of the two blocks, or the one turned round, is at most ``longest`` long.
    """
    places = tuple(range(count))
    swaps = [
        places[:low] + places[middle:high] + places[low:middle] + places[high:]
        for low, middle, high in combinations(range(count + 1), 3)
        if min(middle - low, high - middle) <= longest
    ]
    turns = [
        places[:low] + places[low:high][::-1] + places[high:]
        for low, high in combinations(range(count + 1), 2)
        if 3 <= high - low <= longest
    ]
    return swaps + turns
