"""The whole day as planned: changeovers, shooting, looks, breaks, and how long each is believed to take.

Times of day are seconds from the midnight of the shoot day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from runbook.changeover.durations import default_seconds
from runbook.changeover.steps import Step
from runbook.changeover.tasks import tasks_of
from runbook.changeover.telling import seconds_of
from runbook.clock.estimates import DAY_SPREAD, Belief, Pace, estimate, on_grid_s, updated
from runbook.clock.timetable import BreakToCome, DayToCome, Look, Overtime, Piece, SetupToCome, pieces_of
from runbook.day.changeovers import Change, Shares, change, people_of, share
from runbook.model.day import Break, Day, Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

SHOOTING: Final = "shooting"
# What a photographer's own minutes for a setup, or an artist's for a look, are off by: s.d. of ln.
PLANNED_SPREAD: Final = 0.25
# From one time to the next: the estimate, worth one timing, is as unsure again, and both together
# have the 80 % interval of PLANNED_SPREAD.
_SPREAD: Final = 0.187


class Timings(NamedTuple):
    """Timings in seconds by kind; of shooting, in shares of what was planned.

    ``days`` is how many journals they come from, ``day_sd`` how days differ in pace.
    """

    timings: Mapping[str, tuple[float, ...]] = {}
    days: int = 0
    day_sd: float = DAY_SPREAD

    @property
    def stands_on(self) -> int:
        """How many timings of steps there are."""
        return sum(len(each) for kind, each in self.timings.items() if kind != SHOOTING)

    def belief(self, kind: str, usual_s: float) -> Belief:
        """What is believed of a kind of step whose estimate is so many seconds."""
        return updated(estimate(usual_s), self.timings.get(kind, ()))

    @property
    def shooting(self) -> Belief:
        """What is believed of shooting against what was planned for it: around 1."""
        return updated(estimate(1.0, spread=_SPREAD), self.timings.get(SHOOTING, ()))

    @property
    def preparing(self) -> Belief:
        """What is believed of a look's preparation against what was planned for it."""
        return estimate(1.0, spread=_SPREAD)

    def seconds(self, step: Step, kit: Kit) -> float:
        """The seconds to plan a step with: on a 5 s grid where it was timed, else the estimate."""
        usual = seconds_of(step, kit)
        kind = kind_of(step, kit)
        return on_grid_s(self.belief(kind, usual).median_s) if kind in self.timings else usual

    def with_timings(self, more: Mapping[str, tuple[float, ...]]) -> Timings:
        """These and more timings."""
        kinds = self.timings.keys() | more.keys()
        both = {kind: (*self.timings.get(kind, ()), *more.get(kind, ())) for kind in kinds}
        return self._replace(timings=both)


NO_TIMINGS: Final = Timings()


def kind_of(step: Step, kit: Kit) -> str:
    """The kind of work a step is, as timings are kept."""
    what = "boom" if step.kind == "stand" and kit.stand[step.item].is_boom else step.kind
    by = {1: "", 2: " by two", 3: " by three"}.get(step.hands, f" by {step.hands}")
    return f"{step.verb} {what}{by}"


def estimated_s(kind: str) -> float:
    """The estimate of a kind. Raises KeyError for a kind this program does not know."""
    verb, what, *_ = kind.split()
    return default_seconds(verb, what)


SecondsOf = Callable[[dt.time], float]
_PACKING: Final = "packing"
_SHOOTING: Final = "shooting "


class Stopped(Exception):
    """Somebody asked to stop."""


def check_stop(should_stop: Callable[[], bool]) -> None:
    """Raises Stopped where somebody asked to stop."""
    if should_stop():
        raise Stopped


class PlannedChangeover(NamedTuple):
    """A changeover worked out: its steps, shared, as pieces of a day."""

    change: Change
    shares: Shares
    pieces: tuple[Piece, ...]


class Changeovers:
    """The changeovers of a day as planned, each worked out when first asked for, and kept."""

    def __init__(self, plan: Plan, known: Timings = NO_TIMINGS) -> None:
        self.plan, self.known = plan, known
        self._kept: dict[tuple[str | None, str | None], PlannedChangeover] = {}

    def between(
        self, start: str | None, goal: str | None, without: frozenset[tuple[str, str, str]] = frozenset()
    ) -> PlannedChangeover:
        """From one setup to another (None: the empty floor), ``without`` steps already done."""
        if (start, goal) not in self._kept:
            setups = self.plan.setups
            one, other = setups.get(start or ""), setups.get(goal or "")
            made = change(self.plan, one, other, self.known.seconds)
            self._kept[start, goal] = self._worked(made)
        found = self._kept[start, goal]
        if without and any(step.key in without for step in found.change.steps):
            left = tuple(step for step in found.change.steps if step.key not in without)
            return self._worked(found.change._replace(steps=left))
        return found

    def known_between(
        self, start: str | None, goal: str | None, without: frozenset[tuple[str, str, str]] = frozenset()
    ) -> PlannedChangeover | None:
        """The same of a changeover from a journal; None where the plan has such a setup no more."""
        known = all(each is None or each in self.plan.setups for each in (start, goal))
        return self.between(start, goal, without) if known else None

    @property
    def all(self) -> Iterator[PlannedChangeover]:
        """Every changeover of the day's order, load-in and wrap included."""
        for start, goal in pairwise((None, *self.plan.day.order, None)):
            yield self.between(start, goal)

    def of(self, steps: Sequence[Step]) -> tuple[Piece, ...]:
        """Steps of a changeover under way as pieces of a day."""
        return self._worked(Change(None, None, tuple(steps))).pieces

    def _worked(self, made: Change) -> PlannedChangeover:
        shares = share(made.steps, self.plan)
        kinds = {step.n: kind_of(step, self.plan.kit) for step in made.steps}
        return PlannedChangeover(
            made, shares, pieces_of(tasks_of(made.steps, people_of(self.plan)), shares.work, kinds)
        )


def seconds_of_day(time: dt.time) -> float:
    """Seconds from midnight of a time of day."""
    return float(time.hour * 3600 + time.minute * 60 + time.second)


def first_start_s(day: Day, seconds_of: SecondsOf = seconds_of_day) -> float:
    """Return when the first changeover can begin: after the load-in, in seconds from midnight."""
    return seconds_of(day.call) + 60 * day.load_in_min


def day_as_planned(
    plan: Plan, changes: Changeovers, order: Sequence[str] | None = None, seconds_of: SecondsOf = seconds_of_day
) -> DayToCome:
    """Return the whole day from its call on, with nothing done.

    ``order`` stands in place of the day's own. ``seconds_of`` gives the seconds from midnight to a
    time of day, where a change of the clocks may lie between.
    """
    order = plan.day.order if order is None else order
    known = changes.known
    setups = []
    for before, setup_id in zip((None, *order), order, strict=False):
        worked = changes.between(before, setup_id)
        setups.append(setup_to_come(plan, setup_id, worked.pieces))
    strike = with_packing(plan.day, changes.between(order[-1] if order else None, None).pieces)
    return DayToCome(
        first_start_s(plan.day, seconds_of),
        tuple(setups),
        beliefs_of(plan, known, setups, strike),
        looks_of(plan, seconds_of),
        breaks=tuple(break_to_come(each, seconds_of) for each in plan.day.breaks),
        strike=strike,
        overtime=overtime_of(plan.day, seconds_of),
        pace=Pace(0.0, known.day_sd),
    )


def setup_to_come(plan: Plan, setup_id: str, work: tuple[Piece, ...], share_left: float = 1.0) -> SetupToCome:
    setup = plan.setups[setup_id]
    return SetupToCome(setup_id, work, shooting_of(setup, share_left), setup.look)


def shooting_of(setup: Setup, share_left: float = 1.0) -> Piece:
    """Return the shooting of a setup, or the share of it that is left."""
    return Piece(_shooting(setup.id), 60 * setup.shoot_min * share_left)


def with_packing(day: Day, strike: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Return a strike with the packing after it."""
    if not day.wrap_min:
        return strike
    return (*strike, Piece(_PACKING, 60 * day.wrap_min, tuple(range(len(strike)))))


def _shooting(setup_id: str) -> str:
    return f"{_SHOOTING}{setup_id}"


def _preparing(look_id: str) -> str:
    return f"preparing {look_id}"


def looks_of(plan: Plan, seconds_of: SecondsOf = seconds_of_day) -> tuple[Look, ...]:
    """Return the day's looks, each with the call of its talent."""
    return tuple(
        Look(
            look.id, Piece(_preparing(look.id), 60 * look.prep_min), look.talent, seconds_of(look.call or plan.day.call)
        )
        for look in plan.day.looks
    )


def break_to_come(each: Break, seconds_of: SecondsOf = seconds_of_day) -> BreakToCome:
    earliest, latest = seconds_of(each.earliest), seconds_of(each.latest)
    return BreakToCome(60 * each.minutes, earliest, latest)


def overtime_of(day: Day, seconds_of: SecondsOf = seconds_of_day) -> Overtime:
    wrap = seconds_of(day.wrap)
    if day.rate is None:
        return Overtime(wrap)
    return Overtime(wrap, day.rate.overtime_per_hour, 60 * day.rate.overtime_step_min)


def beliefs_of(
    plan: Plan, known: Timings, setups: Iterable[SetupToCome], *others: Iterable[Piece]
) -> dict[str, Belief]:
    """Return what is believed of every kind of work in setups and other stretches of work."""
    found: dict[str, Belief] = {}
    setups = tuple(setups)
    for piece in (*(p for each in setups for p in (*each.change, *each.skip)), *_flat(others)):
        if piece.kind == _PACKING:
            found[piece.kind] = known.preparing
        elif piece.kind.startswith(_SHOOTING):
            found[piece.kind] = known.shooting
        elif piece.kind not in found:
            found[piece.kind] = known.belief(piece.kind, estimated_s(piece.kind))
    found |= {each.shoot.kind: known.shooting for each in setups}
    return found | {_preparing(look.id): known.preparing for look in plan.day.looks}


def _flat(parts: Iterable[Iterable[Piece]]) -> Iterable[Piece]:
    return (piece for part in parts for piece in part)
