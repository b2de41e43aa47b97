"""The order of the setups with the least changing.

A path through all setups, from the empty set at load-in to the empty set at wrap, that keeps what
must come before what: the sequential ordering problem. The way taken: states of setups done and the
last of them, layer by layer (Held and Karp 1962, Bellman 1962); a state is dropped when what it has
cost and the least it can still cost reach the best order known. The least still to come is a walk
of the right length that may come back to a setup, priced so that it seldom does (state-space
relaxation with multipliers, Christofides, Mingozzi and Toth 1981; all from memory). Where layers
are kept whole the answer is proven; where there are too many states the most hopeful are kept, and
the bound says what the others could have cost.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import pairwise
from math import ceil, gcd, inf
from typing import Final

from runbook.change.makespan import never
from runbook.clock.roles import NoWayToAssign, assigned
from runbook.plan.tuples import NamedTuple

_EXACT_UP_TO: Final = 15
_ROUNDS: Final = 120
_KICKS: Final = 60


class Costs(NamedTuple):
    """Seconds of changing: from load-in to each setup, between setups, from each to the wrap."""

    start: Sequence[float]
    between: Sequence[Sequence[float]]
    end: Sequence[float]


class Order(NamedTuple):
    """Setups by index, the seconds of changing, and the least any allowed order could have."""

    order: tuple[int, ...]
    changing_s: float
    bound_s: float

    @property
    def proven(self) -> bool:
        """No allowed order has less changing."""
        return self.changing_s <= self.bound_s

    @property
    def gap(self) -> float:
        """How much of the changing might still be saved, at most: 0.02 is two per cent."""
        return 0.0 if self.proven else 1 - self.bound_s / self.changing_s


class NoOrder(ValueError):
    """What must come before what goes round in a circle. ``setups`` are the indexes on it."""

    def __init__(self, setups: tuple[int, ...]) -> None:
        self.setups = setups
        named = ", ".join(str(index + 1) for index in setups)
        super().__init__(f"no order keeps every rule: setups {named} would come before each other")


def changing_s(costs: Costs, order: Sequence[int]) -> float:
    """The seconds of changing in an order, load-in and wrap with it."""
    if not order:
        return 0.0
    inner = sum(costs.between[a][b] for a, b in pairwise(order))
    return costs.start[order[0]] + inner + costs.end[order[-1]]


def least_changing(
    costs: Costs,
    rules: Rules | None = None,
    *,
    effort: int = 3_000_000,
    should_stop: Callable[[], bool] = never,
) -> Order:
    """The order with the least changing; up to 15 setups always the best, with proof.

    Among equals the order given, 0 1 2 ..., is kept. Beyond 15 setups about ``effort`` steps
    between states are looked at. ``should_stop`` ends the search early, with the best order so far
    and an honest bound. Raises ValueError where the costs do not fit together.
    """
    count = len(costs.start)
    sizes = {len(costs.end), len(costs.between), *(len(row) for row in costs.between)}
    if count and sizes != {count}:
        raise ValueError(f"{count} setups need {count} costs each way")
    if count < 2:
        only = tuple(range(count))
        return Order(only, changing_s(costs, only), changing_s(costs, only))
    search = _Search(costs, rules or Rules(count), should_stop)
    search.run(effort)
    return Order(search.best, search.total, min(search.bound, search.total))


class Rules:
    """What must come before what, closed, and which setups are kept together; as bits.

    ``before`` pairs a setup with one it must come before. ``groups`` gives each setup a look (None
    is no look); the setups of a look are kept together. Raises NoOrder, and ValueError where there
    are not as many looks as setups.
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
        self.later = [
            sum(1 << j for j in range(count) if self.earlier[j] >> i & 1) for i in range(count)
        ]

    def _closed(self, pairs: set[tuple[int, int]]) -> list[int]:
        """All that must come before each; what holds for one of a look holds for all of it."""
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
        """Whether j can stand right behind i."""
        if i == j or self.earlier[i] >> j & 1 or self.later[i] & self.earlier[j]:
            return False
        if self.group[i] >> j & 1:
            return True
        # leaving a look: nothing of it may have to come after i; entering: nothing before j
        return not (self.later[i] & self.group[i] or self.earlier[j] & self.group[j])

    def allows(self, order: Sequence[int]) -> bool:
        """Whether an order keeps every rule."""
        done, open_look = 0, 0
        for j in order:
            if self.earlier[j] & ~done or (open_look and not open_look >> j & 1):
                return False
            done |= 1 << j
            open_look = self.group[j] & ~done
        return True


def _grain(costs: Costs) -> int:
    """What every total is a multiple of, in whole seconds; 0 when there is no such thing."""
    every = [cost for row in (costs.start, costs.end, *costs.between) for cost in row]
    if not all(float(cost).is_integer() for cost in every):
        return 0
    return gcd(*(int(cost) for cost in every)) or 1


def swapped(order: tuple[int, ...], low: int, middle: int, high: int) -> tuple[int, ...]:
    """An order with its blocks ``[low, middle)`` and ``[middle, high)`` in each other's place."""
    return order[:low] + order[middle:high] + order[low:middle] + order[high:]


class _Search:
    """The best order so far, a bound, and the ways to better them."""

    def __init__(self, costs: Costs, rules: Rules, should_stop: Callable[[], bool]) -> None:
        self.costs, self.rules, self.should_stop = costs, rules, should_stop
        self.count = rules.count
        self.grain = _grain(costs)
        self.slack = self.grain or 1e-9  # less than this is no gain
        self.step = [
            [costs.between[i][j] if rules.may_follow(i, j) else inf for j in range(self.count)]
            for i in range(self.count)
        ]
        self.edge = [
            *([*row, end] for row, end in zip(costs.between, costs.end, strict=True)),
            [*costs.start, 0.0],
        ]
        self.best = self._first_order()
        self.total = changing_s(costs, self.best)
        self.bound = 0.0

    def run(self, effort: int) -> None:
        self._improve(_KICKS if self.count > _EXACT_UP_TO else 0)
        prices = self._prices()
        self.bound = self._rounded(self.bound)
        if self.bound > self.total - self.slack:
            self.bound = self.total
            return
        togo = self._least_to_go(prices)
        # a layer's states have about half the setups still to come, and there are as many layers
        widest = max(50, 2 * effort // self.count**2)
        if self.count <= _EXACT_UP_TO:
            widest = self.count << self.count
        for width in sorted({min(50, widest), min(1_000, widest), widest}):
            bound = self._layers(width, togo, prices)
            self.bound = max(self.bound, bound)
            if self.bound > self.total - self.slack:
                self.bound = self.total
                return
            if self.should_stop():
                return
            self._improve()

    # --- a first order, and moving blocks of it

    def _first_order(self) -> tuple[int, ...]:
        given = tuple(range(self.count))
        if self.rules.allows(given):
            return given
        order: list[int] = []
        done, open_look = 0, 0
        while len(order) < self.count:
            can = [
                j
                for j in given
                if not done >> j & 1
                and not self.rules.earlier[j] & ~done
                and (not open_look or open_look >> j & 1)
            ]
            order.append(min(can, key=lambda j: self._into(order, j)))
            done |= 1 << order[-1]
            open_look = self.rules.group[order[-1]] & ~done
        return tuple(order)

    def _into(self, order: Sequence[int], j: int) -> float:
        return self.costs.between[order[-1]][j] if order else self.costs.start[j]

    def _improve(self, kicks: int = 0) -> None:
        """Swap neighbouring blocks until no swap costs less; then from shaken orders (or-opt)."""
        self._take(self._settled(self.best))
        seed = 1
        for _ in range(kicks):
            if self.should_stop():
                return
            for _ in range(20):
                cuts = []
                for _ in range(3):
                    seed = (1103515245 * seed + 12345) & 0x7FFFFFFF
                    cuts.append((seed >> 8) % (self.count + 1))
                low, middle, high = sorted(cuts)
                if low < middle < high:
                    shaken = swapped(self.best, low, middle, high)
                    if self.rules.allows(shaken):
                        self._take(self._settled(shaken))
                        break

    def _take(self, order: tuple[int, ...]) -> None:
        total = changing_s(self.costs, order)
        if total < self.total - self.slack / 2:
            self.best, self.total = order, total

    def _settled(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """The order with neighbouring blocks swapped for as long as that costs less."""
        while not self.should_stop():
            swap = self._gainful_swap(order)
            if swap is None:
                break
            order = swapped(order, *swap)
        return order

    def _gainful_swap(self, order: tuple[int, ...]) -> tuple[int, int, int] | None:
        """The first swap of blocks ``[low, middle)`` and ``[middle, high)`` that costs less."""
        n, cost = self.count, self.edge
        path = [n, *order, n]  # load-in and wrap at either end
        enough = -self.slack / 2
        for low in range(n):
            from_before = cost[path[low]]
            first = path[low + 1]
            for middle in range(low + 1, n):
                last_row = cost[path[middle]]
                second = path[middle + 1]
                gain_here = from_before[second] - from_before[first] - last_row[second]
                for high in range(middle + 1, n + 1):
                    behind = path[high + 1]
                    row = cost[path[high]]
                    gain = gain_here + row[first] + last_row[behind] - row[behind]
                    if gain < enough and self.rules.allows(swapped(order, low, middle, high)):
                        return low, middle, high
        return None

    # --- bounds

    def _prices(self) -> list[float]:
        """A price on each setup under which the cheapest walk costs most; sets the bound.

        Starts from the prices of the assignment of followers, then steps against the setups that
        the walk misses or visits twice (subgradient steps).
        """
        n = self.count
        best = self._assignment_prices()
        prices = list(best)
        stride = 1.0
        stale = 0
        for turn in range(_ROUNDS):
            if turn % 8 == 7 and self.should_stop():
                break
            value, visits = self._cheapest_walk(prices)
            if value > self.bound + 1e-9:
                self.bound, best, stale = value, list(prices), 0
            else:
                stale += 1
            if self.bound > self.total - self.slack:
                break
            if stale >= 8:
                stride, stale, prices = stride / 2, 0, list(best)
                if stride < 0.02:
                    break
                continue
            wrong = sum((1 - v) ** 2 for v in visits)
            if not wrong:
                break
            move = stride * (self.total - value) / wrong
            prices = [prices[i] + move * (1 - visits[i]) for i in range(n)]
        return best

    def _assignment_prices(self) -> list[float]:
        rows: list[list[float | None]] = [
            [*(None if cost == inf else cost for cost in row), self._last_cost(i)]
            for i, row in enumerate(self.step)
        ]
        rows.append([*(self._first_cost(j) for j in range(self.count)), None])
        try:
            found = assigned(rows)
        except NoWayToAssign:  # cannot be while the rules allow an order
            return [0.0] * self.count
        return [found.row[i] + found.column[i] for i in range(self.count)]

    def _first_cost(self, j: int) -> float | None:
        return None if self.rules.earlier[j] else self.costs.start[j]

    def _last_cost(self, i: int) -> float | None:
        return None if self.rules.later[i] else self.costs.end[i]

    def _span(self, j: int) -> tuple[int, int]:
        """The first and the last place in the order that j can have, from 0."""
        rules = self.rules
        return rules.earlier[j].bit_count(), self.count - 1 - rules.later[j].bit_count()

    def _least_to_go(self, prices: list[float]) -> list[list[float]]:
        """``[place][j]``: the least a walk from j at that place still costs to the wrap, priced."""
        n = self.count
        spans = [self._span(j) for j in range(n)]
        priced = [
            [cost - price for cost, price in zip(row, prices, strict=True)] for row in self.step
        ]
        togo = [[inf] * n for _ in range(n)]
        for i in range(n):
            last = self._last_cost(i)
            if last is not None:
                togo[n - 1][i] = last
        for place in range(n - 2, -1, -1):
            coming = togo[place + 1]
            reach = [j for j in range(n) if coming[j] < inf]
            for i in range(n):
                if spans[i][0] <= place <= spans[i][1]:
                    row = priced[i]
                    togo[place][i] = min([row[j] + coming[j] for j in reach], default=inf)
        return togo

    def _cheapest_walk(self, prices: list[float]) -> tuple[float, list[int]]:
        """The value of the cheapest priced walk, a lower bound, and how often it visits each."""
        n = self.count
        togo = self._least_to_go(prices)
        begin = [
            inf if self.rules.earlier[j] else self.costs.start[j] - prices[j] + togo[0][j]
            for j in range(n)
        ]
        at = min(range(n), key=begin.__getitem__)
        value = begin[at] + sum(prices)
        visits = [0] * n
        visits[at] = 1
        for place in range(1, n):
            row, coming = self.step[at], togo[place]
            at = min(range(n), key=lambda j: row[j] - prices[j] + coming[j])
            visits[at] += 1
        return value, visits

    # --- layers of states

    def _layers(self, width: int, togo: list[list[float]], prices: list[float]) -> float:
        """Go through the layers with at most ``width`` states each; the bound that this proves.

        A state is the setups done and the last of them; its value what it cost, priced.
        """
        rules, n = self.rules, self.count
        everything = sum(prices)
        limit = self.total - self.slack - everything + 1e-9
        given_up = inf
        trail: list[dict[tuple[int, int], int]] = []
        layer = {
            (1 << j, j): self.costs.start[j] - prices[j] for j in range(n) if not rules.earlier[j]
        }
        layer = {state: v for state, v in layer.items() if v + togo[0][state[1]] <= limit}
        for place in range(1, n):
            layer, came_from, stopped = self._next_layer(layer, togo[place], prices, limit)
            if stopped:
                return 0.0
            trail.append(came_from)
            if len(layer) > width:
                hope = sorted((v + togo[place][s[1]], s) for s, v in layer.items())
                given_up = min(given_up, hope[width][0])
                layer = {state: layer[state] for _, state in hope[:width]}
        ends = [(v + self.costs.end[s[1]], s) for s, v in layer.items() if not rules.later[s[1]]]
        if ends:
            self._keep(min(ends)[1], trail)
        return self._rounded(min(self.total, given_up + everything))

    def _next_layer(
        self,
        layer: dict[tuple[int, int], float],
        togo: list[float],
        prices: list[float],
        limit: float,
    ) -> tuple[dict[tuple[int, int], float], dict[tuple[int, int], int], bool]:
        earlier, group, step = self.rules.earlier, self.rules.group, self.step
        came_from: dict[tuple[int, int], int] = {}
        following: dict[tuple[int, int], float] = {}
        ways = [
            [(j, 1 << j, step[i][j] - prices[j], togo[j]) for j in range(self.count)
             if step[i][j] + togo[j] < inf]
            for i in range(self.count)
        ]  # fmt: skip
        for turn, ((done, i), value) in enumerate(layer.items()):
            if turn % 2048 == 2047 and self.should_stop():
                return following, came_from, True
            allowed = group[i] & ~done or ~done
            for j, bit, cost, rest in ways[i]:
                if allowed & bit and not earlier[j] & ~done:
                    reached = value + cost
                    if reached + rest <= limit:
                        state = (done | bit, j)
                        known = following.get(state)
                        if known is None or reached < known:
                            following[state] = reached
                            came_from[state] = i
        return following, came_from, False

    def _keep(self, state: tuple[int, int], trail: list[dict[tuple[int, int], int]]) -> None:
        done, j = state
        order = [j]
        for came_from in reversed(trail):
            i = came_from[done, j]
            done, j = done & ~(1 << j), i
            order.append(j)
        order.reverse()
        self._take(tuple(order))

    def _rounded(self, bound: float) -> float:
        return self.grain * ceil(bound / self.grain - 1e-6) if self.grain else bound
