"""The day's setups in order, and how it stands with each."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import NamedTuple

from runbook.changeover.steps import Step
from runbook.changeover.words import place_short
from runbook.day.event_text import reading_text
from runbook.day.gates import PendingSteps
from runbook.day.light import meter_place, reads_text, stops_text
from runbook.day.planned_day import PlannedChangeover
from runbook.day.state import DayState, SetupStatus, StepKey
from runbook.light.prediction import HeadLight, Prediction
from runbook.model.day import Plan
from runbook.model.power import Power
from runbook.model.setup import Light, Setup


class SetupLine(NamedTuple):
    """A setup in the day's list: its state in a word, and frames taken of frames planned."""

    id: str
    title: str
    state: SetupStatus
    frames: int
    frames_planned: int
    now: bool


def setup_lines(plan: Plan, state: DayState, *, ready: bool) -> tuple[SetupLine, ...]:
    """The day's setups in order, and any other of the folder that is at work.

    ``ready`` says whether every step of the changeover at hand is done or skipped.
    """
    order = list(plan.day.order)
    here = state.at_work
    if here is not None and here in plan.setups and here not in order:
        order.append(here)
    return tuple(_line(plan, state, setup_id, ready=ready) for setup_id in order)


def _line(plan: Plan, state: DayState, setup_id: str, *, ready: bool) -> SetupLine:
    setup = plan.setups[setup_id]
    status = _state(state, setup_id)
    now = setup_id == state.at_work
    return SetupLine(
        setup_id,
        setup.title or setup_id,
        "ready" if status == "changing" and ready else status,
        state.frames.get(setup_id, 0),
        setup.frames,
        now,
    )


def _state(state: DayState, setup_id: str) -> SetupStatus:
    """The state of a setup, where nothing is asked of the steps at hand."""
    if setup_id in state.shot:
        return "shot"
    if setup_id in state.setups_skipped:
        return "skipped"
    return "changing" if setup_id == state.at_work else "to do"


def still_to_begin(plan: Plan, state: DayState) -> tuple[str, ...]:
    """The setups still to be begun, from the one at work on, then those passed over."""
    order = list(plan.day.order)
    at = order.index(state.at_work) + 1 if state.at_work in order else 0
    return tuple(each for each in order[at:] + order[:at] if _state(state, each) == "to do")


class HeadLine(NamedTuple):
    """A head of the setup at hand: its targets, what the plan said, and what it read.

    One that is not ``up`` is no part of the setup as it stands: only its label and role are true.
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


def head_lines(
    plan: Plan, state: DayState, asked: Setup, setup: Setup, light: Prediction, *, changing: Container[str]
) -> tuple[HeadLine, ...]:
    """The heads ``asked`` for, as they are in the ``setup`` that really stands.

    ``changing`` are the things with steps to do.
    """
    planned = plan.setups[setup.id].light
    lit = {each.head: each for each in light.heads}
    return tuple(
        HeadLine(
            each.head,
            each.role,
            each.power,
            planned[each.head].power if each.head in planned else each.power,
            " + ".join((each.modifier, *each.accessories)),
            place_short(each, plan.day.units),
            each.stand,
            each.height_m,
            reading_of(state, setup.id, each.head),
            "changing" if each.head in changing else "set",
            *_predicted(each, lit.get(each.head)),
            each.head in setup.light,
        )
        for each in (setup.light.get(one.head, one) for one in asked.lights)
    )


def _predicted(light: Light, found: HeadLight | None) -> tuple[str, str]:
    """What a head that fires reads, and how far over that is, or where else it is metered."""
    if found is None or not found.power.fires:
        return "", ""
    where = meter_place(light)
    if where != "face":  # what it does where it points says more than its spill on the face
        return reads_text(found.at_aim_stops), "bg" if where == "background" else "pnl"
    return reads_text(found.reads_stops), stops_text(found.over_stops)


def reading_of(state: DayState, setup_id: str, head: str | None) -> str:
    """The last reading of a head, or of the whole set (None), as a meter shows it."""
    entry = state.readings.get(setup_id, {}).get(head)
    return reading_text(entry.data.stops) if entry else ""


class CrewLine(NamedTuple):
    """One of the crew: the step to do now; None is free. ``waits_for`` is what comes first.

    ``holds`` is the stand that is in their hands while they wait.
    """

    who: str
    step: Step | None
    waits_for: Step | None = None
    holds: str | None = None

    @property
    def said(self) -> str:
        """``first: A on S1``, ``second: waits for boom out``, ``photo: free``.

        ``first: holds S2, waits for B2 on S1's column``.
        """
        if self.step is None:
            return f"{self.who}: free"
        if self.waits_for is not None:
            held = f"holds {self.holds}, " if self.holds else ""
            return f"{self.who}: {held}waits for {self.waits_for.text}"
        return f"{self.who}: {self.step.text}"


def crew_by_step(worked: PlannedChangeover) -> Mapping[StepKey, tuple[str, ...]]:
    """Who does each step of a changeover as shared."""
    return {each.step.key: each.crew for each in worked.shares.steps}


def crew_now(
    worked: PlannedChangeover, now: PendingSteps, crew: tuple[str, ...], in_hands: Container[str] = ()
) -> tuple[CrewLine, ...]:
    """What each of the crew does next of what is left, in the order of the shares.

    ``in_hands`` are the stands that somebody is holding.
    """
    left = {step.key: step for step in now.left}
    planned = sorted(worked.shares.steps, key=lambda each: each.start_s)
    found = []
    for who in crew:
        mine = [left[each.step.key] for each in planned if who in each.crew and each.step.key in left]
        ready = next((step for step in mine if not now.waits_for(step)), None)
        if ready is not None:
            found.append(CrewLine(who, ready))
        elif mine:
            held = mine[0].held if mine[0].held in in_hands else None
            found.append(CrewLine(who, mine[0], now.waits_for(mine[0])[0], held))
        else:
            found.append(CrewLine(who, None))
    return tuple(found)
