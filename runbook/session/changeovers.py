"""The day's changeovers as planned: told, shared over the crew, and as facts for a program."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final, NamedTuple

from runbook.change.floor import EMPTY, Floor, floor_of
from runbook.change.steps import Step
from runbook.change.telling import told
from runbook.change.words import Scene
from runbook.plan.day import Plan
from runbook.plan.setup import Setup

LOAD_IN: Final = "load-in"
WRAP: Final = "wrap"


class Shared(NamedTuple):
    """A step, who does it (crew ids), and when it starts, in seconds from the first one."""

    step: Step
    crew: tuple[str, ...]
    start_s: float


class Change(NamedTuple):
    """One changeover; ``start`` is None at load-in, ``goal`` at wrap."""

    start: str | None
    goal: str | None
    steps: tuple[Shared, ...]

    @property
    def total_s(self) -> float:
        return max((each.start_s + each.step.seconds for each in self.steps), default=0.0)

    @property
    def people(self) -> int:
        """How many people it needs at the least."""
        return max((each.step.hands for each in self.steps), default=0)


def floor_at(plan: Plan, setup: Setup | None) -> Floor:
    """The floor of a setup, or the empty one."""
    return floor_of(setup, plan.kit) if setup else EMPTY


def share(steps: tuple[Step, ...], plan: Plan) -> tuple[Shared, ...]:
    """The steps one after another, each by the first of the crew that it needs."""
    crew = [member.id for member in plan.day.crew]
    shared, at = [], 0.0
    for step in steps:
        shared.append(Shared(step, tuple(crew[: step.hands]), at))
        at += step.seconds
    return tuple(shared)


def change(plan: Plan, start: Setup | None, goal: Setup | None) -> Change:
    """The planned changeover between two setups; None is the empty floor."""
    scene = Scene(plan.kit, goal, plan.day.units)
    steps = told(floor_at(plan, start), floor_at(plan, goal), scene, plan.day.place)
    return Change(start.id if start else None, goal.id if goal else None, share(steps, plan))


def every_change(plan: Plan) -> Iterator[Change]:
    """All of the day's changeovers, load-in and wrap included."""
    for start, goal in pairwise((None, *plan.order, None)):
        yield change(plan, start, goal)


def asked_change(plan: Plan, start_id: str | None, goal_id: str | None) -> Change:
    """The changeover between two named setups; one name left out is its neighbour in the order.

    ``load-in`` and ``wrap`` name the empty floor. Raises KeyError with a name no setup has.
    """
    order = [None, *plan.day.order, None]
    if goal_id is None:
        goal_id = _neighbour(order, start_id, 1)
    elif start_id is None:
        start_id = _neighbour(order, goal_id, -1)
    return change(plan, _named(plan, start_id, LOAD_IN), _named(plan, goal_id, WRAP))


def _neighbour(order: list[str | None], setup_id: str | None, by: int) -> str | None:
    if setup_id in (LOAD_IN, WRAP) and setup_id not in order:
        at = 0 if setup_id == LOAD_IN else len(order) - 1
    elif setup_id in order:
        at = order.index(setup_id)
    else:
        return None
    return order[min(max(at + by, 0), len(order) - 1)]


def _named(plan: Plan, setup_id: str | None, empty: str) -> Setup | None:
    if setup_id is None or (setup_id == empty and setup_id not in plan.setups):
        return None
    return plan.setups[setup_id]


def facts(changes: Iterator[Change] | tuple[Change, ...]) -> dict[str, Any]:
    """The changeovers as plain data."""
    return {
        "changeovers": [
            {
                "from": each.start,
                "to": each.goal,
                "total_s": each.total_s,
                "people": each.people,
                "steps": [_step_facts(shared) for shared in each.steps],
            }
            for each in changes
        ]
    }


def _step_facts(shared: Shared) -> dict[str, Any]:
    step = shared.step
    return {
        "n": step.n,
        "verb": step.verb,
        "kind": step.kind,
        "item": step.item,
        "on": step.on,
        "thing": step.thing,
        "text": step.text,
        "seconds": step.seconds,
        "hands": step.hands,
        "why_hands": step.why_hands,
        "after": list(step.after),
        "ahead": step.ahead,
        "crew": list(shared.crew),
        "start_s": shared.start_s,
    }
