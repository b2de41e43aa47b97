"""What differs from the plan as it is shot, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from runbook.changeover.words import power_said
from runbook.day.event_text import key_label, reading_place_text, value_text
from runbook.day.state import DayState, setup_as_shot, setup_on_record, setups_without_snapshot, target_on_record
from runbook.files.validate import plain
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import Units

NOT_RECORDED: Final = "the journal does not hold how it stood when it was shot; as shot follows the plan as it is now"
_PARTS: Final = ("exposure", "view", "subject", "background")


def difference_lines(plan: Plan, state: DayState) -> tuple[str, ...]:
    """What differs from the plan, setup by setup, then what was metered."""
    told: list[str] = []
    for setup_id in changed_setups(plan, state):
        dialled = power_changes(plan, setup_as_shot(plan, state, setup_id))
        told += [f"{setup_id}: {said}" for said in dialled.values()]
        told += [f"{setup_id}: {said}" for said in other_changes(plan, state, setup_id)]
    told += [f"{setup_id}: {NOT_RECORDED}" for setup_id in setups_without_snapshot(state)]
    for setup_id, readings in state.readings.items():
        told += [f"{setup_id}: {reading_place_text(each.data, ' read')}" for each in readings.values()]
    return tuple(told)


def changed_setups(plan: Plan, state: DayState) -> tuple[str, ...]:
    """The setups that something was changed on, or that had steps of theirs skipped.

    A setup whose plan was edited after it was shot is one of them.
    """
    named = dict.fromkeys((*state.changes, *state.stood, *state.frozen, state.at_work or ""))
    return tuple(each for each in named if is_changed(plan, state, each))


def is_changed(plan: Plan, state: DayState, setup_id: str) -> bool:
    """Whether a setup of the plan was changed, or stood otherwise than the plan has it."""
    if setup_id not in plan.setups:
        return False
    kept = state.frozen.get(setup_id)
    skipped = state.begun and setup_id == state.at_work and bool(state.steps_skipped)
    otherwise_kept = kept is not None and (bool(kept.stood.words) or kept.stood.setup != plan.setups[setup_id])
    return setup_id in state.changes or setup_id in state.stood or skipped or otherwise_kept


def power_changes(plan: Plan, setup: Setup) -> dict[str, str]:
    """The heads of a setup as it is shot whose power is not the plan's, and how it differs."""
    planned = plan.setups[setup.id].light
    return {
        light.head: power_said(plan.kit.head[light.head], planned[light.head].power, light.power)
        for light in setup.lights
        if light.head in planned and planned[light.head].power != light.power
    }


def other_changes(plan: Plan, state: DayState, setup_id: str) -> tuple[str, ...]:
    """What of a setup was not as planned besides the powers, and what no setup can say."""
    stood = setup_on_record(plan, state, setup_id)
    told = differing_keys(plan.setups[setup_id], stood.setup, plan.day.units)
    others = (said for key, said in told if key != "power")
    return (*others, *_only_in_one(plan, state, setup_id), *stood.words)


def setup_changes(plan: Plan, setup_id: str, state: DayState) -> Iterator[tuple[str, str]]:
    """What of a setup was not as the plan has it: the setup, and what it was instead of what."""
    stood = setup_on_record(plan, state, setup_id)
    told = (said for _, said in differing_keys(plan.setups[setup_id], stood.setup, plan.day.units))
    for said in (*told, *_only_in_one(plan, state, setup_id), *stood.words):
        yield setup_id, said


def _only_in_one(plan: Plan, state: DayState, setup_id: str) -> Iterator[str]:
    """The heads and panels that the plan got or lost after the setup was shot."""
    asked, planned = target_on_record(plan, state, setup_id), plan.setups[setup_id]
    for then, now in ((asked.light, planned.light), (asked.panel, planned.panel)):
        for item in then.keys() - now.keys():
            yield f"{item}: in the setup as shot, not in the plan now"
        for item in now.keys() - then.keys():
            yield f"{item}: in the plan now, not in the setup as shot"


def left_undone(plan: Plan, state: DayState, setup_id: str) -> tuple[str, ...]:
    """What of a setup was not as it was asked for on the day, because steps were skipped."""
    asked, stood = target_on_record(plan, state, setup_id), setup_on_record(plan, state, setup_id)
    told = differing_keys(asked, stood.setup, plan.day.units)
    return (*(said for _, said in told), *stood.words)


def differing_keys(planned: Setup, really: Setup, units: Units) -> Iterator[tuple[str, str]]:
    """The keys in which a setup was not as planned, each with what it was instead of what.

    Heads and panels that are only in one of the two are not compared.
    """
    for light in really.lights:
        if light.head in planned.light:
            yield from _differing(light.head, planned.light[light.head], light, units)
    for place in really.panels:
        if place.panel in planned.panel:
            yield from _differing(place.panel, planned.panel[place.panel], place, units)
    for part in _PARTS:
        yield from _differing(part, getattr(planned, part), getattr(really, part), units)


def _differing(item: str, before: Any, after: Any, units: Units) -> Iterator[tuple[str, str]]:
    was, now = plain(before) or {}, plain(after) or {}
    for key, value in now.items():
        if was.get(key) != value:
            said = f"{value_text(key, value, units)} instead of {value_text(key, was.get(key), units)}"
            yield key, f"{item} {key_label(key)}: {said}"
