"""What differs from the plan as it is shot, in words."""

from __future__ import annotations

from runbook.change.words import power_said
from runbook.plan.day import Plan
from runbook.plan.setup import Setup
from runbook.session.said import read_said, said_of
from runbook.session.truth import Truth, setup_as_shot


def as_shot_lines(plan: Plan, truth: Truth) -> tuple[str, ...]:
    """What differs from the plan, setup by setup, then what was metered."""
    told: list[str] = []
    for setup_id, entries in truth.changes.items():
        dialled = dialled_otherwise(plan, setup_as_shot(plan, truth, setup_id))
        told += [f"{setup_id}: {said}" for said in dialled.values()]
        others = [entry for entry in entries if entry.data.key != "power"]
        told += [f"{setup_id}: {said_of(entry)}" for entry in others]
    for setup_id, readings in truth.readings.items():
        told += [f"{setup_id}: {read_said(each.data, ' read')}" for each in readings.values()]
    return tuple(told)


def dialled_otherwise(plan: Plan, setup: Setup) -> dict[str, str]:
    """The heads of a setup as it is shot whose power is not the plan's, and how it differs."""
    planned = plan.setups[setup.id].light
    return {
        light.head: power_said(plan.kit.head[light.head], planned[light.head].power, light.power)
        for light in setup.lights
        if light.head in planned and planned[light.head].power != light.power
    }
