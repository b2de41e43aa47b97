"""The running day after its last event: what every screen, command and report asks.

Nothing here writes or waits: everything follows from the plan and the events.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from runbook.changeover.block_text import Block, blocks
from runbook.changeover.changeover import worded_changeover
from runbook.changeover.checklist import Check, Stage
from runbook.changeover.floor import Floor
from runbook.changeover.safe_step import Ground
from runbook.changeover.steps import Step
from runbook.day.changeovers import scene_of
from runbook.day.event_text import LogLine, log_lines
from runbook.day.gates import NO_STEPS, Hold, PendingSteps, StepLine, checklist, holds, stage_of, without_repeats
from runbook.day.light import power_note
from runbook.day.plan_vs_actual import difference_lines, is_changed, other_changes
from runbook.day.planned_day import Changeovers, PlannedChangeover
from runbook.day.state import (
    CHANGE,
    DayState,
    Tick,
    missing_of_kit,
    place_now,
    standing_setup,
    target_floor,
    target_setup,
)
from runbook.day.view_lines import CrewLine, HeadLine, SetupLine, crew_lines, head_lines, setup_lines, still_to_begin
from runbook.journal.as_shot import Stood
from runbook.journal.events import Entry
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.model.day import Place, Plan
from runbook.model.setup import Setup


@dataclass(frozen=True, eq=False)
class DayView:
    """A plan and the day's state after its last event; each part is worked out when first asked for.

    ``entries`` are all events, ``counted`` those that were not undone.
    """

    changes: Changeovers
    state: DayState
    entries: Sequence[Entry]
    counted: Sequence[Entry]

    @property
    def plan(self) -> Plan:
        """The plan of the day."""
        return self.changes.plan

    # -- the setup at work -------------------------------------------------------------------------

    @cached_property
    def target(self) -> Setup | None:
        """The setup at work as asked for today: the steps lead to it, skipped ones or not."""
        at_work = self.state.at_work
        return target_setup(self.plan, self.state, at_work) if at_work in self.plan.setups else None

    @cached_property
    def stood(self) -> Stood | None:
        """The setup at work as it really stands, and in words what no setup can say of that."""
        return None if self.target is None else standing_setup(self.plan, self.state, self.target.id)

    @property
    def setup(self) -> Setup | None:
        """The setup at work, as it is really shot; None before load-in and at wrap."""
        return None if self.stood is None else self.stood.setup

    @cached_property
    def place(self) -> Place:
        """The day's place; outdoors in the wind entered last."""
        return place_now(self.plan.day.place, self.state)

    @cached_property
    def prediction(self) -> Prediction | None:
        """The predicted light of the setup at work as it is set now, from today's readings where there are any."""
        return None if self.setup is None else predict(self.plan, self.setup, self.state.anchors)

    def head_light(self, head: str) -> HeadLight | None:
        """The predicted light of one head of the setup at work."""
        heads = self.prediction.heads if self.prediction else ()
        return next((light for light in heads if light.head == head), None)

    @cached_property
    def heads(self) -> tuple[HeadLine, ...]:
        """The heads of the setup at work, as it is shot today."""
        target, setup, light = self.target, self.setup, self.prediction
        if target is None or setup is None or light is None:
            return ()
        changing = {step.thing for step in self.todo}
        return head_lines(self.plan, self.state, target, setup, light, changing=changing)

    @cached_property
    def other_than_planned(self) -> tuple[str, ...]:
        """What of the setup at work is not as planned besides the powers, in words."""
        if self.target is None or not is_changed(self.plan, self.state, self.target.id):
            return ()
        return other_changes(self.plan, self.state, self.target.id)

    # -- the changeover at hand --------------------------------------------------------------------

    @cached_property
    def goal(self) -> Floor:
        """The floor that the changeover at hand leads to."""
        if not self._changing:
            return self.state.floor
        return target_floor(self.plan, self.state, self.state.at_work)

    @property
    def _changing(self) -> bool:
        return self.state.wrapping or self.target is not None

    @cached_property
    def pending(self) -> PendingSteps:
        """The steps of the changeover at hand that are not done, and the checks that hold them."""
        state = self.state
        todo: tuple[Step, ...] = ()
        if self._changing:
            todo = without_repeats(self._steps(self.goal, self.target), state)
        # what a break asks comes on top: it lifts no check off a step
        stage = stage_of(replace(state, on_break=None), ready=False)
        held = holds(self.plan, state, todo, self.goal, stage)
        return PendingSteps(todo, held, state.steps_skipped, self._ground(state.floor, self.goal))

    @property
    def todo(self) -> tuple[Step, ...]:
        """The steps of the changeover at hand that are not done."""
        return self.pending.todo

    @property
    def holds(self) -> tuple[Hold, ...]:
        """Every check that holds, or held, a step of the changeover at hand."""
        return self.pending.holds

    @property
    def ready(self) -> bool:
        """Whether every step of the changeover at hand is done or skipped."""
        return self.state.begun and not self.pending.left

    @property
    def stage(self) -> Stage:
        """The stage of the day whose checklist matters now."""
        return stage_of(self.state, ready=self.ready)

    @property
    def checks(self) -> tuple[tuple[Check, Tick | None], ...]:
        """The checklist of this stage: the checks that hold steps first."""
        return checklist(self.plan, self.state, self.stage, self.holds)

    @cached_property
    def lines(self) -> tuple[StepLine, ...]:
        """The steps of the changeover at hand: those done first, as they were done."""
        done = [StepLine(each.step, "done", f"{each.at} {each.by}") for each in self.state.done]
        return (*done, *self._lines(self.pending, self.setup))

    @property
    def next_step(self) -> StepLine | None:
        """The first step that is neither done nor skipped."""
        return next((line for line in self.lines if line.state not in ("done", "skipped")), None)

    def blocks_of(self, steps: tuple[Step, ...]) -> tuple[Block, ...]:
        """Steps folded by thing, with titles."""
        return blocks(steps, scene_of(self.plan, self.target))

    def _steps(self, goal: Floor, setup: Setup | None) -> tuple[Step, ...]:
        return worded_changeover(
            self.state.floor, goal, scene_of(self.plan, setup), self.place, self.changes.timings.seconds
        )

    def _ground(self, floor: Floor, goal: Floor) -> Ground:
        return Ground(floor, goal, self.plan.kit, self.place, self.plan.day.units)

    def _lines(self, steps: PendingSteps, setup: Setup | None) -> tuple[StepLine, ...]:
        """Each step with its status, and with the power that today's readings ask for, where it is another."""
        lines, anchors = tuple(map(steps.line, steps.todo)), self.state.anchors
        if setup is None or not anchors or missing_of_kit(self.plan.kit, setup):
            return lines
        light = predict(self.plan, setup, anchors)
        return tuple(line if line.note else replace(line, note=power_note(line.step, light, anchors)) for line in lines)

    # -- the day -----------------------------------------------------------------------------------

    @property
    def setups(self) -> tuple[SetupLine, ...]:
        """The day's setups in order, and any other of the folder that is at work."""
        return setup_lines(self.plan, self.state, ready=self.ready)

    @property
    def next_setup(self) -> str | None:
        """The first setup in the order, after the one at work, that is still to be shot."""
        return next(iter(still_to_begin(self.plan, self.state)), None)

    @cached_property
    def ahead(self) -> PendingSteps:
        """The steps of the next changeover that can be done while this setup is still shot.

        The crew works beside people then: the checks of a change are asked anew.
        """
        setup_id, state = self.next_setup, self.state
        if setup_id is None or not self.ready or state.wrapping:
            return NO_STEPS
        goal = target_floor(self.plan, state, setup_id)
        done = tuple(done for setup, done in state.ahead if setup == setup_id)
        keys = {each.step.key for each in done}
        steps = self._steps(goal, target_setup(self.plan, state, setup_id))
        todo = tuple(step for step in steps if step.ahead and step.key not in keys)
        then = replace(state, change_checks=state.ahead_checks, done=done)
        return PendingSteps(todo, holds(self.plan, then, todo, goal, CHANGE), {}, self._ground(state.real_floor, goal))

    @property
    def ahead_lines(self) -> tuple[StepLine, ...]:
        """The steps that can be done ahead, each with its status."""
        if self.next_setup is None or not self.ahead.todo:
            return ()
        return self._lines(self.ahead, target_setup(self.plan, self.state, self.next_setup))

    @property
    def planned_change(self) -> PlannedChangeover | None:
        """The changeover at hand as planned and shared; None where the plan has none like it."""
        span = self.state.times.last(self.state.at_work)
        return None if span is None else self.changes.known_between(span.before, span.setup)

    @property
    def crew(self) -> tuple[CrewLine, ...]:
        """Who does what now; nothing where one works alone, or nothing is left."""
        crew = tuple(member.id for member in self.plan.day.crew)
        planned = self.planned_change
        if len(crew) < 2 or not self.pending.left or planned is None:
            return ()
        return crew_lines(planned, self.pending, crew, self.state.floor.in_hands)

    @property
    def log_lines(self) -> tuple[LogLine, ...]:
        """Every event in words, with those that were undone marked."""
        return log_lines(self.entries, self.plan.day.units)

    @cached_property
    def as_shot_lines(self) -> tuple[str, ...]:
        """What differs from the plan, setup by setup."""
        return difference_lines(self.plan, self.state)
