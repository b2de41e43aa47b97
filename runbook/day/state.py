"""The state of the running day, and what its setups are by plan, journal and floor."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.steps import Step, apply
from runbook.day.frames import ClockOf, Shot
from runbook.day.timeline import Timeline
from runbook.journal.as_shot import Stood, as_shot, as_stood, floor_left, freeze
from runbook.journal.events import AsStood, Entry, Selected
from runbook.model.day import Place, Plan
from runbook.model.kit import Kit, Measured
from runbook.model.power import Dial
from runbook.model.setup import Setup

StepKey = tuple[str, str, str]

CHANGE: Final = "change"
UNPLANNED: Final = "unplanned"  # the id of a break that the plan does not have


@dataclass(frozen=True, slots=True)
class Tick:
    """Who ticked a check and when, in which setup, or why it was set aside."""

    by: str
    at: str
    aside: str | None = None
    setup: str | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """A step done: what, who, when (``HH:MM``), and its entry's number."""

    step: Step
    by: str
    at: str
    entry: int


@dataclass(frozen=True, slots=True)
class Frozen:
    """A setup as the journal keeps it, whatever the plan says now.

    ``asked`` is what it asked for that day; both have the changes made after it was kept. ``shot``
    once frames were counted or it was marked as shot.
    """

    stood: Stood
    asked: Setup
    shot: bool = False

    def with_change(self, change: Entry, dials: Mapping[str, Dial]) -> Frozen:
        """Return it with a target changed after it was kept."""
        setup, asked = (as_shot(each, (change,), dials) for each in (self.stood.setup, self.asked))
        return replace(self, stood=replace(self.stood, setup=setup), asked=asked)


@dataclass(frozen=True, slots=True)
class DayState:
    """The running day.

    ``floor`` is what stands for the setup at work; ``ahead`` are steps already done for later
    ones, by setup. ``at_work`` is the setup begun last; ``lit`` once a test flash was made (or
    skipped); ``wrapping`` once the strike has begun. ``change_checks`` were ticked in this
    changeover, ``ahead_checks`` for steps of a later one. ``stood`` is what stood of each setup
    gone by that had steps skipped. ``metered`` are the setups as they were when each reading was
    taken. ``tickers`` are those who ticked steps. ``handed_to`` names who has the day now, if it
    was handed over, ``taken_by`` who took it over last. ``wind`` is the last wind entered.
    ``break_min`` is how long an unplanned break is to last, ``late`` when a late talent comes.
    ``frames`` are counted by setup, whether pictures arrived or somebody counted; ``by_hand`` are those counted with no
    picture so far, with the entry of the last count. ``shots`` is the last frame of the camera, ``clocks`` are the
    cameras' by name, ``placed`` the frames moved to a setup by hand, ``fired`` the bodies that said so of their flash;
    ``frames_checked`` are the frames up to which differences are dealt with, ``selects`` those to match a setup by.
    ``rescues`` are the entries that tell of others lost; ``gaps_checked`` the numbers of those, and
    of unreadable entries, after which somebody checked what stands. ``odd`` says which
    entries make no sense any more.
    """

    floor: Floor = EMPTY
    at_work: str | None = None
    begun: bool = False
    lit: bool = False
    wrapping: bool = False
    done: tuple[Done, ...] = ()
    ahead: tuple[tuple[str | None, Done], ...] = ()
    steps_skipped: dict[StepKey, str] = field(default_factory=dict)
    setups_skipped: dict[str, str] = field(default_factory=dict)
    checks: dict[str, Tick] = field(default_factory=dict)
    change_checks: dict[str, Tick] = field(default_factory=dict)
    ahead_checks: dict[str, Tick] = field(default_factory=dict)
    changes: dict[str, tuple[Entry, ...]] = field(default_factory=dict)
    stood: dict[str, Floor] = field(default_factory=dict)
    frozen: dict[str, Frozen] = field(default_factory=dict)
    frames: dict[str, int] = field(default_factory=dict)
    by_hand: dict[str, tuple[int, Entry]] = field(default_factory=dict)
    readings: dict[str, dict[str | None, Entry]] = field(default_factory=dict)
    metered: dict[str, dict[str | None, Setup]] = field(default_factory=dict)
    anchors: tuple[Measured, ...] = ()
    shot: frozenset[str] = frozenset()
    on_break: str | None = None
    breaks: frozenset[str] = frozenset()
    break_min: float | None = None
    late: dict[str, dt.datetime] = field(default_factory=dict)
    times: Timeline = Timeline()
    tickers: frozenset[str] = frozenset()
    handed_to: str | None = None
    taken_by: str | None = None
    wind: Entry | None = None
    shots: Shot | None = None
    clocks: dict[str, ClockOf] = field(default_factory=dict)
    placed: dict[int, str | None] = field(default_factory=dict)
    fired: frozenset[str] = frozenset()
    frames_checked: dict[str, int] = field(default_factory=dict)
    selects: dict[str, Selected] = field(default_factory=dict)
    rescues: tuple[int, ...] = ()
    gaps_checked: frozenset[int] = frozenset()
    odd: tuple[str, ...] = ()

    @property
    def real_floor(self) -> Floor:
        """What really stands, the steps done ahead included."""
        floor = self.floor
        for _, done in self.ahead:
            floor = apply(floor, done.step)
        return floor


def step_key(step: Mapping[str, Any]) -> StepKey:
    """Return what tells one step from another, from a step as a journal entry has it."""
    return str(step.get("verb")), str(step.get("kind")), str(step.get("item"))


def clock_text(entry: Entry) -> str:
    """Return the time of day of an entry, as its writer's clock showed it."""
    return entry.at.strftime("%H:%M")


def due_time(entry: Entry) -> dt.datetime:
    """Return when the late talent of an entry is expected: that time of day, nearest to the entry."""
    due = dt.time.fromisoformat(entry.data.due)
    same_day = dt.datetime.combine(entry.at.date(), due, entry.at.tzinfo)
    return same_day + dt.timedelta(days=same_day < entry.at - dt.timedelta(hours=12))


# -- a setup as asked, as it stands, as shot -------------------------------------------------------


def target_setup(plan: Plan, state: DayState, setup_id: str) -> Setup:
    """Return a setup as asked for today: the plan with every target changed on it so far."""
    return as_shot(plan.setups[setup_id], state.changes.get(setup_id, ()), plan.kit.dials)


def standing_setup(plan: Plan, state: DayState, setup_id: str) -> Stood:
    """Return a setup as it stands or stood by the plan: as asked, but for what skipped steps left undone.

    Steps that are neither done nor skipped count as done.
    """
    asked = target_setup(plan, state, setup_id)
    floor = state.stood.get(setup_id)
    if state.begun and setup_id == state.at_work:
        floor = floor_after_steps(plan, state) if state.steps_skipped else None
    if floor is None:
        return Stood(asked)
    return as_stood(asked, floor, floor_of(asked, plan.kit), plan.kit)


def _kept(plan: Plan, state: DayState, setup_id: str) -> Frozen | None:
    """Return a setup as the journal keeps it; None where it is as planned."""
    kept = state.frozen.get(setup_id)
    at_work = setup_id == state.at_work and setup_id in plan.setups
    return None if kept is None or (at_work and not kept.shot) else kept


def setup_on_record(plan: Plan, state: DayState, setup_id: str) -> Stood:
    """Return a setup as it was shot: as the journal keeps it, otherwise as it stands by the plan."""
    kept = _kept(plan, state, setup_id)
    return standing_setup(plan, state, setup_id) if kept is None else kept.stood


def setup_as_shot(plan: Plan, state: DayState, setup_id: str) -> Setup:
    """Return a setup as it was shot, as far as a setup's keys can describe it."""
    return setup_on_record(plan, state, setup_id).setup


def target_on_record(plan: Plan, state: DayState, setup_id: str) -> Setup:
    """Return what a setup asked for when it was shot, whatever the plan asks for now."""
    kept = _kept(plan, state, setup_id)
    return target_setup(plan, state, setup_id) if kept is None else kept.asked


def setups_without_snapshot(state: DayState) -> tuple[str, ...]:
    """Return the setups shot or metered of which the journal keeps only changes to the plan."""
    named = (*state.shot, *state.frames, *state.readings)
    return tuple(each for each in dict.fromkeys(named) if each not in state.frozen)


def snapshot_to_keep(plan: Plan, state: DayState) -> AsStood | None:
    """Return what an entry must keep of the setup at work; None where an earlier one keeps the same."""
    setup_id = state.at_work
    if setup_id is None or setup_id not in plan.setups:
        return None
    stood, asked = standing_setup(plan, state, setup_id), target_setup(plan, state, setup_id)
    kept = state.frozen.get(setup_id)
    return None if kept and (kept.stood, kept.asked) == (stood, asked) else freeze(stood, asked)


def snapshot_to_keep_on_leaving(plan: Plan, state: DayState) -> AsStood | None:
    """Return what to keep of the setup at work as another begins, where nothing of it was shot yet."""
    kept = state.frozen.get(state.at_work or "")
    worked = state.done or state.at_work in state.changes or state.at_work in state.readings
    return snapshot_to_keep(plan, state) if worked and not (kept and kept.shot) else None


def floor_after_steps(plan: Plan, state: DayState) -> Floor:
    """Return the floor of the setup at work once every step that is not skipped is done."""
    goal = target_floor(plan, state, state.at_work)
    steps = changeover(state.floor, goal, plan.kit, plan.day.place)
    left = (step for step in steps if step.key not in state.steps_skipped)
    return floor_left(state.floor, left)


def target_floor(plan: Plan, state: DayState, setup_id: str | None) -> Floor:
    """Return the floor that a setup asks for today; None is the empty floor."""
    if setup_id is None:
        return EMPTY
    return floor_of(target_setup(plan, state, setup_id), plan.kit)


def place_now(place: Place, state: DayState) -> Place:
    """Return the day's place; outdoors with the wind that was entered last, if any was."""
    if place.indoors or state.wind is None:
        return place
    return replace(place, wind_ms=0.0, gust_ms=state.wind.data.gust_ms)


def missing_of_kit(kit: Kit, setup: Setup) -> tuple[str, ...]:
    """Return the things of a setup that are no longer in the kit; without them no light can be predicted."""
    named: dict[str, Iterable[str]] = {
        "lens": (setup.view.lens,),
        "head": (light.head for light in setup.lights),
        "stand": (
            *(light.stand for light in setup.lights),
            *(stand for hung in setup.hung_cloths for stand in hung.held_by),
        ),
        "modifier": (light.modifier for light in setup.lights),
        "accessory": (each for light in setup.lights for each in light.accessories),
        "cloth": (*(each for light in setup.lights for each in light.through), *setup.hung),
        "panel": (place.panel for place in setup.panels),
    }
    return tuple(each for kind, names in named.items() for each in names if each not in getattr(kit, kind))
