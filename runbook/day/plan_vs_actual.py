"""How setups as shot differ from the plan, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from runbook.changeover.step_text import power_change_text
from runbook.day.event_text import key_label, reading_place_text, value_text
from runbook.day.state import DayState, setup_as_shot, setup_on_record, setups_without_snapshot, target_on_record
from runbook.files.validate import plain
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import Units

NOT_RECORDED: Final = "the journal does not hold how it stood when it was shot; as shot follows the plan as it is now"
_PARTS: Final = ("exposure", "view", "subject", "background")


def difference_lines(plan: Plan, state: DayState) -> tuple[str, ...]:
    """What differs from the plan, setup by setup, then the meter readings."""
    lines: list[str] = []
    for setup_id in changed_setups(plan, state):
        powers = power_changes(plan, setup_as_shot(plan, state, setup_id)).values()
        lines += [f"{setup_id}: {text}" for text in (*powers, *other_changes(plan, state, setup_id))]
    lines += [f"{setup_id}: {NOT_RECORDED}" for setup_id in setups_without_snapshot(state)]
    for setup_id, readings in state.readings.items():
        lines += [f"{setup_id}: {reading_place_text(entry.data, ' read')}" for entry in readings.values()]
    return tuple(lines)


def changed_setups(plan: Plan, state: DayState) -> tuple[str, ...]:
    """The setups changed on the day, with steps skipped, or with a plan edited after the shot."""
    known = dict.fromkeys((*state.changes, *state.stood, *state.frozen, state.at_work or ""))
    return tuple(setup_id for setup_id in known if is_changed(plan, state, setup_id))


def is_changed(plan: Plan, state: DayState, setup_id: str) -> bool:
    """Whether a setup of the plan was changed, or stood differently from the plan."""
    if setup_id not in plan.setups:
        return False
    if setup_id in state.changes or setup_id in state.stood:
        return True
    if state.begun and setup_id == state.at_work and state.steps_skipped:
        return True
    kept = state.frozen.get(setup_id)
    return kept is not None and (bool(kept.stood.words) or kept.stood.setup != plan.setups[setup_id])


def power_changes(plan: Plan, setup: Setup) -> dict[str, str]:
    """How the powers of a setup as shot differ from the plan's, by head."""
    planned = plan.setups[setup.id].light
    return {
        light.head: power_change_text(plan.kit.head[light.head], planned[light.head].power, light.power)
        for light in setup.lights
        if light.head in planned and planned[light.head].power != light.power
    }


def other_changes(plan: Plan, state: DayState, setup_id: str) -> tuple[str, ...]:
    """How a setup differs from the plan in anything but powers."""
    return tuple(_changes(plan, state, setup_id, without=("power",)))


def setup_changes(plan: Plan, setup_id: str, state: DayState) -> tuple[str, ...]:
    """How a setup differs from the plan in anything."""
    return tuple(_changes(plan, state, setup_id))


def _changes(plan: Plan, state: DayState, setup_id: str, without: tuple[str, ...] = ()) -> Iterator[str]:
    stood, planned = setup_on_record(plan, state, setup_id), plan.setups[setup_id]
    yield from (text for key, text in _differing_keys(planned, stood.setup, plan.day.units) if key not in without)
    # heads and panels that the plan got or lost after the setup was shot
    target = target_on_record(plan, state, setup_id)
    for then, now in ((target.light, planned.light), (target.panel, planned.panel)):
        yield from (f"{item}: in the setup as shot, not in the plan now" for item in then.keys() - now.keys())
        yield from (f"{item}: in the plan now, not in the setup as shot" for item in now.keys() - then.keys())
    yield from stood.words


def left_undone(plan: Plan, state: DayState, setup_id: str) -> tuple[str, ...]:
    """What of a setup differs from its targets of the day because steps were skipped."""
    stood = setup_on_record(plan, state, setup_id)
    target = target_on_record(plan, state, setup_id)
    return (*(text for _, text in _differing_keys(target, stood.setup, plan.day.units)), *stood.words)


def _differing_keys(planned: Setup, actual: Setup, units: Units) -> Iterator[tuple[str, str]]:
    """The keys in which two setups differ, in words; heads and panels of only one are left out."""
    pairs: list[tuple[str, Any, Any]] = [
        (light.head, planned.light[light.head], light) for light in actual.lights if light.head in planned.light
    ]
    pairs += [(each.panel, planned.panel[each.panel], each) for each in actual.panels if each.panel in planned.panel]
    pairs += [(part, getattr(planned, part), getattr(actual, part)) for part in _PARTS]
    for item, before, after in pairs:
        was, now = plain(before) or {}, plain(after) or {}
        for key, value in now.items():
            if was.get(key) != value:
                values = f"{value_text(key, value, units)} instead of {value_text(key, was.get(key), units)}"
                yield key, f"{item} {key_label(key)}: {values}"
