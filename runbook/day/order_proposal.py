"""The order of the setups still to come: with the least changing, or with the soonest end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import groupby, pairwise
from typing import Any, Final, NamedTuple

from runbook.clock.forecast import forecast
from runbook.clock.order import Costs, NoOrder, Order, Rules, changing_s, least_changing, never, soonest
from runbook.clock.timetable import InOrder, end_in_order
from runbook.day.planned_day import Changeovers, check_stop
from runbook.day.remaining_day import Moment, day_from_now
from runbook.model.day import Plan

_SEED: Final = 1
_WORTH_TELLING_S: Final = 300.0  # for less nobody turns a day round
Tell = Callable[[str], None]
Stop = Callable[[], bool]


class OrderRequest(NamedTuple):
    """What a person asks of an order.

    Which setup comes first, which last; whether looks may be taken ``apart``; and whether what
    counts is not the least changing but the ``soonest`` end of the day.
    """

    first: str | None = None
    last: str | None = None
    apart: bool = False
    soonest: bool = False


_NOTHING_MORE: Final = OrderRequest()


class Proposal(NamedTuple):
    """An order of the setups still to come, and the seconds of changing in it and as given.

    ``settled`` are those that are shot, skipped or at work. ``together`` says that the setups of
    every look were kept together, ``kept`` of which looks with more than one. ``finish_s`` and
    ``given_finish_s`` are the ends of the day at the median, in seconds from midnight. ``bound_s``
    is the least changing of any allowed order.
    """

    settled: tuple[str, ...]
    order: tuple[str, ...]
    given: tuple[str, ...]
    changing_s: float
    given_changing_s: float
    bound_s: float
    together: bool
    kept: tuple[str, ...]
    finish_s: float
    given_finish_s: float

    @property
    def proven(self) -> bool:
        """No allowed order has less changing."""
        return self.changing_s <= self.bound_s

    @property
    def gap(self) -> float:
        """How much of the changing might still be saved, at most."""
        return 0.0 if self.proven else 1 - self.bound_s / self.changing_s

    @property
    def whole(self) -> tuple[str, ...]:
        """The day's order as it would be written."""
        return (*self.settled, *self.order)


class SoonerOrder(NamedTuple):
    """Another order of what is left, and what it would win: median seconds, mean money.

    ``over_chance`` is the chance of overtime then.
    """

    order: tuple[str, ...]
    whole: tuple[str, ...]
    wins_s: float
    wins_cost: float
    over_chance: float


class CannotOrder(ValueError):
    """What is asked or planned contradicts itself; the text says what."""


def best_order(
    moment: Moment,
    changes: Changeovers,
    asked: OrderRequest = _NOTHING_MORE,
    *,
    should_stop: Stop = never,
    tell: Tell = lambda _: None,
) -> Proposal:
    """The best order of what is left, from what stands now to the wrap.

    What must be shot before what is kept; so are the setups of a look together, where the order
    given has them together and nobody asks otherwise; a look at work goes on first, unless another
    is asked for first or one of its own last. Raises
    CannotOrder where the rules contradict each other or a setup asked for is not left, and Stopped
    when ``should_stop`` says so while changeovers are worked out.
    """
    plan, left = moment.plan, moment.waiting
    looks = [plan.setups[name].look for name in left]
    kept = frozenset() if asked.apart else _in_one_run(looks)
    first, last = _place(left, asked.first), _place(left, asked.last)
    before = _before(plan, left)
    _ends_agree(first, last, looks, kept, left)
    _ends_follow(first, last, before, left)
    goes_on = looks[:1] == [_look_at_work(moment)] and looks[0] in kept
    if goes_on and first is None and (last is None or looks[last] != looks[0]):
        going_on = [n for n, look in enumerate(looks) if look == looks[0]]
        before += [(n, other) for n in going_on for other in range(len(going_on), len(left))]
    try:
        groups = [look if look in kept else None for look in looks]
        rules = Rules(len(left), before, groups, first, last)
    except NoOrder as why:
        names = ", ".join(left[n] for n in why.setups)
        raise CannotOrder(f"no order keeps every rule: {names} go round in a circle") from None
    costs, bounds = _costs(moment, changes, should_stop, tell)
    tell("the order")
    found = least_changing(costs, rules, should_stop)
    finish = _finish(moment, changes)
    given = tuple(range(len(left)))
    order = found.order
    if asked.soonest:
        starts = [each for each in (given, order) if rules.allows(each)]
        order = soonest(
            starts, lambda order: (round(finish(order)), changing_s(costs, order)), rules.allows, should_stop
        )
    new = tuple(left[n] for n in order)
    return Proposal(
        tuple(name for name in plan.day.order if name not in left),
        new,
        left,
        changing_s(costs, order),
        changing_s(costs, given),
        _least_possible_s(found, bounds, costs, rules),
        not asked.apart and kept >= {look for look in looks if look is not None},
        tuple(sorted(look for look in kept if looks.count(look) > 1)),
        finish(order),
        finish(given),
    )


def sooner_order(
    moment: Moment, changes: Changeovers, draws: int, *, should_stop: Stop = never, tell: Tell = lambda _: None
) -> SoonerOrder | None:
    """The order of what is left that ends the day soonest; None where it wins too little.

    Raises Stopped. What cannot be ordered, because its rules contradict each other, is left so.
    """
    try:
        found = best_order(moment, changes, OrderRequest(soonest=True), should_stop=should_stop, tell=tell)
    except CannotOrder:
        return None
    if found.given_finish_s - found.finish_s < _WORTH_TELLING_S:
        return None
    tell("what that order would win")
    both = []
    for waiting in (found.given, found.order):
        day = day_from_now(moment._replace(waiting=waiting), changes)
        both.append(forecast(day, _SEED, draws, partial(check_stop, should_stop)))
    now, then = both
    wins_s = now.finish_s.p50 - then.finish_s.p50
    if wins_s < _WORTH_TELLING_S:  # sooner at the median of each part, and not of the whole
        return None
    return SoonerOrder(found.order, found.whole, wins_s, now.expected_cost - then.expected_cost, then.over_chance)


def _place(left: Sequence[str], name: str | None) -> int | None:
    if name is not None and name not in left:
        among = f": {', '.join(left)}" if left else "; none is left"
        raise CannotOrder(f"{name} is not among the setups left{among}")
    return None if name is None else left.index(name)


def _ends_agree(
    first: int | None, last: int | None, looks: Sequence[str | None], kept: frozenset[str | None], left: Sequence[str]
) -> None:
    """Raises CannotOrder where no order could have these ends: all would go round in a circle."""
    if first is None or last is None:
        return
    if first == last and len(left) > 1:
        raise CannotOrder(f"{left[first]} cannot be both first and last")
    look = looks[first]
    if look in kept and look == looks[last] and looks.count(look) < len(left):
        raise CannotOrder(
            f"{left[first]} and {left[last]} cannot be first and last: "
            f"they are of the look {look}, whose setups are kept together"
        )


def _ends_follow(first: int | None, last: int | None, before: Sequence[tuple[int, int]], left: Sequence[str]) -> None:
    """Raises CannotOrder where the plan has a setup before the first, or one after the last."""
    for earlier, later in before:
        if first == later:
            raise CannotOrder(f"{left[later]} cannot be first: {left[earlier]} must come before it")
        if last == earlier:
            raise CannotOrder(f"{left[earlier]} cannot be last: it must come before {left[later]}")


def _before(plan: Plan, left: Sequence[str]) -> list[tuple[int, int]]:
    place = {name: n for n, name in enumerate(left)}
    return [(place[name], place[later]) for name in left for later in plan.setups[name].before if later in place]


def _costs(moment: Moment, changes: Changeovers, should_stop: Stop, tell: Tell) -> tuple[Costs, Costs]:
    """Return the seconds of every changeover, and a lower bound for each of them."""
    left, here = moment.waiting, moment.state.at_work

    def both(start: str | None, goal: str | None) -> tuple[float, float]:
        check_stop(should_stop)
        shares = changes.between(start, goal).shares
        return shares.total_s, shares.bound_s

    between = []
    for n, start in enumerate(left, 1):
        tell(f"changeovers from setup {n} of {len(left)}")
        between.append([(0.0, 0.0) if start == goal else both(start, goal) for goal in left])
    starts, ends = [both(here, goal) for goal in left], [both(start, None) for start in left]
    costs, bounds = (
        Costs([pair[k] for pair in starts], [[pair[k] for pair in row] for row in between], [pair[k] for pair in ends])
        for k in (0, 1)
    )
    return costs, bounds


def _least_possible_s(found: Order, bounds: Costs, costs: Costs, rules: Rules) -> float:
    """Return a lower bound of the changing in any allowed order, however each is shared.

    A changeover whose share over the crew is not proven might take less than is planned for it.
    """
    if bounds == costs:
        return found.bound_s
    return min(least_changing(bounds, rules).bound_s, found.bound_s)


def _finish(moment: Moment, changes: Changeovers) -> Callable[[tuple[int, ...]], float]:
    """What tells when the day ends, at its median, with what is left in another order."""
    day = day_from_now(moment, changes)
    end = end_in_order(day, len(day.setups) - len(moment.waiting))
    packing_s = 60 * moment.plan.day.wrap_min

    def finish(order: tuple[int, ...]) -> float:
        names = [moment.waiting[n] for n in order]
        stops = pairwise((moment.state.at_work, *names, None))
        *into, strike_s = (changes.between(a, b).shares.total_s for a, b in stops)
        return end(InOrder(order, tuple(into), strike_s + packing_s))

    return finish


def _look_at_work(moment: Moment) -> str | None:
    at_work = moment.state.at_work
    setup = moment.plan.setups.get(at_work) if at_work is not None else None
    return setup.look if setup else None


def _in_one_run(looks: Sequence[str | None]) -> frozenset[str]:
    """The looks whose setups follow each other as they are."""
    runs = [look for look, _ in groupby(looks) if look is not None]
    return frozenset(look for look in runs if runs.count(look) == 1)


def proposal_data(found: Proposal) -> dict[str, Any]:
    """The order as plain data: the whole day's, what is settled first."""
    return {
        "order": list(found.whole),
        "settled": len(found.settled),
        "changing_s": found.changing_s,
        "given_order": [*found.settled, *found.given],
        "given_order_changing_s": found.given_changing_s,
        "least_possible_s": found.bound_s,
        "proven": found.proven,
        "looks_together": found.together,
    }
