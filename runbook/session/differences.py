"""What differs from the plan as it is shot, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from runbook.change.words import power_said
from runbook.plan.day import Plan
from runbook.plan.setup import Setup
from runbook.plan.shape import plain
from runbook.plan.units import Units
from runbook.session.said import read_said
from runbook.session.truth import Truth, setup_as_shot, setup_asked, setup_stood
from runbook.session.values_said import value_said, word_of

_PARTS: Final = ("exposure", "view", "subject", "background")


def as_shot_lines(plan: Plan, truth: Truth) -> tuple[str, ...]:
    """What differs from the plan, setup by setup, then what was metered."""
    told: list[str] = []
    for setup_id in not_as_planned(plan, truth):
        dialled = dialled_otherwise(plan, setup_as_shot(plan, truth, setup_id))
        told += [f"{setup_id}: {said}" for said in dialled.values()]
        told += [f"{setup_id}: {said}" for said in otherwise(plan, truth, setup_id)]
    for setup_id, readings in truth.readings.items():
        told += [f"{setup_id}: {read_said(each.data, ' read')}" for each in readings.values()]
    return tuple(told)


def not_as_planned(plan: Plan, truth: Truth) -> tuple[str, ...]:
    """The setups that something was changed on, or that had steps of theirs skipped."""
    named = dict.fromkeys((*truth.changes, *truth.stood))
    if truth.begun and truth.at_work is not None and truth.steps_skipped:
        named[truth.at_work] = None
    return tuple(each for each in named if each in plan.setups)


def dialled_otherwise(plan: Plan, setup: Setup) -> dict[str, str]:
    """The heads of a setup as it is shot whose power is not the plan's, and how it differs."""
    planned = plan.setups[setup.id].light
    return {
        light.head: power_said(plan.kit.head[light.head], planned[light.head].power, light.power)
        for light in setup.lights
        if light.head in planned and planned[light.head].power != light.power
    }


def otherwise(plan: Plan, truth: Truth, setup_id: str) -> tuple[str, ...]:
    """What of a setup was not as planned besides the powers, and what no setup can say."""
    stood = setup_stood(plan, truth, setup_id)
    told = differing(plan.setups[setup_id], stood.setup, plan.day.units)
    return (*(said for key, said in told if key != "power"), *stood.words)


def left_undone(plan: Plan, truth: Truth, setup_id: str) -> tuple[str, ...]:
    """What of a setup was not as it was asked for on the day, because steps were skipped."""
    asked, stood = setup_asked(plan, truth, setup_id), setup_stood(plan, truth, setup_id)
    told = differing(asked, stood.setup, plan.day.units)
    return (*(said for _, said in told), *stood.words)


def differing(planned: Setup, really: Setup, units: Units) -> Iterator[tuple[str, str]]:
    """The keys in which a setup was not as planned, each with what it was instead of what.

    Heads and panels that are only in one of the two are not compared.
    """
    for light in really.lights:
        yield from _differing(light.head, planned.light.get(light.head), light, units)
    for place in really.panels:
        yield from _differing(place.panel, planned.panel.get(place.panel), place, units)
    for part in _PARTS:
        yield from _differing(part, getattr(planned, part), getattr(really, part), units)


def _differing(item: str, before: Any, after: Any, units: Units) -> Iterator[tuple[str, str]]:
    was, now = plain(before) or {}, plain(after) or {}
    for key, value in now.items():
        if was.get(key) != value:
            said = (
                f"{value_said(key, value, units)} instead of {value_said(key, was.get(key), units)}"
            )
            yield key, f"{item} {word_of(key)}: {said}"
