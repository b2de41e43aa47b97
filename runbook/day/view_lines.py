"""The lines of the day's view: setups with their status, heads with their readings, the crew with their steps."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass

from runbook.changeover.step_text import short_place_text
from runbook.changeover.steps import Step
from runbook.day.event_text import reading_text
from runbook.day.gates import PendingSteps
from runbook.day.light import meter_place, reads_text, stops_text
from runbook.day.planned_day import PlannedChangeover
from runbook.day.state import DayState, SetupStatus, StepKey
from runbook.light.prediction import HeadLight, Prediction
from runbook.model.day import Plan
from runbook.model.power import Power
from runbook.model.setup import Light, Setup


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
    """A head of the setup at work: its targets, what the plan said, and what it read.

    One that is not ``up`` is no part of the setup as it stands: only its label and role hold.
    """

    head: str
    role: str
    power: Power
    planned: Power
    modifier: str
    place: str
    stand: str
    height_m: float
    reading: str
    state: str
    predicted: str = ""
    over: str = ""
    up: bool = True


@dataclass(frozen=True, slots=True)
class CrewLine:
    """One of the crew: the step to do now (None: free), and the step that must come first.

    ``holds`` is the stand that they are holding while they wait.
    """

    who: str
    step: Step | None
    waits_for: Step | None = None
    holds: str | None = None

    @property
    def text(self) -> str:
        """``first: Hang B1 on S1``, ``photo: free``, ``first: holds S2, waits for ...``."""
        if self.step is None:
            return f"{self.who}: free"
        if self.waits_for is None:
            return f"{self.who}: {self.step.text}"
        return f"{self.who}: {f'holds {self.holds}, ' if self.holds else ''}waits for: {self.waits_for.text}"


def setup_lines(plan: Plan, state: DayState, *, ready: bool) -> tuple[SetupLine, ...]:
    """Return the day's setups in order, and any other of the folder that is at work.

    ``ready`` says whether every step of the changeover at hand is done or skipped.
    """
    here = state.at_work
    extra = (here,) if here in plan.setups and here not in plan.day.order else ()
    lines = []
    for setup_id in (*plan.day.order, *extra):
        setup, status = plan.setups[setup_id], _status(state, setup_id)
        status = "ready" if status == "changing" and ready else status
        frames = state.frames.get(setup_id, 0)
        lines.append(SetupLine(setup_id, setup.title or setup_id, status, frames, setup.frames, setup_id == here))
    return tuple(lines)


def still_to_begin(plan: Plan, state: DayState) -> tuple[str, ...]:
    """Return the setups still to be begun, from the one at work on, then those passed over."""
    order = plan.day.order
    at = order.index(state.at_work) + 1 if state.at_work in order else 0
    return tuple(setup_id for setup_id in order[at:] + order[:at] if _status(state, setup_id) == "to do")


def _status(state: DayState, setup_id: str) -> SetupStatus:
    """Return the status of a setup, whatever steps are left."""
    if setup_id in state.shot:
        return "shot"
    if setup_id in state.setups_skipped:
        return "skipped"
    return "changing" if setup_id == state.at_work else "to do"


def head_lines(
    plan: Plan, state: DayState, target: Setup, setup: Setup, light: Prediction, *, changing: Container[str]
) -> tuple[HeadLine, ...]:
    """Return the heads of ``target``, as they are in the ``setup`` that really stands.

    ``changing`` are the things with steps to do.
    """
    planned = plan.setups[setup.id].light
    lit = {head.head: head for head in light.heads}
    return tuple(
        HeadLine(
            head=each.head,
            role=each.role,
            power=each.power,
            planned=planned.get(each.head, each).power,
            modifier=" + ".join((each.modifier, *each.accessories)),
            place=short_place_text(each, plan.day.units),
            stand=each.stand,
            height_m=each.height_m,
            reading=reading_of(state, setup.id, each.head),
            state="changing" if each.head in changing else "set",
            predicted=_predicted(each, lit.get(each.head))[0],
            over=_predicted(each, lit.get(each.head))[1],
            up=each.head in setup.light,
        )
        for each in (setup.light.get(asked.head, asked) for asked in target.lights)
    )


def _predicted(light: Light, predicted: HeadLight | None) -> tuple[str, str]:
    """Return what a head that fires reads, and how far over that is, or where else it is metered."""
    if predicted is None or not predicted.power.fires:
        return "", ""
    where = meter_place(light)
    if where != "face":  # what it does where it points says more than its spill on the face
        return reads_text(predicted.at_aim_stops), "bg" if where == "background" else "pnl"
    return reads_text(predicted.reads_stops), stops_text(predicted.over_stops)


def reading_of(state: DayState, setup_id: str, head: str | None) -> str:
    """Return the last reading of a head, or of the whole set (None), as a meter shows it."""
    entry = state.readings.get(setup_id, {}).get(head)
    return reading_text(entry.data.stops) if entry else ""


def crew_by_step(planned: PlannedChangeover) -> Mapping[StepKey, tuple[str, ...]]:
    """Return who does each step of a changeover as shared."""
    return {each.step.key: each.crew for each in planned.shares.steps}


def crew_lines(
    planned: PlannedChangeover, pending: PendingSteps, crew: tuple[str, ...], in_hands: Container[str] = ()
) -> tuple[CrewLine, ...]:
    """Return what each of the crew does next of what is left, in the order of the shares.

    ``in_hands`` are the stands that somebody is holding.
    """
    left = {step.key: step for step in pending.left}
    in_order = sorted(planned.shares.steps, key=lambda shared: shared.start_s)
    lines = []
    for who in crew:
        mine = [left[each.step.key] for each in in_order if who in each.crew and each.step.key in left]
        possible = next((step for step in mine if not pending.waits_for(step)), None)
        if possible is not None or not mine:
            lines.append(CrewLine(who, possible))
        else:
            held = mine[0].held if mine[0].held in in_hands else None
            lines.append(CrewLine(who, mine[0], pending.waits_for(mine[0])[0], held))
    return tuple(lines)
