"""Steps of one thing that follow each other, folded into a block with a title."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from runbook.changeover.step_text import Scene, short_place_text
from runbook.changeover.steps import Step, read_power
from runbook.model.setup import Light, PanelPlace
from runbook.model.units import length

# Left out of a title, unless the block has nothing else.
_MINOR: Final = {"aim": "aim", "arm": "switch on", "disarm": "switch off"}
_LATER: Final = {"place": 1, "move": 1, "raise": 2, "lower": 2, "power": 3, "bag": 4, "strike": 5}


@dataclass(frozen=True, slots=True)
class Block:
    """Steps of one thing that follow each other, with a title that sums them up."""

    thing: str
    title: str
    steps: tuple[Step, ...]


def blocks(steps: Iterable[Step], scene: Scene) -> tuple[Block, ...]:
    """Fold steps that follow each other and belong to one thing."""
    groups = ((thing, tuple(group)) for thing, group in groupby(steps, key=lambda step: step.thing))
    return tuple(Block(thing, _title(group, scene), group) for thing, group in groups)


def _title(steps: tuple[Step, ...], scene: Scene) -> str:
    """Return what comes on or off, where, how high and at what power; of one step, its text."""
    if len(steps) == 1:
        return steps[0].text
    ends_up = any(step.verb in ("raise", "strike") for step in steps)
    parts = [
        _part(step, scene)
        for step in sorted(steps, key=lambda step: _LATER.get(step.verb, 0))
        if step.verb not in _MINOR and not (step.verb == "lower" and ends_up)
    ]
    label = "Camera" if steps[0].thing == "camera" else steps[0].thing
    rest = [_MINOR.get(step.verb, step.verb) for step in steps]
    return f"{label}: {', '.join(filter(None, parts)) or ' and '.join(rest)}"


def _part(step: Step, scene: Scene) -> str:
    """Return a step's part of a title; empty where the rest implies it."""
    match step.verb, step.kind:
        case (("place" | "move"), _):
            part = _place_part(step, scene)
        case "strike", _:
            part = f"{step.item} off set"
        case (("raise" | "lower"), _):
            part = f"{'up' if step.verb == 'raise' else 'down'} to {length(step.to, scene.units)}"
        case "power", _:
            part = str(read_power(step.to))
        case "fit", "head":
            part = f"on {step.on}"
        case "free", "head":
            part = f"off {step.on}" if step.on else "in its case"
        case (("fit" | "free"), "counterweight"):
            part = "counterweight" if step.verb == "fit" else ""
        case (("fit" | "bag"), _):
            part = step.item
        case (("free" | "unbag"), ("bag" | "accessory")):
            part = ""
        case "free", _:
            part = f"{step.item} off"
        case _:
            part = step.text.removeprefix("Camera: ")
    return part


def _place_part(step: Step, scene: Scene) -> str:
    place: Light | PanelPlace | None = scene.light_on(step.item)
    if step.kind == "panel":
        place = scene.setup.panel.get(step.item) if scene.setup else None
    where = short_place_text(place, scene.units) if place else "its place"
    return where if step.verb == "place" else f"to {where}"
