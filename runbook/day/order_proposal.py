"""The order of the setups still to come: with the least changing, or with the soonest end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise
from typing import Any, Final

from runbook.clock.forecast import forecast
from runbook.clock.order import Costs, NoOrder, Rules, changing_s, least_changing, never, soonest
from runbook.clock.timetable import Lengths, medians, run_day
from runbook.day.planned_day import Changeovers, check_stop
from runbook.day.remaining_day import Moment, day_from_now

_SEED: Final = 1
_WORTH_CHANGING_S: Final = 300.0  # for less nobody changes the order of a day
Tell = Callable[[str], None]
Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class OrderRequest:
    """Which setup comes first and which last, whether looks may be taken ``apart``, and what counts.

    That is the least changing, or the ``soonest`` end of the day.
    """

    first: str | None = None
    last: str | None = None
    apart: bool = False
    soonest: bool = False


_LEAST_CHANGING: Final = OrderRequest()


@dataclass(frozen=True, slots=True)
class Proposal:
    """An order of the setups still to come, and the seconds of changing in it and as given.

    ``settled`` are shot, skipped or at work. ``together`` says that the setups of every look are kept together,
    ``kept`` of which looks with more than one. ``finish_s`` and ``given_finish_s`` are the median ends of the day,
    in seconds from midnight. ``bound_s`` is a lower bound on the changing in any allowed order.
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
        """Whether no allowed order has less changing."""
        return self.changing_s <= self.bound_s

    @property
    def gap(self) -> float:
        """The share of the changing that might still be saved, at most."""
        return 0.0 if self.proven else 1 - self.bound_s / self.changing_s

    @property
    def whole(self) -> tuple[str, ...]:
        """The day's order as it would be written."""
        return (*self.settled, *self.order)


@dataclass(frozen=True, slots=True)
class SoonerOrder:
    """Another order of the setups left, and what it saves: median seconds, mean money; the chance of overtime then."""

    order: tuple[str, ...]
    whole: tuple[str, ...]
    wins_s: float
    wins_cost: float
    over_chance: float


class CannotOrder(ValueError):
    """The request or the plan contradicts itself; the text says how."""


def best_order(
    moment: Moment,
    changes: Changeovers,
    request: OrderRequest = _LEAST_CHANGING,
    *,
    should_stop: Stop = never,
    tell: Tell = lambda _: None,
) -> Proposal:
    """Return the best order of the setups left, from what stands now to the wrap.

    The setups of a look stay together where the order given has them together, unless the request allows them apart;
    a look at work goes on first, unless another setup is asked for first, or one of its own last. Raises CannotOrder
    where the rules contradict each other or a setup asked for is not left, and Stopped when ``should_stop`` returns
    true while changeovers are worked out.
    """
    left = moment.waiting
    looks = [moment.plan.setups[name].look for name in left]
    kept = frozenset() if request.apart else _looks_in_one_run(looks)
    rules = _rules(moment, request, looks, kept)
    costs, bounds = _costs(moment, changes, should_stop, tell)
    tell("the order")
    best = least_changing(costs, rules, should_stop)
    # a changeover whose share over the crew is not proven might take less than planned
    bound_s = best.bound_s if bounds == costs else min(least_changing(bounds, rules).bound_s, best.bound_s)
    finish_s = _finish_s(moment, changes)
    given, order = tuple(range(len(left))), best.order
    if request.soonest:
        starts = [start for start in (given, order) if rules.allows(start)]
        order = soonest(starts, lambda o: (round(finish_s(o)), changing_s(costs, o)), rules.allows, should_stop)
    return Proposal(
        tuple(name for name in moment.plan.day.order if name not in left),
        tuple(left[n] for n in order),
        left,
        changing_s(costs, order),
        changing_s(costs, given),
        bound_s,
        not request.apart and kept >= {look for look in looks if look is not None},
        tuple(sorted(look for look in kept if looks.count(look) > 1)),
        finish_s(order),
        finish_s(given),
    )


def sooner_order(
    moment: Moment, changes: Changeovers, draws: int, *, should_stop: Stop = never, tell: Tell = lambda _: None
) -> SoonerOrder | None:
    """Return the order of the setups left that ends the day soonest; None where it saves too little.

    None, too, where the rules contradict each other. Raises Stopped.
    """
    try:
        best = best_order(moment, changes, OrderRequest(soonest=True), should_stop=should_stop, tell=tell)
    except CannotOrder:
        return None
    if best.given_finish_s - best.finish_s < _WORTH_CHANGING_S:
        return None
    tell("what that order saves")
    days = (day_from_now(replace(moment, waiting=waiting), changes) for waiting in (best.given, best.order))
    given, other = (forecast(day, _SEED, draws, partial(check_stop, should_stop)) for day in days)
    wins_s = given.finish_s.p50 - other.finish_s.p50
    if wins_s < _WORTH_CHANGING_S:  # sooner at the median of each part, and not of the whole
        return None
    return SoonerOrder(best.order, best.whole, wins_s, given.expected_cost - other.expected_cost, other.over_chance)


# --- the rules


def _rules(moment: Moment, request: OrderRequest, looks: Sequence[str | None], kept: frozenset[str]) -> Rules:
    """Return the rules for the setups left, by their index. Raises CannotOrder."""
    plan, left = moment.plan, moment.waiting
    first, last = _index(left, request.first), _index(left, request.last)
    place = {name: n for n, name in enumerate(left)}
    before = [(place[name], place[other]) for name in left for other in plan.setups[name].before if other in place]
    _check_ends(first, last, looks, kept, left)
    for earlier, later in before:
        if first == later:
            raise CannotOrder(f"{left[later]} cannot be first: {left[earlier]} must come before it")
        if last == earlier:
            raise CannotOrder(f"{left[earlier]} cannot be last: it must come before {left[later]}")
    at_work = plan.setups.get(moment.state.at_work or "")
    begun = at_work.look if at_work else None
    if begun in kept and looks[:1] == [begun] and first is None and (last is None or looks[last] != begun):
        same = [n for n, look in enumerate(looks) if look == begun]
        before += [(n, other) for n in same for other in range(len(same), len(left))]
    try:
        return Rules(len(left), before, [look if look in kept else None for look in looks], first, last)
    except NoOrder as why:
        names = ", ".join(left[n] for n in why.setups)
        raise CannotOrder(f"no order keeps every rule: {names} would each have to come before the others") from None


def _index(left: Sequence[str], name: str | None) -> int | None:
    if name is not None and name not in left:
        among = f": {', '.join(left)}" if left else "; none is left"
        raise CannotOrder(f"{name} is not among the setups left{among}")
    return None if name is None else left.index(name)


def _check_ends(
    first: int | None, last: int | None, looks: Sequence[str | None], kept: frozenset[str], left: Sequence[str]
) -> None:
    """Raise CannotOrder where no order could have these ends."""
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


def _looks_in_one_run(looks: Sequence[str | None]) -> frozenset[str]:
    """Return the looks whose setups follow each other as they are."""
    runs = [look for look, _ in groupby(looks) if look is not None]
    return frozenset(look for look in runs if runs.count(look) == 1)


# --- what an order costs


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
    into, out = [both(here, goal) for goal in left], [both(start, None) for start in left]
    costs, bounds = (
        Costs([pair[k] for pair in into], [[pair[k] for pair in row] for row in between], [pair[k] for pair in out])
        for k in (0, 1)
    )
    return costs, bounds


def _finish_s(moment: Moment, changes: Changeovers) -> Callable[[tuple[int, ...]], float]:
    """Return the function that gives the median end of the day with the setups left in another order."""
    day, left = day_from_now(moment, changes), moment.waiting
    usual = medians(day)
    begun = range(len(day.setups) - len(left))

    def finish_s(order: tuple[int, ...]) -> float:
        stops = (moment.state.at_work, *(left[n] for n in order), None)
        *into, strike_s = (changes.between(start, goal).shares.total_s for start, goal in pairwise(stops))
        places = [*begun, *(len(begun) + n for n in order)]
        lengths = Lengths(
            [*(usual.change[n] for n in begun), *into],
            [],
            [usual.shoot[n] for n in places],
            usual.prep,
            strike_s + 60 * moment.plan.day.wrap_min,
        )
        return run_day(replace(day, setups=tuple(day.setups[n] for n in places)), lengths)[1]

    return finish_s


def proposal_data(proposal: Proposal) -> dict[str, Any]:
    """Return the order of the whole day as plain data, the settled setups first."""
    return {
        "order": list(proposal.whole),
        "settled": len(proposal.settled),
        "changing_s": proposal.changing_s,
        "given_order": [*proposal.settled, *proposal.given],
        "given_order_changing_s": proposal.given_changing_s,
        "least_possible_s": proposal.bound_s,
        "proven": proposal.proven,
        "looks_together": proposal.together,
    }
