"""The order of the setups: with the least changing, or with the soonest end of the day.

Least changing is a path through all setups from load-in to wrap that keeps what must come before
what: the sequential ordering problem. Up to 15 setups it is solved exactly over the sets of setups
done and the last of them (Held and Karp 1962, Bellman 1962; from memory). Beyond that blocks are
moved and reversed (or-opt, 2-opt), and the assignment of followers gives a lower bound: the order
is proven only if it meets the bound.

The soonest end depends on looks, breaks and talent, so the caller works out what an order is worth;
no bound is known for it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import pairwise, permutations
from math import inf
from random import Random
from typing import Final, NamedTuple

from runbook.clock.assignment import assign

Sequenced = tuple[int, ...]
Worth = tuple[float, ...]

EXACT_UP_TO: Final = 15
_ALL_TRIED: Final = 6  # setups up to which every order is tried for the soonest end
_BLOCK: Final = 3  # beyond 15 setups one of two blocks that change places is no longer than this
_SHAKES: Final = 20
_SHAKEN: Final = 4  # moves in one shake
_SEED: Final = 1
_SLACK: Final = 1e-9  # less than this is no gain


def never() -> bool:
    """Return False: nobody asks to stop."""
    return False


class Costs(NamedTuple):
    """Seconds of changing: from load-in to each setup, between setups, from each to the wrap."""

    start: Sequence[float]
    between: Sequence[Sequence[float]]
    end: Sequence[float]


class Order(NamedTuple):
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
    inner = sum(costs.between[a][b] for a, b in pairwise(order))
    return costs.start[order[0]] + inner + costs.end[order[-1]]


class Rules:
    """What must come before what, closed under implication, and which setups stay together.

    Sets of setups are bit masks. ``before`` pairs a setup with one it must come before. ``groups``
    gives each setup a look (None for no look); the setups of a look are kept together. Raises
    NoOrder, and ValueError where there are not as many looks as setups.
    """

    def __init__(
        self,
        count: int,
        before: Sequence[tuple[int, int]] = (),
        groups: Sequence[Hashable] = (),
        first: int | None = None,
        last: int | None = None,
    ) -> None:
        if groups and len(groups) != count:
            raise ValueError(f"{count} setups need {count} looks, not {len(groups)}")
        self.count = count
        self.group = [1 << i for i in range(count)]
        for i, look in enumerate(groups):
            if look is not None:
                self.group[i] = sum(1 << j for j, other in enumerate(groups) if other == look)
        pairs = set(before)
        others = range(count)
        pairs |= {(first, j) for j in others if first is not None and j != first}
        pairs |= {(i, last) for i in others if last is not None and i != last}
        self.earlier = self._closed(pairs)
        self.later = [sum(1 << j for j in range(count) if self.earlier[j] >> i & 1) for i in range(count)]

    def _closed(self, pairs: set[tuple[int, int]]) -> list[int]:
        """Return all that must come before each; a rule for one of a look holds for all of it."""
        earlier = [0] * self.count
        for i, j in pairs:
            earlier[j] |= 1 << i
            if not self.group[i] >> j & 1:
                for k in range(self.count):
                    if self.group[j] >> k & 1:
                        earlier[k] |= self.group[i]
        for k in range(self.count):
            for j in range(self.count):
                if earlier[j] >> k & 1:
                    earlier[j] |= earlier[k]
        circle = tuple(j for j in range(self.count) if earlier[j] >> j & 1)
        if circle:
            raise NoOrder(circle)
        return earlier

    def may_follow(self, i: int, j: int) -> bool:
        """Return whether j can stand right behind i in some order."""
        if i == j or self.earlier[i] >> j & 1 or self.later[i] & self.earlier[j]:
            return False
        if self.group[i] >> j & 1:
            return True
        # leaving a look: nothing of it may have to come after i; entering: nothing before j
        return not (self.later[i] & self.group[i] or self.earlier[j] & self.group[j])

    def next_ones(self, done: int, last: int | None) -> list[int]:
        """Return the setups that can come next, after the set ``done`` that ended with ``last``."""
        within = self.group[last] & ~done if last is not None else 0
        return [j for j in range(self.count) if (within or ~done) >> j & 1 and not self.earlier[j] & ~done]

    def allows(self, order: Sequence[int]) -> bool:
        """Return whether an order keeps every rule."""
        done, unfinished = 0, 0
        for j in order:
            if self.earlier[j] & ~done or (unfinished and not unfinished >> j & 1):
                return False
            done |= 1 << j
            unfinished = self.group[j] & ~done
        return True


# --- the least changing


def least_changing(costs: Costs, rules: Rules | None = None, should_stop: Callable[[], bool] = never) -> Order:
    """Return the order with the least changing: the best, with proof, up to 15 setups.

    Among equals the given order, 0 1 2 ..., is kept. ``should_stop`` ends the search beyond 15
    setups early, with the best order so far. Raises ValueError where the costs do not fit together.
    """
    count = len(costs.start)
    sizes = {len(costs.end), len(costs.between), *(len(row) for row in costs.between)}
    if count and sizes != {count}:
        raise ValueError(f"{count} setups need {count} costs each way")
    rules = rules or Rules(count)
    exact = count <= EXACT_UP_TO
    order = _exact(costs, rules) if exact else _improved(costs, rules, should_stop)
    given = tuple(range(count))
    if rules.allows(given) and changing_s(costs, given) <= changing_s(costs, order) + _SLACK:
        order = given
    total = changing_s(costs, order)
    return Order(order, total, total if exact else min(_lower_bound(costs, rules), total))


def _exact(costs: Costs, rules: Rules) -> Sequenced:
    """Return the best order, layer by layer over the sets of setups done and the last of them."""
    import numpy as np

    n = rules.count
    if n < 2:
        return tuple(range(n))
    masks, bits = np.arange(1 << n), 1 << np.arange(n)
    between, group = np.array(costs.between, float), np.array(rules.group)
    sizes = (masks[:, None] & bits != 0).sum(axis=1)
    least = np.full((1 << n, n), inf)  # [set done, last of them]
    for j in rules.next_ones(0, None):
        least[1 << j, j] = costs.start[j]
    for size in range(1, n):
        layer = masks[sizes == size]
        unfinished = layer[:, None] | ~group != -1  # a look is begun, and some of it is left
        for j in range(n):
            can = (layer >> j & 1 == 0) & (rules.earlier[j] & ~layer == 0)
            reached = least[layer[can]] + between[:, j]
            reached[unfinished[can] & (group >> j & 1 == 0)] = inf
            least[layer[can] | 1 << j, j] = reached.min(axis=1, initial=inf)
    done = (1 << n) - 1
    order = [int((least[done] + costs.end).argmin())]
    while done != 1 << order[0]:
        j = order[0]
        done ^= 1 << j
        reached = least[done] + between[:, j]
        reached[(done | ~group != -1) & (group >> j & 1 == 0)] = inf
        order.insert(0, int(reached.argmin()))
    return tuple(order)


def _improved(costs: Costs, rules: Rules, should_stop: Callable[[], bool]) -> Sequenced:
    """Return a good order of many setups: the cheapest follower each time, then moves of blocks."""
    import numpy as np

    n = rules.count
    edges = np.zeros((n + 1, n + 1))
    edges[:n, :n], edges[n, :n], edges[:n, n] = costs.between, costs.start, costs.end
    moves = np.array(block_moves(n, _BLOCK))
    ends = np.full((len(moves), 1), n)

    def settled(order: Sequenced) -> Sequenced:
        while not should_stop():
            tried = np.array(order)[moves]
            stops = np.hstack([ends, tried, ends])
            totals = edges[stops[:, :-1], stops[:, 1:]].sum(axis=1)
            gainful = np.flatnonzero(totals < changing_s(costs, order) - _SLACK)
            ranked = gainful[np.argsort(totals[gainful], kind="stable")]
            others = (tuple(map(int, tried[k])) for k in ranked)
            better = next((other for other in others if rules.allows(other)), None)
            if better is None:
                break
            order = better
        return order

    rng, ways = Random(_SEED), [tuple(map(int, move)) for move in moves]
    best = settled(_greedy(costs, rules))
    for _ in range(5 * _SHAKES):
        if should_stop():
            break
        other = settled(_shaken(best, ways, rules.allows, rng))
        best = min(best, other, key=lambda order: changing_s(costs, order))
    return best


def _greedy(costs: Costs, rules: Rules) -> Sequenced:
    """Return an allowed order that takes the cheapest next setup each time."""
    order: list[int] = []
    done = 0
    while len(order) < rules.count:
        row = costs.between[order[-1]] if order else costs.start
        can = rules.next_ones(done, order[-1] if order else None)
        order.append(min(can, key=row.__getitem__))
        done |= 1 << order[-1]
    return tuple(order)


def _lower_bound(costs: Costs, rules: Rules) -> float:
    """Return the least total of giving each setup, and load-in, some follower it may have."""
    n = range(rules.count)
    rows: list[list[float | None]] = [
        [
            *(costs.between[i][j] if rules.may_follow(i, j) else None for j in n),
            None if rules.later[i] else costs.end[i],
        ]
        for i in n
    ]
    rows.append([*(None if rules.earlier[j] else costs.start[j] for j in n), None])
    followers = assign(rows)
    if followers is None:  # cannot be while the rules allow an order
        return 0.0
    return sum(row[j] or 0.0 for row, j in zip(rows, followers, strict=True))


# --- the soonest end


def soonest(
    starts: Sequence[Sequenced],
    worth: Callable[[Sequenced], Worth],
    allows: Callable[[Sequenced], bool],
    should_stop: Callable[[], bool] = never,
) -> Sequenced:
    """Return the order that is worth least, searched from the allowed ``starts``.

    Up to six setups it is the best there is; among equals the earlier start is kept.
    ``should_stop`` ends the search early. Raises ValueError without a start.
    """
    best = min(starts, key=worth)
    count = len(best)
    if count <= _ALL_TRIED:
        others = (order for order in permutations(sorted(best)) if allows(order))
        return min((best, *others), key=worth)
    few = count <= EXACT_UP_TO
    moves = block_moves(count, count if few else _BLOCK)

    def settled(order: Sequenced) -> Sequenced:
        value, since = worth(order), 0
        while since < len(moves):
            for move in moves:
                if should_stop() or since >= len(moves):
                    return order
                since += 1
                other = tuple(order[k] for k in move)
                if allows(other) and (its := worth(other)) < value:
                    order, value, since = other, its, 0
        return order

    best = min((settled(start) for start in starts), key=worth)
    rng = Random(_SEED)
    for _ in range(_SHAKES if few else _SHAKES // 10):
        if should_stop():
            break
        best = min(best, settled(_shaken(best, moves, allows, rng)), key=worth)
    return best


def block_moves(count: int, longest: int) -> list[Sequenced]:
    """Return every way to swap two neighbouring blocks or to turn one round, as new places.

    One of the two blocks, or the one turned round, is at most ``longest`` long.
    """
    places = tuple(range(count))
    swaps = [
        places[:low] + places[middle:high] + places[low:middle] + places[high:]
        for low in range(count)
        for middle in range(low + 1, count)
        for high in range(middle + 1, count + 1)
        if min(middle - low, high - middle) <= longest
    ]
    turns = [
        places[:low] + places[low:high][::-1] + places[high:]
        for low in range(count)
        for high in range(low + 3, min(low + longest, count) + 1)
    ]
    return swaps + turns


def _shaken(
    order: Sequenced, moves: Sequence[Sequenced], allows: Callable[[Sequenced], bool], rng: Random
) -> Sequenced:
    """Return an order some allowed moves away, whatever they cost."""
    for move in rng.sample(moves, min(_SHAKEN, len(moves))):
        other = tuple(order[k] for k in move)
        order = other if allows(other) else order
    return order
