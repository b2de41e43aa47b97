"""Which floor is looked at: the one at work, or another setup's, without beginning it."""

from __future__ import annotations

from dataclasses import dataclass

from runbook.changeover.floor import EMPTY, Floor
from runbook.day.day_view import DayView
from runbook.day.state import target_floor, target_setup
from runbook.drawing.floor_drawing import FloorPlan, floor_plan
from runbook.model.setup import Setup


@dataclass(frozen=True, slots=True)
class FloorView:
    """A setup's floor (None: the wrap's empty one), its title, and a word on how it comes about."""

    setup: Setup | None
    title: str
    word: str
    drawn: FloorPlan


def floor_ids(session: DayView) -> tuple[str | None, ...]:
    """The floors that can be looked at, in the day's order; None is the wrap."""
    return (*(line.id for line in session.setups), None)


def current_floor(session: DayView) -> str | None:
    """The floor at work; before load-in the next one."""
    return session.state.at_work if session.state.begun else session.next_setup


def floor_view(session: DayView, setup_id: str | None) -> FloorView:
    """The floor of a setup as it is shot today, and what moves on the way to it."""
    plan, state = session.plan, session.state
    setup = None if setup_id is None else target_setup(plan, state, setup_id)
    before, source = _floor_before(session, setup_id)
    drawn = floor_plan(plan, setup, before)
    word = f"only looking, from {source}"
    if state.begun and setup_id == state.at_work:
        word = "changing" if drawn.moves_text else "it stands"
    return FloorView(setup, "the wrap" if setup is None else setup.title or setup.id, word, drawn)


def _floor_before(session: DayView, setup_id: str | None) -> tuple[Floor, str]:
    """The floor before a setup: the real one if it is at work or next, else the planned one."""
    state, known = session.state, floor_ids(session)
    if state.begun and setup_id == state.at_work:
        return state.floor, "what stands"
    if setup_id == session.next_setup and (session.ready or not state.begun):
        return state.real_floor, "what stands" if state.begun else "an empty floor"
    earlier = [each for each in known[: known.index(setup_id)] if each not in state.setups_skipped]
    if not earlier:
        return EMPTY, "an empty floor"
    return target_floor(session.plan, state, earlier[-1]), str(earlier[-1])
