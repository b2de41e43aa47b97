"""The whole day as planned: changeovers, shooting, looks, breaks, and how long each is believed to take.

Times of day are seconds from the midnight of the shoot day. A kind of work is a verb, what it is done to, and how many
people do it together: ``fit head``, ``raise boom by two``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, pairwise
from typing import Final

from runbook.changeover.steps import DEFAULT_S, Step, step_seconds
from runbook.changeover.tasks import tasks_of
from runbook.clock.estimates import DAY_SPREAD, Belief, Pace, estimate, on_grid_s, updated
from runbook.clock.timetable import BreakToCome, DayToCome, Look, Overtime, Piece, SetupToCome, pieces_of
from runbook.day.changeovers import Change, Shares, change, people_of, share
from runbook.model.day import Break, Day, Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

SHOOTING: Final = "shooting"
_PREPARING: Final = "preparing"
_PACKING: Final = "packing"
# What a photographer's own minutes for a setup, or an artist's for a look, are off by: s.d. of ln.
PLANNED_SPREAD: Final = 0.25
# From one time to the next: the estimate, worth one timing, is as unsure again, and both together have the 80 %
# interval of PLANNED_SPREAD.
_SPREAD: Final = 0.187
_NO_STEPS: Final[frozenset[tuple[str, str, str]]] = frozenset()

SecondsOf = Callable[[dt.time], float]


# --- how long work takes


@dataclass(frozen=True, slots=True)
class Timings:
    """Timings in seconds by kind; of shooting, in shares of what was planned.

    ``journals`` is how many they come from, ``day_sd`` how much days differ in pace.
    """

    by_kind: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    journals: int = 0
    day_sd: float = DAY_SPREAD

    @property
    def count(self) -> int:
        """The number of timings of steps."""
        return sum(len(timings) for kind, timings in self.by_kind.items() if kind != SHOOTING)

    def belief(self, kind: str, usual_s: float) -> Belief:
        """Return the belief about a kind of step whose estimate is so many seconds."""
        return updated(estimate(usual_s), self.by_kind.get(kind, ()))

    @property
    def shooting(self) -> Belief:
        """The belief about shooting against what was planned for it: around 1."""
        return updated(estimate(1.0, spread=_SPREAD), self.by_kind.get(SHOOTING, ()))

    @property
    def preparing(self) -> Belief:
        """The belief about a look's preparation, or the packing, against what was planned for it."""
        return estimate(1.0, spread=_SPREAD)

    def belief_of_piece(self, kind: str) -> Belief:
        """Return the belief about a piece of a day. Raises KeyError for an unknown kind."""
        if kind.startswith(SHOOTING):
            return self.shooting
        if kind == _PACKING or kind.startswith(_PREPARING):
            return self.preparing
        return self.belief(kind, estimated_s(kind))

    def seconds(self, step: Step, kit: Kit) -> float:
        """Return the seconds to plan a step with: on a 5 s grid where it was timed, else the estimate."""
        usual, kind = step_seconds(step, kit), kind_of(step, kit)
        return on_grid_s(self.belief(kind, usual).median_s) if kind in self.by_kind else usual

    def with_day(self, day: Mapping[str, tuple[float, ...]]) -> Timings:
        """Return these and the timings of one more journal."""
        kinds = self.by_kind.keys() | day.keys()
        both = {kind: (*self.by_kind.get(kind, ()), *day.get(kind, ())) for kind in kinds}
        return replace(self, by_kind=both, journals=self.journals + 1)


NO_TIMINGS: Final = Timings()


def kind_of(step: Step, kit: Kit) -> str:
    """Return the kind of work a step is, as timings are kept."""
    what = "boom" if step.kind == "stand" and kit.stand[step.item].is_boom else step.kind
    by = {1: "", 2: " by two", 3: " by three"}.get(step.hands, f" by {step.hands}")
    return f"{step.verb} {what}{by}"


def estimated_s(kind: str) -> float:
    """Return the estimate of a kind of step. Raises KeyError for an unknown kind."""
    verb, what, *_ = kind.split()
    return DEFAULT_S[verb, what]


# --- changeovers


class Stopped(Exception):
    """Somebody asked to stop."""


def check_stop(should_stop: Callable[[], bool]) -> None:
    """Raise Stopped where somebody asked to stop."""
    if should_stop():
        raise Stopped


@dataclass(frozen=True, slots=True)
class PlannedChangeover:
    """A changeover worked out: its steps, shared over the crew, as pieces of a day."""

    change: Change
    shares: Shares
    pieces: tuple[Piece, ...]


class Changeovers:
    """The changeovers of a day as planned, each worked out when first asked for."""

    def __init__(self, plan: Plan, timings: Timings = NO_TIMINGS) -> None:
        self.plan, self.timings = plan, timings
        self._planned: dict[tuple[str | None, str | None], PlannedChangeover] = {}

    def between(
        self, start: str | None, goal: str | None, without: frozenset[tuple[str, str, str]] = _NO_STEPS
    ) -> PlannedChangeover:
        """Return the changeover between two setups (None: the empty floor), ``without`` steps already done."""
        if (start, goal) not in self._planned:
            setups = self.plan.setups
            made = change(self.plan, setups.get(start or ""), setups.get(goal or ""), self.timings.seconds)
            self._planned[start, goal] = self._shared(made)
        planned = self._planned[start, goal]
        if any(step.key in without for step in planned.change.steps):
            return self._shared(planned.change, without)
        return planned

    def known_between(
        self, start: str | None, goal: str | None, without: frozenset[tuple[str, str, str]] = _NO_STEPS
    ) -> PlannedChangeover | None:
        """Return ``between`` for setups of a journal; None where the plan no longer has one of them."""
        if any(setup is not None and setup not in self.plan.setups for setup in (start, goal)):
            return None
        return self.between(start, goal, without)

    @property
    def all(self) -> Iterator[PlannedChangeover]:
        """Every changeover of the day's order, load-in and wrap included."""
        for start, goal in pairwise((None, *self.plan.day.order, None)):
            yield self.between(start, goal)

    def of(self, steps: Sequence[Step]) -> tuple[Piece, ...]:
        """Return steps of a changeover under way as pieces of a day."""
        return self._shared(Change(None, None, tuple(steps))).pieces

    def _shared(self, made: Change, without: frozenset[tuple[str, str, str]] = _NO_STEPS) -> PlannedChangeover:
        steps = tuple(step for step in made.steps if step.key not in without)
        shares = share(steps, self.plan)
        kinds = {step.n: kind_of(step, self.plan.kit) for step in steps}
        pieces = pieces_of(tasks_of(steps, people_of(self.plan)), shares.work, kinds)
        return PlannedChangeover(Change(made.start, made.goal, steps), shares, pieces)


# --- the day


def seconds_of_day(time: dt.time) -> float:
    """Return the seconds from midnight of a time of day."""
    return float(time.hour * 3600 + time.minute * 60 + time.second)


def first_start_s(day: Day, seconds_of: SecondsOf) -> float:
    """Return when the first changeover can begin: after the load-in, in seconds from midnight."""
    return seconds_of(day.call) + 60 * day.load_in_min


def day_as_planned(
    plan: Plan, changes: Changeovers, order: Sequence[str] | None = None, seconds_of: SecondsOf = seconds_of_day
) -> DayToCome:
    """Return the whole day from its call on, with nothing done.

    ``order`` replaces the day's own. ``seconds_of`` gives the seconds from midnight to a time of day, where a change of
    the clocks may lie between.
    """
    stops = (None, *(plan.day.order if order is None else order), None)
    *into, strike = (changes.between(start, goal).pieces for start, goal in pairwise(stops))
    setups = [setup_to_come(plan, str(goal), pieces) for goal, pieces in zip(stops[1:-1], into, strict=True)]
    strike = with_packing(plan.day, strike)
    return DayToCome(
        first_start_s(plan.day, seconds_of),
        tuple(setups),
        beliefs_of(plan, changes.timings, setups, strike),
        looks_of(plan, seconds_of),
        breaks=tuple(break_to_come(planned, seconds_of) for planned in plan.day.breaks),
        strike=strike,
        overtime=overtime_of(plan.day, seconds_of),
        pace=Pace(0.0, changes.timings.day_sd),
    )


def setup_to_come(plan: Plan, setup_id: str, work: tuple[Piece, ...], share_left: float = 1.0) -> SetupToCome:
    """Return a setup still to come after a changeover, or the share of its shooting that is left."""
    setup = plan.setups[setup_id]
    return SetupToCome(setup_id, work, shooting_of(setup, share_left), setup.look)


def shooting_of(setup: Setup, share_left: float = 1.0) -> Piece:
    """Return the shooting of a setup, or the share of it that is left."""
    return Piece(f"{SHOOTING} {setup.id}", 60 * setup.shoot_min * share_left)


def with_packing(day: Day, strike: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Return a strike with the packing after it."""
    if not day.wrap_min:
        return strike
    return (*strike, Piece(_PACKING, 60 * day.wrap_min, tuple(range(len(strike)))))


def looks_of(plan: Plan, seconds_of: SecondsOf) -> tuple[Look, ...]:
    """Return the day's looks, each with the call of its talent."""
    return tuple(
        Look(look.id, _preparing(look.id, look.prep_min), look.talent, seconds_of(look.call or plan.day.call))
        for look in plan.day.looks
    )


def _preparing(look_id: str, minutes: float) -> Piece:
    return Piece(f"{_PREPARING} {look_id}", 60 * minutes)


def break_to_come(planned: Break, seconds_of: SecondsOf) -> BreakToCome:
    """Return a break of the plan with its window in seconds from midnight."""
    return BreakToCome(60 * planned.minutes, seconds_of(planned.earliest), seconds_of(planned.latest))


def overtime_of(day: Day, seconds_of: SecondsOf) -> Overtime:
    """Return when the day's overtime begins, and what it costs where the day gives a rate."""
    wrap = seconds_of(day.wrap)
    if day.rate is None:
        return Overtime(wrap)
    return Overtime(wrap, day.rate.overtime_per_hour, 60 * day.rate.overtime_step_min)


def beliefs_of(
    plan: Plan, timings: Timings, setups: Iterable[SetupToCome], *others: Iterable[Piece]
) -> dict[str, Belief]:
    """Return the belief about every kind of work in setups, the day's looks and other stretches of work."""
    pieces = [piece for setup in setups for piece in (*setup.change, *setup.skip, setup.shoot)]
    pieces += chain.from_iterable(others)
    pieces += (_preparing(look.id, 0) for look in plan.day.looks)
    return {kind: timings.belief_of_piece(kind) for kind in dict.fromkeys(piece.kind for piece in pieces)}
