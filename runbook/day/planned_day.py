"""The whole day as planned: changeovers, shooting, looks, breaks, and how long each is believed to take.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from runbook.clock.estimates import Belief
from runbook.clock.timetable import (
    BreakToCome,
    DayClock,
    DayToCome,
    Look,
    Overtime,
    Piece,
    Pieces,
    SetupToCome,
    preparing,
    shooting,
)
from runbook.day.changeovers import Changeover, Changeovers, Timings
from runbook.model.day import Day, Plan
from runbook.model.setup import Setup

_PACKING = "packing"


class Beliefs(dict[str, Belief]):
    """What is believed about each kind of work, worked out when first asked for.

    Raises KeyError for an unknown kind.
    """

    def __init__(self, timings: Timings) -> None:
        super().__init__()
        self.timings = timings

    def __missing__(self, kind: str) -> Belief:
        match kind.split(maxsplit=1)[0]:
            case "shooting":
                self[kind] = self.timings.shooting
            case "preparing" | "packing":
                self[kind] = self.timings.planned
            case _:
                self[kind] = self.timings.belief(kind)
        return self[kind]


def day_as_planned(
    plan: Plan, changes: Changeovers, order: Sequence[str] | None = None, clock: DayClock | None = None
) -> DayToCome:
    """Return the whole day from its call on, with nothing done.

    ``order`` replaces the day's own. The ``clock`` knows where the clocks change; by default they do not.
    """
    clock = clock or DayClock(dt.datetime.combine(plan.day.date, dt.time(), dt.UTC))
    stops = (None, *(plan.day.order if order is None else order))
    return DayToCome(
        first_start_s(plan.day, clock),
        tuple(setup_to_come(plan, str(goal), changes.between(start, goal)) for start, goal in pairwise(stops)),
        Beliefs(changes.timings),
        looks_of(plan, clock),
        breaks=breaks_of(plan.day, clock),
        strike=strike_of(changes.between(stops[-1], None)),
        overtime=overtime_of(plan.day, clock),
        pace_sd=changes.timings.day_sd,
    )


def first_start_s(day: Day, clock: DayClock) -> float:
    """Return when the first changeover can begin: after the load-in, in seconds from midnight."""
    return clock.seconds_of(day.call) + 60 * day.load_in_min


def setup_to_come(plan: Plan, setup_id: str, change: Changeover, share_left: float = 1.0) -> SetupToCome:
    """Return a setup still to come after a changeover, or the share of its shooting that is left."""
    setup = plan.setups[setup_id]
    return SetupToCome(setup_id, change.pieces, shooting_of(setup, share_left), setup.look)


def shooting_of(setup: Setup, share_left: float = 1.0) -> Piece:
    """Return the shooting of a setup, or the share of it that is left."""
    return Piece(shooting(setup.id), 60 * setup.shoot_min * share_left)


def strike_of(change: Changeover) -> Pieces:
    """Return the changeover to the wrap with the packing after it."""
    strike, wrap_min = change.pieces, change.plan.day.wrap_min
    return (*strike, Piece(_PACKING, 60 * wrap_min, tuple(range(len(strike))))) if wrap_min else strike


def looks_of(plan: Plan, clock: DayClock) -> tuple[Look, ...]:
    """Return the day's looks, each with the call of its talent."""
    return tuple(
        Look(
            look.id,
            Piece(preparing(look.id), 60 * look.prep_min),
            look.sitter,
            clock.seconds_of(look.call or plan.day.call),
        )
        for look in plan.day.looks
    )


def with_call(plan: Plan, look_id: str, call: dt.time) -> Plan:
    """Return the plan with the talent of a look called at another time."""
    looks = tuple(replace(look, call=call) if look.id == look_id else look for look in plan.day.looks)
    return replace(plan, day=replace(plan.day, looks=looks))


def breaks_of(day: Day, clock: DayClock) -> tuple[BreakToCome, ...]:
    """Return the day's breaks."""
    return tuple(
        BreakToCome(60 * b.minutes, clock.seconds_of(b.earliest), clock.seconds_of(b.latest), b.id) for b in day.breaks
    )


def overtime_of(day: Day, clock: DayClock) -> Overtime:
    """Return when the day's overtime begins, and what it costs where the day gives a rate."""
    wrap = clock.seconds_of(day.wrap)
    if day.rate is None:
        return Overtime(wrap)
    return Overtime(wrap, day.rate.overtime_per_hour, 60 * day.rate.overtime_step_min)
