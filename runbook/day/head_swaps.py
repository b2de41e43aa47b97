"""Like heads in other roles: where trading them in a setup would save changing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import log2
from typing import Final, NamedTuple

from runbook.changeover.durations import default_seconds
from runbook.changeover.floor import Floor
from runbook.clock.assignment import assign
from runbook.day.changeovers import change, floor_at, share
from runbook.files.setup_rules import load_kg
from runbook.model.day import Plan
from runbook.model.kit import Head
from runbook.model.power import Power
from runbook.model.setup import Light, Setup

_WORTH_S: Final = 15.0
_CLOSE_STOPS: Final = 0.05  # a light this much off is the same to any meter


class HeadSwap(NamedTuple):
    """Heads traded between roles of a setup: which role takes which head, and what that saves.

    The seconds count the changeover into the setup and the one out of it.
    """

    setup: str
    heads: tuple[tuple[Light, str, Power], ...]
    saves_s: float


def head_swaps(plan: Plan) -> Iterator[HeadSwap]:
    """Every setup of the day in which trading like heads saves changing, in order."""
    order = (None, *plan.order, None)
    for before, (setup, after) in zip(order, pairwise(order[1:]), strict=False):
        if before is None or setup is None:
            continue
        found = _trade(plan, before, setup, after)
        if found is not None:
            yield found


def _trade(plan: Plan, before: Setup, setup: Setup, after: Setup | None) -> HeadSwap | None:
    lights = setup.lights
    floor = floor_at(plan, before)
    powers = [[power_for(plan, light, head.head) for head in lights] for light in lights]
    costs = [
        [
            None if power is None else _cost(floor, light, head.head, power)
            for head, power in zip(lights, row, strict=True)
        ]
        for light, row in zip(lights, powers, strict=True)
    ]
    columns = assign(costs)
    if columns is None:
        return None
    guessed = sum((costs[n][n] or 0.0) - (costs[n][c] or 0.0) for n, c in enumerate(columns))
    if guessed < _WORTH_S:
        return None
    new = []
    traded = []
    for n, column in enumerate(columns):
        light, head, power = lights[n], lights[column].head, powers[n][column]
        assert power is not None
        new.append(replace(light, head=head, power=power))
        if head != light.head:
            traded.append((light, head, power))
    other = _with_heads(setup, tuple(new))
    saves = _total(plan, before, setup, after) - _total(plan, before, other, after)
    return HeadSwap(setup.id, tuple(traded), saves) if saves >= _WORTH_S else None


def _with_heads(setup: Setup, lights: tuple[Light, ...]) -> Setup:
    """The setup with other heads in its roles; what faced a head faces the one in its place."""
    now = {old.head: new.head for old, new in zip(setup.lights, lights, strict=True)}
    looks_at = setup.subject.looks_at
    return replace(
        setup,
        lights=lights,
        subject=replace(setup.subject, looks_at=now.get(looks_at or "", looks_at)),
        panels=tuple(replace(each, face_to=now.get(each.face_to, each.face_to)) for each in setup.panels),
    )


def _total(plan: Plan, before: Setup, setup: Setup, after: Setup | None) -> float:
    changes = (change(plan, before, setup), change(plan, setup, after))
    return sum(share(each.steps, plan).total_s for each in changes)


def power_for(plan: Plan, light: Light, head_id: str) -> Power | None:
    """The power that makes another head give this light; None where it cannot stand in.

    It must have the same guide number's worth of light within its own dial, in its own clicks; be
    fed alike; and not be too heavy for the stand. Heads whose light was metered apart are not like.
    """
    if head_id == light.head:
        return light.power
    kit = plan.kit
    old, new = kit.head[light.head], kit.head[head_id]
    if old.mains != new.mains or _metered(plan, light, old, new) or not _carries(plan, light, new):
        return None
    if light.power.below_full is None:
        return light.power
    wanted = float(light.power.below_full) + 2 * log2(new.guide_number_m / old.guide_number_m)
    lowest = new.dial.lowest.below_full
    if lowest is None or not -_CLOSE_STOPS <= wanted <= float(lowest) + _CLOSE_STOPS:
        return None
    power = new.dial.nearest(wanted)
    assert power.below_full is not None
    return power if abs(float(power.below_full) - wanted) <= _CLOSE_STOPS else None


def _metered(plan: Plan, light: Light, old: Head, new: Head) -> bool:
    return any(row.modifier == light.modifier and row.head in (old.id, new.id) for row in plan.kit.measured)


def _carries(plan: Plan, light: Light, head: Head) -> bool:
    stand = plan.kit.stand[light.stand]
    return load_kg(plan.kit, replace(light, head=head.id), stand) <= stand.load_max_kg


def _cost(floor: Floor, light: Light, head: str, power: Power) -> float:
    """About the seconds it takes to make this head do this light, from where it is now."""
    at = floor.heads.get(head)
    seconds = 0.0
    if at is None or at.stand != light.stand:
        seconds += default_seconds("fit", "head")
        seconds += default_seconds("free", "head") if at is not None else 0.0
    worn = floor.modifier_on(head)
    if (worn or "bare") != light.modifier:
        seconds += default_seconds("free", "modifier") if worn else 0.0
        seconds += default_seconds("fit", "modifier") if light.modifier != "bare" else 0.0
    if at is None or at.power != power:
        seconds += default_seconds("power", "head")
    return seconds
