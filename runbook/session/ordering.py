"""The order of the day's setups with the least changing, and what it does to the end of the day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Any, Final

from runbook.change.makespan import never
from runbook.clock.forecast import planned
from runbook.clock.order import Costs, changing_s, least_changing
from runbook.plan.day import Plan
from runbook.plan.tuples import NamedTuple
from runbook.session.planned_day import Changes, Stopped, day_as_planned

# About a second's search for a day of thirty or forty setups; up to fifteen it ends by itself.
EFFORT: Final = 300_000
Tell = Callable[[str], None]


class Proposal(NamedTuple):
    """An order of the setups, and the seconds of changing in it and in the order given.

    ``together`` says that the setups of a look were kept together. ``finish_s`` and
    ``given_finish_s`` are the ends of the day as planned, in seconds from midnight.
    """

    order: tuple[str, ...]
    changing_s: float
    given_changing_s: float
    bound_s: float
    together: bool
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


def best_order(
    plan: Plan,
    changes: Changes,
    *,
    should_stop: Callable[[], bool] = never,
    tell: Tell = lambda _: None,
) -> Proposal:
    """The order with the least changing from load-in to wrap.

    What must be shot before what is kept; so are the setups of a look together, where the order
    given has them together. Raises NoOrder where the rules contradict
    each other, and Stopped when ``should_stop`` says so while changeovers are worked out.
    """
    order = plan.day.order
    costs = _costs(order, changes, should_stop, tell)
    tell("the order")
    place = {name: n for n, name in enumerate(order)}
    before = [
        (place[setup.id], place[later])
        for setup in plan.order
        for later in setup.before
        if later in place
    ]
    looks = [setup.look for setup in plan.order]
    together = _in_runs(looks)
    found = least_changing(
        costs, before, groups=looks if together else (), effort=EFFORT, should_stop=should_stop
    )
    new = tuple(order[n] for n in found.order)
    return Proposal(
        new,
        found.changing_s,
        changing_s(costs, range(len(order))),
        found.bound_s,
        together,
        planned(day_as_planned(plan, changes, new))[1],
        planned(day_as_planned(plan, changes))[1],
    )


def _costs(
    order: Sequence[str], changes: Changes, should_stop: Callable[[], bool], tell: Tell
) -> Costs:
    def cost(start: str | None, goal: str | None) -> float:
        if should_stop():
            raise Stopped
        return changes.between(start, goal).shares.total_s

    between = []
    for n, start in enumerate(order, 1):
        tell(f"changeovers from setup {n} of {len(order)}")
        between.append([0.0 if start == goal else cost(start, goal) for goal in order])
    return Costs(
        [cost(None, goal) for goal in order], between, [cost(each, None) for each in order]
    )


def _in_runs(looks: Sequence[str | None]) -> bool:
    runs = [look for look, _ in groupby(looks) if look is not None]
    return len(runs) == len(set(runs))


def facts(plan: Plan, found: Proposal) -> dict[str, Any]:
    """The order as plain data."""
    return {
        "order": list(found.order),
        "changing_s": found.changing_s,
        "given_order": list(plan.day.order),
        "given_order_changing_s": found.given_changing_s,
        "least_possible_s": found.bound_s,
        "proven": found.proven,
        "looks_together": found.together,
    }
