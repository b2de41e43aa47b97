"""``runbook light``: what each head will read, and what is wrong, before the first test flash."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Container, Iterator

from runbook.commands.load_session import metered_today
from runbook.commands.output import FINE, asked_setups, print_json, print_line, table
from runbook.day.light import (
    cloth_text,
    in_shot_text,
    light_facts,
    light_summary,
    reads_text,
    stops_text,
    under_key_text,
)
from runbook.day.load_plan import read_day
from runbook.files.paths import find_day
from runbook.light.audit import OFF_ASKED_STOPS
from runbook.light.prediction import ClothLight, HeadLight, PanelLight, Prediction, predict
from runbook.model.day import Plan
from runbook.model.kit import Measured

_COLUMNS = ("", "head", "role", "power", "reads", "over", "under key", "set this", "size", "")


def run(args: Namespace) -> int:
    """Print the predictions; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    measured = metered_today(plan, folder)
    lights = [predict(plan, setup, measured) for setup in asked_setups(plan, args.setup)]
    if args.json:
        print_json(light_facts(plan, lights))
    else:
        print_line("\n\n".join("\n".join(_lines(plan, light, measured)) for light in lights))
    return FINE


def _lines(plan: Plan, light: Prediction, measured: Container[Measured]) -> Iterator[str]:
    shot = plan.setups[light.id].exposure
    yield f"{light.id}: f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}"
    heads = [_head_row(head, today=head.measured in measured) for head in light.heads]
    panels = [
        (" ", panel.panel, panel.role or "panel", "", *_readings(panel), "", _size(panel), in_shot_text(panel))
        for panel in light.panels
    ]
    cloths = [
        (" ", cloth.cloth, "cloth", *[""] * 5, _size(cloth), _notes(cloth_text(cloth), in_shot_text(cloth)))
        for cloth in light.cloths
    ]
    yield from table([_COLUMNS, *heads, *panels, *cloths])
    yield f"  {', '.join(light_summary(light, plan.day.units))}"


def _head_row(head: HeadLight, *, today: bool) -> tuple[str, ...]:
    target = ""
    if head.dial is not None:
        left = stops_text(head.dial.left_over_stops)
        off = f", {left} left over" if abs(head.dial.left_over_stops) > OFF_ASKED_STOPS else ""
        target = f"{head.dial.power}{off if head.dial.in_range else f', {left} off the dial'}"
    flare, solved = "LENS FLARE" if head.flare else "", "calculated" if head.solved else ""
    notes = _notes(flare, in_shot_text(head), solved, "metered today" if today else "")
    return (" ", head.head, head.role, str(head.power), *_readings(head), target, _size(head), notes)


def _readings(light: HeadLight | PanelLight) -> tuple[str, str, str]:
    return reads_text(light.reads_stops), stops_text(light.over_stops), under_key_text(light.under_key_stops)


def _size(light: HeadLight | PanelLight | ClothLight) -> str:
    return f"{light.size_deg:.0f}°"


def _notes(*texts: str) -> str:
    return ", ".join(filter(None, texts))
