"""The day's setups in order, and how it stands with each."""

from __future__ import annotations

from typing import NamedTuple

from runbook.day.state import DayState, State
from runbook.model.day import Plan


class SetupLine(NamedTuple):
    """A setup in the day's list: its state in a word, and frames taken of frames planned."""

    id: str
    title: str
    state: State
    frames: int
    frames_planned: int
    now: bool


def setup_lines(plan: Plan, truth: DayState, *, ready: bool) -> tuple[SetupLine, ...]:
    """The day's setups in order, and any other of the folder that is at work.

    ``ready`` says whether every step of the changeover at hand is done or skipped.
    """
    order = list(plan.day.order)
    here = truth.at_work
    if here is not None and here in plan.setups and here not in order:
        order.append(here)
    return tuple(_line(plan, truth, setup_id, ready=ready) for setup_id in order)


def _line(plan: Plan, truth: DayState, setup_id: str, *, ready: bool) -> SetupLine:
    setup = plan.setups[setup_id]
    state = _state(truth, setup_id)
    now = setup_id == truth.at_work
    return SetupLine(
        setup_id,
        setup.title or setup_id,
        "ready" if state == "changing" and ready else state,
        truth.frames.get(setup_id, 0),
        setup.frames,
        now,
    )


def _state(truth: DayState, setup_id: str) -> State:
    """The state of a setup, where nothing is asked of the steps at hand."""
    if setup_id in truth.shot:
        return "shot"
    if setup_id in truth.setups_skipped:
        return "skipped"
    return "changing" if setup_id == truth.at_work else "to do"


def still_to_begin(plan: Plan, truth: DayState) -> tuple[str, ...]:
    """The setups still to be begun, from the one at work on, then those passed over."""
    order = list(plan.day.order)
    at = order.index(truth.at_work) + 1 if truth.at_work in order else 0
    return tuple(each for each in order[at:] + order[:at] if _state(truth, each) == "to do")
