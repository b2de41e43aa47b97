"""The checks that hold a step back until they are ticked, or set aside with a reason."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot
from typing import Final, NamedTuple

from runbook.changeover.checks import Check, Gate, Stage, Trait, checks_for, gates_for
from runbook.changeover.floor import Floor
from runbook.changeover.steps import Step
from runbook.day.state import CHANGE, DayState, Tick
from runbook.model.day import OVERHEAD_M, Plan
from runbook.model.units import mass

# Which steps a stage's own holding checks hold back; a check not named here holds the test.
_HOLDS: Final[dict[str, frozenset[str]]] = {
    "fall-circle-clear": frozenset({"raise", "lower", "move"}),
    "hands-before-locks": frozenset({"raise", "lower"}),
    "head-before-bag": frozenset({"free", "unbag"}),
}
# What speaks of booms and of what hangs over people is asked where there is a boom; one that comes
# in later has checks of its own.
_WITH_BOOMS: Final = frozenset({"booms-balanced", "second-fixings"})
_EVERY_STEP: Final = frozenset({"exits-free", "first-aid-known"})
# Checks of a change that matter only where it has such steps.
_WANTED_BY: Final[dict[str, frozenset[str]]] = {
    "fall-circle-clear": frozenset({"raise", "lower", "move"}),
    "hands-before-locks": frozenset({"raise", "lower"}),
    "figures-renewed": frozenset({"raise", "move", "fit"}),
}

# What is loaded in is lit as it goes up: the first changeover answers for both lists.
_STAGES: Final[dict[Stage, tuple[Stage, ...]]] = {
    "load-in": ("load-in", "pre-light"),
    "pre-light": ("load-in", "pre-light"),
    "change": ("change",),
    "wrap": ("wrap",),
}


class Hold(NamedTuple):
    """A check, the keys of the steps it holds back, and who ticked it (None while open).

    ``of_thing`` marks a check on one stand, which cannot be true before its step's turn comes.
    """

    check: Check
    steps: frozenset[tuple[str, str, str]]
    tick: Tick | None
    of_thing: bool

    @property
    def open(self) -> bool:
        return self.tick is None


def stage_of(truth: DayState, *, ready: bool) -> Stage:
    """The stage of the day whose checklist matters now."""
    if truth.on_break is not None:
        return "meal"
    if truth.wrapping:
        return "wrap"
    if not truth.begun:
        return "load-in"
    if ready:
        return "talent"
    return "change" if truth.lit else "pre-light"


def stage_checks(plan: Plan, stage: Stage) -> tuple[Check, ...]:
    """The checklist of a stage on this day, with this kit."""
    return checks_for(
        stage,
        outdoors=not plan.day.place.indoors,
        mains=any(head.mains for head in plan.kit.heads),
        booms=any(stand.is_boom for stand in plan.kit.stands),
    )


def tick_of(truth: DayState, check: Check) -> Tick | None:
    """Who ticked a check, where it is ticked; a change's checks are ticked anew in each."""
    return (truth.change_checks if check.stage == CHANGE else truth.checks).get(check.id)


def checklist(
    plan: Plan, truth: DayState, stage: Stage, held: tuple[Hold, ...]
) -> tuple[tuple[Check, Tick | None], ...]:
    """The checks of a stage, and who ticked them: those that hold a changeover first."""
    first = [hold.check for hold in held]
    known = {check.id for check in first}
    rest = [check for check in stage_checks(plan, stage) if check.id not in known]
    return tuple((check, tick_of(truth, check)) for check in (*first, *rest))


def holds(plan: Plan, truth: DayState, todo: tuple[Step, ...], goal: Floor, stage: Stage) -> tuple[Hold, ...]:
    """Every check that holds, or held, a step of the changeover at hand, in calling order.

    What was done already still counts: a figure that changed is looked at before the test, however
    long ago its stand went up.
    """
    steps = (*(each.step for each in truth.done), *todo)
    wanted: dict[str, Hold] = {}
    booms = any(plan.kit.stand[stand].is_boom for stand in (*goal.stands, *truth.floor.stands))
    of_stage = (
        (check, keys, False)
        for check, keys in _of_stage(plan, stage, todo, steps)
        if booms or check.id not in _WITH_BOOMS
    )
    of_things = ((check, keys, True) for check, keys in _of_things(plan, truth, todo, goal, steps))
    for check, keys, of_thing in (*of_stage, *of_things):
        so_far = wanted[check.id].steps if check.id in wanted else frozenset()
        tick = tick_of(truth, check)
        if keys or tick:
            wanted[check.id] = Hold(check, so_far | keys, tick, of_thing)
    return tuple(wanted.values())


def _of_stage(
    plan: Plan, stage: Stage, todo: tuple[Step, ...], steps: tuple[Step, ...]
) -> Iterator[tuple[Check, set[tuple[str, str, str]]]]:
    verbs = {step.verb for step in steps}
    for each in _STAGES.get(stage, ()):
        for check in stage_checks(plan, each):
            if not check.holds or not verbs & _WANTED_BY.get(check.id, verbs):
                continue
            yield check, {step.key for step in todo if _holds_back(check, step)}


def _holds_back(check: Check, step: Step) -> bool:
    if check.id in _EVERY_STEP:
        return True
    if check.id == "head-before-bag" and step.kind == "bag" and step.to[0] != "stand":
        return False  # a panel's bag waits for no head
    return step.verb in _HOLDS.get(check.id, frozenset({"test"}))


def bags_missing(hold: Hold, truth: DayState, goal: Floor) -> tuple[str, ...]:
    """The bags that a stand's own check speaks of and that do not hang there."""
    stand = hold.check.id.removeprefix("bagged-")
    if not hold.of_thing or stand == hold.check.id:
        return ()
    return tuple(sorted(goal.bags_on("stand", stand) - truth.real_floor.bags_on("stand", stand)))


def _of_things(
    plan: Plan, truth: DayState, todo: tuple[Step, ...], goal: Floor, steps: tuple[Step, ...]
) -> Iterator[tuple[Check, set[tuple[str, str, str]]]]:
    booms = {
        step.item for step in steps if step.kind in ("stand", "counterweight") and plan.kit.stand[step.item].is_boom
    }
    for step in todo:
        if step.kind in ("stand", "counterweight"):
            for gate in gates_for(step.verb, step.kind, _traits(plan, truth, step.item, goal)):
                yield _on(gate, plan, step.item, goal), {step.key}
        elif step.verb == "test":
            for boom in sorted(booms & goal.stands.keys()):
                traits = _traits(plan, truth, boom, goal)
                for gate in gates_for("test", "set", traits):
                    yield _on(gate, plan, boom, goal), {step.key}
            for gate in gates_for("test", "set", ("first-pop",)):
                yield gate.on(), {step.key}
                talent = _came_later(plan, truth, tick_of(truth, gate.on()))
                for each in gates_for("test", "set", ("new-talent",) if talent else ()):
                    yield each.on(talent), {step.key}


def _came_later(plan: Plan, truth: DayState, everyone: Tick | None) -> str:
    """The talent of the setup at work, if they were not yet there when everyone was asked."""
    if everyone is None:
        return ""  # they are about to be, with everyone
    talent = _talent_of(plan, truth.at_work)
    return "" if talent == _talent_of(plan, everyone.setup) else talent


def _talent_of(plan: Plan, setup_id: str | None) -> str:
    setup = plan.setups.get(setup_id or "")
    look = plan.day.look.get(setup.look or "") if setup else None
    return (look.talent or "") if look else ""


def _traits(plan: Plan, truth: DayState, stand: str, goal: Floor) -> tuple[Trait, ...]:
    place, kit = plan.day.place, plan.kit.stand[stand]
    at, now = goal.stands.get(stand), truth.floor.stands.get(stand)
    traits: list[Trait] = []
    if kit.is_boom:
        traits.append("boom")
        if at is not None and hypot(at.spot.x, at.spot.y) < OVERHEAD_M:
            traits.append("overhead")
    if max((each.height_m for each in (at, now) if each), default=0.0) > place.carry_m:
        traits.append("high")
    if at is not None and at.height_m > place.reach_m and goal.bags_on("stand", stand):
        traits.append("bags")
    return tuple(traits)


def _on(gate: Gate, plan: Plan, stand: str, goal: Floor) -> Check:
    bags = goal.bags_on("stand", stand)
    kilograms = sum(plan.kit.bag[bag].mass_kg for bag in bags)
    far = any(goal.bags[bag].at == "far legs" for bag in bags)
    where = "on the column"
    if far:
        spot = goal.stands[stand].spot
        two = spot.leg_under_load == bool(plan.kit.stand[stand].legs % 2)
        where = "half on each far leg" if two else "on the leg away from the load"
    return gate.on(stand=stand, kg=mass(kilograms, plan.day.units), where=where)
