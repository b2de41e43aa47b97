"""The order of the setups still to come: with the least changing, or with the soonest end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise
from typing import Any, Final

from runbook.clock.forecast import Gain, forecasts, gain_of
from runbook.clock.order import Costs, NoOrder, Rules, changing_s, least_changing, soonest
from runbook.clock.timetable import STRIKE, into, medians, run_day
from runbook.day.changeovers import Changeovers
from runbook.day.remaining_day import DayMoment, day_from_now
from runbook.model.progress import Tell, silent

SEED: Final = 1  # the same day gives the same forecast
_WORTH_CHANGING_S: Final = 300.0  # for less nobody changes the order of a day


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
    """Another order of the setups left, of the ``whole`` day, and what it saves."""

    order: tuple[str, ...]
    whole: tuple[str, ...]
    gain: Gain


class CannotOrder(ValueError):
    """The request or the plan contradicts itself; the text says how."""


def best_order(
    moment: DayMoment, changes: Changeovers, request: OrderRequest = _LEAST_CHANGING, tell: Tell = silent
) -> Proposal:
    """Return the best order of the setups left, from what stands now to the wrap.

    The setups of a look stay together where the order given has them together, unless the request allows them apart;
    a look at work goes on first, unless another setup is asked for first, or one of its own last. Raises CannotOrder
    where the rules contradict each other or a setup asked for is not left.
    """
    left = moment.waiting
    looks = [moment.plan.setups[name].look for name in left]
    runs = [look for look, _ in groupby(looks) if look is not None]
    kept = frozenset() if request.apart else frozenset(look for look in runs if runs.count(look) == 1)
    rules = _rules(moment, request, looks, kept)
    costs, bounds = _costs(moment, changes, tell)
    check = partial(tell, "the order")
    best = least_changing(costs, rules, check)
    # a changeover that is not proven to be shared best might take less than planned
    bound_s = best.bound_s if bounds == costs else min(least_changing(bounds, rules, check).bound_s, best.bound_s)
    finish_s = _finish_s(moment, changes)
    given, order = tuple(range(len(left))), best.order
    if request.soonest:
        starts = [start for start in (given, order) if rules.allows(start)]
        order = soonest(starts, lambda o: (round(finish_s(o)), changing_s(costs, o)), rules.allows, check)
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


def sooner_order(moment: DayMoment, changes: Changeovers, draws: int, tell: Tell = silent) -> SoonerOrder | None:
    """Return the order of the setups left that ends the day soonest; None where it saves too little.

    None, too, where the rules contradict each other.
    """
    try:
        best = best_order(moment, changes, OrderRequest(soonest=True), tell)
    except CannotOrder:
        return None
    if best.given_finish_s - best.finish_s < _WORTH_CHANGING_S:
        return None
    days = [day_from_now(replace(moment, waiting=waiting), changes) for waiting in (best.given, best.order)]
    gain = gain_of(*forecasts(days, SEED, draws, partial(tell, "what that order saves")))
    # some are sooner at the median of every part, and not of the whole
    return SoonerOrder(best.order, best.whole, gain) if gain.wins_s >= _WORTH_CHANGING_S else None


def _rules(moment: DayMoment, request: OrderRequest, looks: Sequence[str | None], kept: frozenset[str]) -> Rules:
    """Return the rules for the setups left, by their index. Raises CannotOrder."""
    plan, left = moment.plan, moment.waiting
    for name in (request.first, request.last):
        if name is not None and name not in left:
            among = f": {', '.join(left)}" if left else "; none is left"
            raise CannotOrder(f"{name} is not among the setups left{among}")
    place = {name: n for n, name in enumerate(left)}
    first, last = place.get(request.first or ""), place.get(request.last or "")
    before = [(place[name], place[other]) for name in left for other in plan.setups[name].before if other in place]
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


def _costs(moment: DayMoment, changes: Changeovers, tell: Tell) -> tuple[Costs, Costs]:
    """Return the seconds of every changeover, and a lower bound for each of them."""
    left, here = moment.waiting, moment.state.at_work
    pairs: dict[tuple[str | None, str | None], tuple[float, float]] = {}
    for n, start in enumerate((here, *left)):
        of = len(left) if n else 0  # what stands now is not a setup
        for goal in (*left, None):
            tell(f"changeovers from setup {n} of {of}" if n else "changeovers from what stands now", n, of)
            change = changes.between(start, goal)
            pairs[start, goal] = change.total_s, change.bound_s
    between = [[pairs[start, goal] for goal in left] for start in left]
    into, out = [pairs[here, goal] for goal in left], [pairs[start, None] for start in left]
    costs, bounds = (
        Costs([pair[k] for pair in into], [[pair[k] for pair in row] for row in between], [pair[k] for pair in out])
        for k in (0, 1)
    )
    return costs, bounds


def _finish_s(moment: DayMoment, changes: Changeovers) -> Callable[[tuple[int, ...]], float]:
    """Return the function that gives the median end of the day with the setups left in another order."""
    day, left = day_from_now(moment, changes), moment.waiting
    usual, begun = medians(day), len(day.setups) - len(left)
    packing_s = 60 * moment.plan.day.wrap_min

    def finish_s(order: tuple[int, ...]) -> float:
        names = [left[n] for n in order]
        lengths = dict(usual)
        for start, goal in pairwise((moment.state.at_work, *names)):
            lengths[into(str(goal))] = changes.between(start, goal).total_s
        lengths[STRIKE] = changes.between(names[-1] if names else moment.state.at_work, None).total_s + packing_s
        setups = (*day.setups[:begun], *(day.setups[begun + n] for n in order))
        return run_day(replace(day, setups=setups), lengths).finish_s

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
