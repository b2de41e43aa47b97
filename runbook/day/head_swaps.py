"""Alike heads in other roles: where swapping them in a setup saves changing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log2
from typing import Final

from runbook.changeover.default_durations import default_seconds
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


@dataclass(frozen=True, slots=True)
class HeadSwap:
    """Which role of a setup takes which other head at which power, and the seconds that saves.

    The seconds count the changeover into the setup and the one out of it.
    """

    setup: str
    heads: tuple[tuple[Light, str, Power], ...]
    saves_s: float


def head_swaps(plan: Plan) -> Iterator[HeadSwap]:
    """Yield every setup of the day, the first aside, in which swapping alike heads saves changing."""
    order = (*plan.order, None)
    for before, setup, after in zip(order, order[1:], order[2:], strict=False):
        if before is not None and setup is not None:
            swap = _swap(plan, before, setup, after)
            if swap is not None:
                yield swap


def _swap(plan: Plan, before: Setup, setup: Setup, after: Setup | None) -> HeadSwap | None:
    """Return the swap of a setup's heads that saves most by estimate, if the true changeovers are shorter too."""
    lights, floor = setup.lights, floor_at(plan, before)
    powers = [[power_for(plan, light, other.head) for other in lights] for light in lights]
    costs = [
        [
            None if power is None else _cost_s(floor, light, other.head, power)
            for other, power in zip(lights, row, strict=True)
        ]
        for light, row in zip(lights, powers, strict=True)
    ]
    columns = assign(costs)
    if columns is None:
        return None
    if sum((costs[n][n] or 0.0) - (costs[n][column] or 0.0) for n, column in enumerate(columns)) < _WORTH_S:
        return None
    swapped = tuple(
        replace(light, head=lights[column].head, power=powers[n][column] or light.power)
        for n, (light, column) in enumerate(zip(lights, columns, strict=True))
    )
    other = _with_heads(setup, swapped)
    saves_s = _around_s(plan, before, setup, after) - _around_s(plan, before, other, after)
    if saves_s < _WORTH_S:
        return None
    pairs = zip(lights, swapped, strict=True)
    return HeadSwap(setup.id, tuple((old, new.head, new.power) for old, new in pairs if old.head != new.head), saves_s)


def _with_heads(setup: Setup, lights: tuple[Light, ...]) -> Setup:
    """Return the setup with other heads in its roles; what faced a head faces the one in its place."""
    new_head = {old.head: new.head for old, new in zip(setup.lights, lights, strict=True)}
    looks_at = setup.subject.looks_at
    return replace(
        setup,
        lights=lights,
        subject=replace(setup.subject, looks_at=new_head.get(looks_at or "", looks_at)),
        panels=tuple(replace(panel, face_to=new_head.get(panel.face_to, panel.face_to)) for panel in setup.panels),
    )


def _around_s(plan: Plan, before: Setup, setup: Setup, after: Setup | None) -> float:
    """Return the seconds of the changeovers into and out of a setup."""
    return sum(share(change(plan, *pair).steps, plan).total_s for pair in ((before, setup), (setup, after)))


def power_for(plan: Plan, light: Light, head_id: str) -> Power | None:
    """Return the power at which another head gives this light; None where it cannot replace the one planned.

    It must reach the same light by guide number, within its own dial and in its own clicks; have the same supply; and
    not overload the stand. Heads with meter readings of their own in the kit are never alike.
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


def _cost_s(floor: Floor, light: Light, head: str, power: Power) -> float:
    """Return about the seconds it takes to give this light by this head, from where it is now."""
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
