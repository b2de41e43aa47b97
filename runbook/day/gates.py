"""What holds a step back: checks not ticked yet, steps that come first, and stands that would not be safe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import hypot
from typing import Final, Literal

from runbook.changeover.checklist import Check, Gate, Stage, Trait, checks_for, gates_for
from runbook.changeover.floor import Floor, Hung
from runbook.changeover.safe_step import Ground, why_not_now, with_hold
from runbook.changeover.steps import Step
from runbook.day.changeovers import Changeover, floor_at
from runbook.day.state import CHANGE, DayState, StepKey, Tick
from runbook.model.day import OVERHEAD_M, Plan
from runbook.model.units import mass

# The steps that a stage's own checks hold back; a check not named here holds the test.
_HOLDS: Final[dict[str, frozenset[str]]] = {
    "fall-circle-clear": frozenset({"raise", "lower", "move"}),
    "hands-before-locks": frozenset({"raise", "lower"}),
    "head-before-bag": frozenset({"free", "unbag"}),
}
FRAMES_COPIED: Final = "frames-copied"  # ticked only once it is proved
_EVERY_STEP: Final = frozenset({"exits-free", "first-aid-known"})
# Checks asked only where a boom stands or comes; one that comes in later has checks of its own.
_WITH_BOOMS: Final = frozenset({"booms-balanced", "second-fixings"})
_NEW_FIGURES: Final = frozenset({"raise", "move", "fit"})  # what makes a stand's figures worth a second look
# What is loaded in is lit as it goes up: the first changeover answers for both lists.
_FIRST: Final[tuple[Stage, ...]] = ("load-in", "pre-light")


@dataclass(frozen=True, slots=True)
class Hold:
    """A check, the keys of the steps it holds back, and who ticked it (None while open).

    ``of_thing`` marks a check on one stand, which cannot be true before its step's turn comes.
    """

    check: Check
    steps: frozenset[StepKey]
    tick: Tick | None
    of_thing: bool

    @property
    def open(self) -> bool:
        """Whether it is neither ticked nor set aside."""
        return self.tick is None


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step of the changeover at hand and its status."""

    step: Step
    state: Literal["to do", "done", "skipped", "waits", "held"]
    note: str = ""


@dataclass(frozen=True, slots=True)
class PendingSteps:
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
        """Return whether a step is neither done nor skipped."""
        return any(other.key == step.key for other in self.left)

    def without(self, step: Step, floor: Floor) -> PendingSteps:
        """Return the steps once this one is done and the floor is as given."""
        todo = tuple(other for other in self.todo if other.key != step.key)
        return replace(self, todo=todo, ground=self.ground and replace(self.ground, floor=floor))

    def line(self, step: Step) -> StepLine:
        """Return a step with its status, and why it is skipped or held or must wait."""
        reason = self.skipped.get(step.key)
        if reason is not None:
            return StepLine(step, "skipped", reason)
        holding = self.open_holds(step)
        if holding:
            return StepLine(step, "held", holding[0].check.text)
        if self.waits_for(step):
            return StepLine(step, "waits")
        why = self.why_not_now(step)
        return StepLine(step, "waits", why) if why else StepLine(self.with_hold(step), "to do")

    def why_not_now(self, step: Step) -> str:
        """Return why a step that no other comes before is not safe on the floor as it stands."""
        if self.ground is None:
            return ""
        not_lowered = frozenset(
            stand
            for other in self.todo
            if other.verb == "lower" and other.key in self.skipped
            for stand in stands_moved(other)
        )
        return why_not_now(step, replace(self.ground, not_lowered=not_lowered))

    def with_hold(self, step: Step) -> Step:
        """Return the step with the people who must hold a stand, by the floor as it stands."""
        return step if self.ground is None else with_hold(step, self.ground)

    def open_holds(self, step: Step) -> list[Hold]:
        """Return the open checks that hold a step back."""
        return [hold for hold in self.holds if hold.open and step.key in hold.steps]

    def waits_for(self, step: Step) -> list[Step]:
        """Return the steps that come first, in order; where one was skipped, those before it instead."""
        numbered = {other.n: other for other in self.todo}
        waiting: set[int] = set()
        ask = list(step.after)
        while ask:
            other = numbered.get(ask.pop())
            if other is None:  # done
                continue
            if other.key in self.skipped:
                ask += other.after
            else:
                waiting.add(other.n)
        return [numbered[n] for n in sorted(waiting)]

    def check_waits_for(self, check: Check) -> Step | None:
        """Return the step that must be done before a stand's own check can be true."""
        hold = next((hold for hold in self.holds if hold.check.id == check.id), None)
        if hold is None or not hold.of_thing:
            return None
        waiting = [self.waits_for(step) for step in self.left if step.key in hold.steps]
        return None if not waiting or [] in waiting else waiting[0][0]


NO_STEPS: Final = PendingSteps((), (), {})


def without_repeats(todo: tuple[Step, ...], state: DayState) -> tuple[Step, ...]:
    """Return the steps without those that only a skipped one would ask for once more.

    A thing that was not moved would otherwise have its bags taken off and hung again for ever, and
    a set that is not as planned would be tested for ever.
    """
    if not any(step.key in state.steps_skipped for step in todo):
        return todo
    done = {each.step.key for each in state.done}
    asked = [step for step in todo if step.verb == "test" or step.key not in done]
    left = [step for step in asked if step.key not in state.steps_skipped and step.verb != "test"]
    if state.floor.tested and not left:
        asked = [step for step in asked if step.verb != "test"]
    return tuple(asked)


# -- the checklist ---------------------------------------------------------------------------------


def stage_of(state: DayState, *, ready: bool) -> Stage:
    """Return the stage of the day whose checklist matters now."""
    if state.on_break is not None:
        return "meal"
    if state.wrapping:
        return "wrap"
    if not state.begun:
        return "load-in"
    if ready:
        return "talent"
    return "change" if state.lit else "pre-light"


def stage_checks(plan: Plan, stage: Stage, state: DayState | None = None) -> tuple[Check, ...]:
    """Return the checklist of a stage on this day, with this kit; by the ``state`` too, where the day runs."""
    return checks_for(
        stage,
        outdoors=not plan.day.place.indoors,
        mains=any(head.mains for head in plan.kit.heads),
        booms=any(stand.is_boom for stand in plan.kit.stands),
        frames=plan.day.frames_folder is not None if state is None else state.shots is not None,
    )


def tick_of(state: DayState, check: Check) -> Tick | None:
    """Return who ticked a check; the checks of a change are ticked again in each changeover."""
    return (state.change_checks if check.stage == CHANGE else state.checks).get(check.id)


def checklist(
    plan: Plan, state: DayState, stage: Stage, held: tuple[Hold, ...]
) -> tuple[tuple[Check, Tick | None], ...]:
    """Return the checks of a stage, and who ticked them: those that hold a changeover first."""
    checks = {hold.check.id: hold.check for hold in held}
    for check in stage_checks(plan, stage, state):
        checks.setdefault(check.id, check)
    return tuple((check, tick_of(state, check)) for check in checks.values())


def stands_moved(step: Step) -> tuple[str, ...]:
    """Return the stands that a step raises or lowers: one, or both of a rail."""
    return tuple(str(step.on).split()) if step.moves_rail else (step.item,) if step.kind == "stand" else ()


# -- which check holds which step ------------------------------------------------------------------


def planned_checks(plan: Plan, changes: Iterable[Changeover]) -> Iterator[tuple[Hold, ...]]:
    """Yield the checks that hold steps of each changeover of the day; those asked once a day only the first time."""
    ticked: dict[str, Tick] = {}
    for change in changes:
        state = DayState(floor_at(plan, plan.setups.get(change.start or "")), change.goal, checks=ticked)
        stage: Stage = "wrap" if change.goal is None else "change" if change.start else "load-in"
        goal = floor_at(plan, plan.setups.get(change.goal or ""))
        open_holds = tuple(hold for hold in holds(plan, state, change.steps, goal, stage) if hold.open)
        once = [hold.check.id for hold in open_holds if hold.check.stage != CHANGE]
        ticked = ticked | {check_id: Tick("", "", setup=change.goal) for check_id in once}
        yield open_holds


def holds(plan: Plan, state: DayState, todo: tuple[Step, ...], goal: Floor, stage: Stage) -> tuple[Hold, ...]:
    """Return every check that holds, or held, a step of the changeover at hand, in calling order.

    Steps already done still count: a figure that changed is checked before the test, however long
    ago its stand went up.
    """
    steps = (*(each.step for each in state.done), *todo)
    wanted: dict[str, Hold] = {}
    of_stage = _of_stage(plan, stage, (*goal.stands, *state.floor.stands), todo, steps)
    of_things = (*_of_things(plan, state, goal, todo, steps), *_of_rails(plan, goal, todo, steps))
    for check, keys, of_thing in (*of_stage, *of_things):
        so_far = wanted[check.id].steps if check.id in wanted else frozenset()
        tick = tick_of(state, check)
        if keys or tick:
            wanted[check.id] = Hold(check, so_far | keys, tick, of_thing)
    return tuple(wanted.values())


_Held = tuple[Check, set[StepKey], bool]  # a check, the steps it holds, whether it is of one stand


def _of_stage(
    plan: Plan, stage: Stage, stands: tuple[str, ...], todo: tuple[Step, ...], steps: tuple[Step, ...]
) -> Iterator[_Held]:
    new_figures = any(step.verb in _NEW_FIGURES for step in steps)
    booms = any(plan.kit.stand[stand].is_boom for stand in stands)
    stages = _FIRST if stage in _FIRST else (stage,) if stage in ("change", "wrap") else ()
    for check in (check for each in stages for check in stage_checks(plan, each) if check.holds):
        if (new_figures or check.id != "figures-renewed") and (booms or check.id not in _WITH_BOOMS):
            yield check, {step.key for step in todo if _holds_back(check, step)}, False


def _holds_back(check: Check, step: Step) -> bool:
    if check.id == "head-before-bag" and isinstance(step.to, Hung) and step.to.kind != "stand":
        return False  # a panel's bag waits for no head
    return check.id in _EVERY_STEP or step.verb in _HOLDS.get(check.id, frozenset({"test"}))


def _of_things(
    plan: Plan, state: DayState, goal: Floor, todo: tuple[Step, ...], steps: tuple[Step, ...]
) -> Iterator[_Held]:
    of_stands = ("stand", "counterweight")
    booms = {step.item for step in steps if step.kind in of_stands and plan.kit.stand[step.item].is_boom}
    for step in todo:
        is_test, kind = step.verb == "test", "stand" if step.moves_rail else step.kind
        own = [step.item] if step.kind in of_stands else stands_moved(step) if step.moves_rail else ()
        for stand in sorted(booms & goal.stands.keys()) if is_test else own:
            for gate in gates_for(step.verb, kind, _traits(plan, state, stand, goal)):
                yield _on(gate, plan, stand, goal), {step.key}, True
        if is_test:
            for gate in gates_for("test", "set", ("first-pop",)):
                yield gate.on(), {step.key}, True
                talent = _came_later(plan, state, tick_of(state, gate.on()))
                for other in gates_for("test", "set", ("new-talent",) if talent else ()):
                    yield other.on(talent), {step.key}, True


def _of_rails(plan: Plan, goal: Floor, todo: tuple[Step, ...], steps: tuple[Step, ...]) -> Iterator[_Held]:
    """Yield the checks of the rails over reach that are hung in this changeover."""
    hung = {step.item for step in steps if step.key[:2] == ("place", "cloth")} & goal.hung.keys()
    rails = sorted(cloth for cloth in hung if goal.hung[cloth].rail_m > plan.day.place.reach_m)
    for step in todo:
        for cloth in (cloth for cloth in rails if step.verb == "test" or step.key[1:] == ("cloth", cloth)):
            for gate in gates_for(step.verb, step.kind, ("rail",)):
                yield gate.on(cloth), {step.key}, True


def _came_later(plan: Plan, state: DayState, everyone: Tick | None) -> str:
    """Return the talent of the setup at work, if they were not there yet when everyone was asked."""
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
    where = "on the column"
    if any(goal.bags[bag].at == "far legs" for bag in bags):
        two = goal.stands[stand].spot.leg_under_load == bool(plan.kit.stand[stand].legs % 2)
        where = "half on each far leg" if two else "on the leg away from the load"
    return gate.on(stand=stand, kg=mass(kilograms, plan.day.units), where=where)


def bags_missing(hold: Hold, state: DayState, goal: Floor) -> tuple[str, ...]:
    """Return the bags that a stand's own check names and that do not hang there."""
    stand = hold.check.id.removeprefix("bagged-")
    if not hold.of_thing or stand == hold.check.id:
        return ()
    return tuple(sorted(goal.bags_on("stand", stand) - state.real_floor.bags_on("stand", stand)))
