"""The checks that hold a step back until they are ticked, or set aside with a reason."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import hypot
from typing import Final, Literal, NamedTuple

from runbook.changeover.checklist import Check, Gate, Stage, Trait, checks_for, gates_for
from runbook.changeover.floor import Floor
from runbook.changeover.safe_step import Ground, why_not_now, with_hold
from runbook.changeover.steps import Step
from runbook.day.state import CHANGE, DayState, StepKey, Tick
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


def stage_of(state: DayState, *, ready: bool) -> Stage:
    """The stage of the day whose checklist matters now."""
    if state.on_break is not None:
        return "meal"
    if state.wrapping:
        return "wrap"
    if not state.begun:
        return "load-in"
    if ready:
        return "talent"
    return "change" if state.lit else "pre-light"


def stage_checks(plan: Plan, stage: Stage) -> tuple[Check, ...]:
    """The checklist of a stage on this day, with this kit."""
    return checks_for(
        stage,
        outdoors=not plan.day.place.indoors,
        mains=any(head.mains for head in plan.kit.heads),
        booms=any(stand.is_boom for stand in plan.kit.stands),
    )


def tick_of(state: DayState, check: Check) -> Tick | None:
    """Who ticked a check, where it is ticked; a change's checks are ticked anew in each."""
    return (state.change_checks if check.stage == CHANGE else state.checks).get(check.id)


def checklist(
    plan: Plan, state: DayState, stage: Stage, held: tuple[Hold, ...]
) -> tuple[tuple[Check, Tick | None], ...]:
    """The checks of a stage, and who ticked them: those that hold a changeover first."""
    first = [hold.check for hold in held]
    known = {check.id for check in first}
    rest = [check for check in stage_checks(plan, stage) if check.id not in known]
    return tuple((check, tick_of(state, check)) for check in (*first, *rest))


def holds(plan: Plan, state: DayState, todo: tuple[Step, ...], goal: Floor, stage: Stage) -> tuple[Hold, ...]:
    """Every check that holds, or held, a step of the changeover at hand, in calling order.

    What was done already still counts: a figure that changed is looked at before the test, however
    long ago its stand went up.
    """
    steps = (*(each.step for each in state.done), *todo)
    wanted: dict[str, Hold] = {}
    booms = any(plan.kit.stand[stand].is_boom for stand in (*goal.stands, *state.floor.stands))
    of_stage = (
        (check, keys, False)
        for check, keys in _of_stage(plan, stage, todo, steps)
        if booms or check.id not in _WITH_BOOMS
    )
    of_things = ((check, keys, True) for check, keys in _of_things(plan, state, todo, goal, steps))
    for check, keys, of_thing in (*of_stage, *of_things):
        so_far = wanted[check.id].steps if check.id in wanted else frozenset()
        tick = tick_of(state, check)
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


def bags_missing(hold: Hold, state: DayState, goal: Floor) -> tuple[str, ...]:
    """The bags that a stand's own check speaks of and that do not hang there."""
    stand = hold.check.id.removeprefix("bagged-")
    if not hold.of_thing or stand == hold.check.id:
        return ()
    return tuple(sorted(goal.bags_on("stand", stand) - state.real_floor.bags_on("stand", stand)))


def _of_things(
    plan: Plan, state: DayState, todo: tuple[Step, ...], goal: Floor, steps: tuple[Step, ...]
) -> Iterator[tuple[Check, set[tuple[str, str, str]]]]:
    booms = {
        step.item for step in steps if step.kind in ("stand", "counterweight") and plan.kit.stand[step.item].is_boom
    }
    for step in todo:
        if step.kind in ("stand", "counterweight"):
            for gate in gates_for(step.verb, step.kind, _traits(plan, state, step.item, goal)):
                yield _on(gate, plan, step.item, goal), {step.key}
        elif step.verb == "test":
            for boom in sorted(booms & goal.stands.keys()):
                traits = _traits(plan, state, boom, goal)
                for gate in gates_for("test", "set", traits):
                    yield _on(gate, plan, boom, goal), {step.key}
            for gate in gates_for("test", "set", ("first-pop",)):
                yield gate.on(), {step.key}
                talent = _came_later(plan, state, tick_of(state, gate.on()))
                for each in gates_for("test", "set", ("new-talent",) if talent else ()):
                    yield each.on(talent), {step.key}


def _came_later(plan: Plan, state: DayState, everyone: Tick | None) -> str:
    """The talent of the setup at work, if they were not yet there when everyone was asked."""
    if everyone is None:
        return ""  # they are about to be, with everyone
    talent = _talent_of(plan, state.at_work)
    return "" if talent == _talent_of(plan, everyone.setup) else talent


def _talent_of(plan: Plan, setup_id: str | None) -> str:
    setup = plan.setups.get(setup_id or "")
    look = plan.day.look.get(setup.look or "") if setup else None
    return (look.talent or "") if look else ""


def _traits(plan: Plan, state: DayState, stand: str, goal: Floor) -> tuple[Trait, ...]:
    place, kit = plan.day.place, plan.kit.stand[stand]
    at, now = goal.stands.get(stand), state.floor.stands.get(stand)
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


class StepLine(NamedTuple):
    """A step of the changeover at hand and how it stands with it."""

    step: Step
    state: Literal["to do", "done", "skipped", "waits", "held"]
    note: str = ""


class PendingSteps(NamedTuple):
    """Steps still to do, in order, the checks that hold them, and those skipped, with reasons.

    ``ground`` is what they are done on; the steps are in order for it as long as none is skipped.
    """

    todo: tuple[Step, ...]
    holds: tuple[Hold, ...]
    skipped: Mapping[StepKey, str]
    ground: Ground | None = None

    @property
    def left(self) -> tuple[Step, ...]:
        """The steps neither done nor skipped."""
        return tuple(step for step in self.todo if step.key not in self.skipped)

    def is_left(self, step: Step) -> bool:
        """Whether a step is neither done nor skipped."""
        return any(each.key == step.key for each in self.left)

    def line(self, step: Step) -> StepLine:
        """How it stands with a step."""
        reason = self.skipped.get(step.key)
        if reason is not None:
            return StepLine(step, "skipped", reason)
        holding = self.open_holds(step)
        if holding:
            return StepLine(step, "held", holding[0].check.text)
        if self.waits_for(step):
            return StepLine(step, "waits")
        why = self.why_not_now(step)
        if why:
            return StepLine(step, "waits", why)
        return StepLine(self.with_hold(step), "to do")

    def why_not_now(self, step: Step) -> str:
        """Why a step that nothing else waits for must not be done on the floor as it stands."""
        if self.ground is None:
            return ""
        not_lowered = frozenset(
            step.item for step in self.todo if step.key[:2] == ("lower", "stand") and step.key in self.skipped
        )
        return why_not_now(step, self.ground._replace(not_lowered=not_lowered))

    def with_hold(self, step: Step) -> Step:
        """The step with the hold that the floor as it stands asks for."""
        return step if self.ground is None else with_hold(step, self.ground)

    def open_holds(self, step: Step) -> list[Hold]:
        """The open checks that hold a step back."""
        return [hold for hold in self.holds if hold.open and step.key in hold.steps]

    def waits_for(self, step: Step) -> list[Step]:
        """The steps that come first, in order; where one was skipped, those before it instead."""
        numbered = {other.n: other for other in self.todo}
        waiting: set[int] = set()
        ask = list(step.after)
        while ask:
            n = ask.pop()
            other = numbered.get(n)
            if other is None:  # done
                continue
            if other.key in self.skipped:
                ask += other.after
            else:
                waiting.add(n)
        return [numbered[n] for n in sorted(waiting)]

    def check_waits_for(self, check: Check) -> Step | None:
        """The step that must be done before a thing's own check can be true."""
        hold = next((hold for hold in self.holds if hold.check.id == check.id), None)
        if hold is None or not hold.of_thing:
            return None
        waiting = [self.waits_for(step) for step in self.left if step.key in hold.steps]
        return None if not waiting or [] in waiting else waiting[0][0]


def without_repeats(todo: tuple[Step, ...], state: DayState) -> tuple[Step, ...]:
    """The steps without those that only a skipped one would ask for once more.

    A thing that was not moved would else have its bags taken off and hung again for ever, and a set
    that is not as planned would be tested for ever.
    """
    if not any(step.key in state.steps_skipped for step in todo):
        return todo
    done = {each.step.key for each in state.done}
    asked = [step for step in todo if step.verb == "test" or step.key not in done]
    left = [step for step in asked if step.key not in state.steps_skipped and step.verb != "test"]
    if state.floor.tested and not left:
        asked = [step for step in asked if step.verb != "test"]
    return tuple(asked)
