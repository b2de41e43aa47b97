"""What differs from the plan as it is shot, in words."""

from __future__ import annotations

from runbook.change.words import power_said
from runbook.plan.day import Plan
from runbook.session.said import read_said, said_of
from runbook.session.truth import Truth, setup_as_shot


def as_shot_lines(plan: Plan, truth: Truth) -> tuple[str, ...]:
    """What differs from the plan, setup by setup, then what was metered."""
    told: list[str] = []
    for setup_id, entries in truth.changes.items():
        planned = plan.setups[setup_id].light
        for light in setup_as_shot(plan, truth, setup_id).lights:
            if light.head in planned and planned[light.head].power != light.power:
                head = plan.kit.head[light.head]
                said = power_said(head, planned[light.head].power, light.power)
                told.append(f"{setup_id}: {said}")
        others = [entry for entry in entries if entry.data.key != "power"]
        told += [f"{setup_id}: {said_of(entry)}" for entry in others]
    for setup_id, readings in truth.readings.items():
        told += [f"{setup_id}: {read_said(each.data, ' read')}" for each in readings.values()]
    return tuple(told)
