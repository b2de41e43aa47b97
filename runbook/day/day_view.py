"""The running day after its last event: what every screen, command and report asks.

Nothing here writes or waits: everything follows from the plan and the events.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from runbook.changeover.checklist import Check, Stage
from runbook.changeover.floor import EMPTY, Floor, held_by
from runbook.changeover.safe_step import Ground
from runbook.changeover.step_text import Block, blocks
from runbook.changeover.steps import Step
from runbook.day.changeovers import Changeover, Changeovers, scene_of
from runbook.day.day_record import differences, setup_changes
from runbook.day.event_text import LogLine, log_lines, reading_place_text
from runbook.day.frame_view import FramesView
from runbook.day.gates import NO_STEPS, Hold, PendingSteps, StepLine, checklist, holds, stage_of, without_repeats
from runbook.day.light import dial_differs, meter_place, power_note, predicted_reading, reads_text, stops_text
from runbook.day.state import DayState, Tick, missing_of_kit, place_now, standing_setup, target_floor, target_setup
from runbook.drawing.floor_drawing import FloorPlan, floor_plan
from runbook.journal.events import Entry
from runbook.light.prediction import HeadLight, LitSetup, Prediction, predict
from runbook.light.stops import meter_text
from runbook.model.day import Place, Plan
from runbook.model.power import Power
from runbook.model.setup import Light, Setup

SetupStatus = Literal["to do", "changing", "ready", "shot", "skipped"]
_AIM_SIGNS = {"face": "", "background": "bg"}  # where a head is metered; any other place is a panel


@dataclass(frozen=True, slots=True)
class SetupLine:
    """A setup in the day's list: its status, and frames shot of frames planned."""

    id: str
    title: str
    state: SetupStatus
    frames: int
    frames_planned: int
    now: bool


@dataclass(frozen=True, slots=True)
class HeadLine:
    """A head of the setup at work as it stands, its planned power, what it is predicted to read, and what it read.

    One that is not ``up`` is no part of the setup as it stands: only its label and role hold.
    """

    light: Light
    planned: Power
    reading: str
    changing: bool
    up: bool
    predicted: str = ""
    over: str = ""

    @property
    def head(self) -> str:
        """Its label."""
        return self.light.head

    @property
    def power(self) -> Power:
        """What it is dialled to."""
        return self.light.power


@dataclass(frozen=True, slots=True)
class CrewLine:
    """One of the crew: the step to do now (None: free), and the step that must come first.

    ``holds`` is the stand or the panel that they are holding meanwhile.
    """

    who: str
    step: Step | None
    waits_for: Step | None = None
    holds: str | None = None

    @property
    def text(self) -> str:
        """``first: Hang B1 on S1``, ``photo: free``, ``first: holds S2, waits for ...``."""
        if self.step is None:
            return f"{self.who}: {f'holds {self.holds}' if self.holds else 'free'}"
        if self.waits_for is None:
            return f"{self.who}: {self.step.text}"
        return f"{self.who}: {f'holds {self.holds}, ' if self.holds else ''}waits for: {self.waits_for.text}"


@dataclass(frozen=True, slots=True)
class FloorView:
    """A setup's floor (None: the wrap's empty one), its title, and a word on how it comes about."""

    setup: Setup | None
    title: str
    word: str
    drawn: FloorPlan


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
    def setup(self) -> Setup | None:
        """The setup at work, as it is really shot; None before load-in and at wrap."""
        return None if self.target is None else standing_setup(self.plan, self.state, self.target.id).setup

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

    @property
    def powers_not_as_asked(self) -> tuple[str, ...]:
        """The heads of the setup at work that do not give what is asked, and would at another power."""
        heads = self.prediction.heads if self.prediction else ()
        return tuple(head.head for head in heads if dial_differs(head))

    @cached_property
    def heads(self) -> tuple[HeadLine, ...]:
        """The heads of the setup at work, as it is shot today."""
        if self.target is None or self.setup is None:
            return ()
        changing = {step.thing for step in self.todo}
        lights = (self.setup.light.get(light.head, light) for light in self.target.lights)
        return tuple(self._head_line(self.setup, light, changing=light.head in changing) for light in lights)

    def _head_line(self, setup: Setup, light: Light, *, changing: bool) -> HeadLine:
        head, reading = light.head, self.state.readings.get(setup.id, {}).get(light.head)
        line = HeadLine(
            light,
            self.plan.setups[setup.id].light.get(head, light).power,
            meter_text(reading.data.stops) if reading else "",
            changing,
            head in setup.light,
        )
        predicted, where = self.head_light(head), meter_place(light)
        if self.prediction is None or predicted is None or not predicted.power.fires:
            return line
        over = stops_text(predicted.over_stops) if where == "face" else _AIM_SIGNS.get(where, "panel")
        return replace(line, predicted=reads_text(predicted_reading(self.prediction, head, where)), over=over)

    @cached_property
    def other_than_planned(self) -> tuple[str, ...]:
        """What of the setup at work is not as planned besides the powers, in words."""
        return () if self.target is None else setup_changes(self.plan, self.state, self.target.id, powers=False)

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
        """The steps of the changeover at hand, those done first, with the power that today's readings ask for."""
        done = [StepLine(step.step, "done", f"{step.at} {step.by}") for step in self.state.done]
        todo, anchors, light = list(map(self.pending.line, self.todo)), self.state.anchors, None
        if self.setup is not None and anchors and not missing_of_kit(self.plan.kit, self.setup):
            light = self.prediction
        noted = (line if line.note else replace(line, note=power_note(line.step, light, anchors)) for line in todo)
        return (*done, *noted)

    @property
    def next_step(self) -> StepLine | None:
        """The first step that is neither done nor skipped."""
        return next((line for line in self.lines if line.state not in ("done", "skipped")), None)

    def blocks_of(self, steps: tuple[Step, ...]) -> tuple[Block, ...]:
        """Steps folded by thing, with titles."""
        return blocks(steps, scene_of(self.plan, self.target))

    def _steps(self, goal: Floor, setup: Setup | None) -> tuple[Step, ...]:
        return self.changes.steps_from(self.state.floor, goal, setup, self.place)

    def _ground(self, floor: Floor, goal: Floor) -> Ground:
        return Ground(floor, goal, self.plan.kit, self.place, self.plan.day.units)

    @property
    def planned_change(self) -> Changeover | None:
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
        left = {step.key: step for step in self.pending.left}
        in_order = sorted(planned.shared, key=lambda shared: shared.start_s)
        lines = []
        for who in crew:
            mine = [left[shared.step.key] for shared in in_order if who in shared.crew and shared.step.key in left]
            step = next((step for step in mine if not self.pending.waits_for(step)), None)
            panels = (name for name, at in self.state.floor.panels.items() if held_by(at) == who)
            held = next(panels, None)
            if step is not None or not mine:
                lines.append(CrewLine(who, step, holds=held))
            else:
                held = held or (mine[0].held if mine[0].hands_on & self.state.floor.in_hands else None)
                lines.append(CrewLine(who, mine[0], self.pending.waits_for(mine[0])[0], held))
        return tuple(lines)

    # -- the day -----------------------------------------------------------------------------------

    @cached_property
    def frames(self) -> FramesView:
        """The camera's frames."""
        return FramesView(self.state)

    @property
    def setups(self) -> tuple[SetupLine, ...]:
        """The day's setups in order, and any other of the folder that is at work."""
        lines, here = [], self.state.at_work or ""
        for setup_id in dict.fromkeys((*self.plan.day.order, here)):
            if (setup := self.plan.setups.get(setup_id)) is None:
                continue
            frames = max(self.state.frames.get(setup_id, 0), 0)  # corrected by hand, and then placed elsewhere
            status = self._status(setup_id)
            lines.append(SetupLine(setup_id, setup.title or setup_id, status, frames, setup.frames, setup_id == here))
        return tuple(lines)

    def _status(self, setup_id: str) -> SetupStatus:
        if setup_id in self.state.shot:
            return "shot"
        if setup_id in self.state.setups_skipped:
            return "skipped"
        if setup_id != self.state.at_work:
            return "to do"
        return "ready" if self.ready else "changing"

    @cached_property
    def waiting(self) -> tuple[str, ...]:
        """The setups still to be begun, from the one at work on, then those before it."""
        order = self.plan.day.order
        at = order.index(self.state.at_work) + 1 if self.state.at_work in order else 0
        return tuple(setup_id for setup_id in order[at:] + order[:at] if self._status(setup_id) == "to do")

    @property
    def next_setup(self) -> str | None:
        """The first setup in the order, after the one at work, that is still to be shot."""
        return next(iter(self.waiting), None)

    @cached_property
    def ahead(self) -> PendingSteps:
        """The steps of the next changeover that can be done while this setup is still shot.

        The crew works beside people then: the checks of a change are asked again.
        """
        setup_id, state = self.next_setup, self.state
        if setup_id is None or not self.ready or state.wrapping:
            return NO_STEPS
        goal = target_floor(self.plan, state, setup_id)
        done = tuple(done for setup, done in state.ahead if setup == setup_id)
        keys = {step.step.key for step in done}
        steps = self._steps(goal, target_setup(self.plan, state, setup_id))
        todo = tuple(step for step in steps if step.ahead and step.key not in keys)
        then = replace(state, change_checks=state.ahead_checks, done=done)
        return PendingSteps(
            todo, holds(self.plan, then, todo, goal, "change"), {}, self._ground(state.real_floor, goal)
        )

    @property
    def log_lines(self) -> tuple[LogLine, ...]:
        """Every event in words, with those that were undone marked."""
        return log_lines(self.entries, self.plan.day.units)

    @cached_property
    def as_shot_lines(self) -> tuple[str, ...]:
        """What differs from the plan, setup by setup, then the meter readings."""
        read = [(setup_id, entry) for setup_id, heads in self.state.readings.items() for entry in heads.values()]
        return (
            *(f"{setup_id}: {text}" for setup_id, text in differences(self.plan, self.state)),
            *(f"{setup_id}: {reading_place_text(entry.data, ' read')}" for setup_id, entry in read),
        )

    # -- the floors, without beginning a setup -----------------------------------------------------

    @property
    def floor_ids(self) -> tuple[str | None, ...]:
        """The floors that can be looked at, in the day's order; None is the wrap."""
        return (*(line.id for line in self.setups), None)

    @property
    def current_floor(self) -> str | None:
        """The floor at work; the next one before load-in, and where the one at work left the plan."""
        here = self.state.wrapping or self.target is not None
        return self.state.at_work if self.state.begun and here else self.next_setup

    def floor_view(self, setup_id: str | None) -> FloorView:
        """The floor of a setup as it is shot today, and what moves on the way to it."""
        setup = None if setup_id is None else target_setup(self.plan, self.state, setup_id)
        before, source = self._floor_before(setup_id)
        drawn = floor_plan(self.plan, setup, before)
        word = f"preview, from {source}"
        if self.state.begun and setup_id == self.state.at_work:
            word = "changing" if drawn.moves_text else "in place"
        return FloorView(setup, "the wrap" if setup is None else setup.title or setup.id, word, drawn)

    def lit_setup(self, setup_id: str | None) -> LitSetup | None:
        """The light of a setup as it is shot today; None for the wrap, and where the kit lacks something of it."""
        setup = self.setup if setup_id == self.state.at_work else None
        if setup is None and setup_id in self.plan.setups:
            setup = target_setup(self.plan, self.state, setup_id)
        if setup is None or missing_of_kit(self.plan.kit, setup):
            return None
        light = self.prediction if setup is self.setup else predict(self.plan, setup, self.state.anchors)
        return None if light is None else LitSetup(self.plan.kit, setup, light, self.state.anchors)

    def _floor_before(self, setup_id: str | None) -> tuple[Floor, str]:
        """The floor before a setup: the real one if it is at work or next, else the planned one."""
        state, known = self.state, self.floor_ids
        if state.begun and setup_id == state.at_work:
            return state.floor, "the set as it is"
        if setup_id == self.next_setup and (self.ready or not state.begun):
            return state.real_floor, "the set as it is" if state.begun else "an empty floor"
        earlier = [name for name in known[: known.index(setup_id)] if name not in state.setups_skipped]
        if not earlier:
            return EMPTY, "an empty floor"
        return target_floor(self.plan, state, earlier[-1]), str(earlier[-1])
