"""``runbook light``: what each head will read, and what goes wrong, before the first pop."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Container, Iterator

from runbook.commands.metered_today import metered_today
from runbook.commands.out import asked_setups, say, say_json, table
from runbook.day.light import light_facts, light_summary, predictions, reads_text, stops_text, under_key_text
from runbook.files.load import read_day
from runbook.files.paths import find_day
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.model.day import Plan
from runbook.model.kit import Measured


def run(args: Namespace) -> int:
    """Print the predictions; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    measured = metered_today(plan, folder)
    lights = predictions(plan, asked_setups(plan, args.setup), measured)
    if args.json:
        say_json(light_facts(plan, lights))
        return 0
    for n, light in enumerate(lights):
        say(("\n" if n else "") + "\n".join(_told(plan, light, measured)))
    return 0


def _told(plan: Plan, light: Prediction, measured: Container[Measured]) -> Iterator[str]:
    setup = plan.setups[light.id]
    shot = setup.exposure
    yield f"{light.id}: f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}"
    rows: list[tuple[str, ...]] = [("", "head", "role", "power", "reads", "over", "under key", "asked for", "size", "")]
    rows += [_head(head, today=head.measured in measured) for head in light.heads]
    rows += [_panel(panel) for panel in light.panels]
    yield from (line.rstrip() for line in table(rows))
    yield f"  {', '.join(light_summary(light, plan.day.units))}"


def _head(head: HeadLight, *, today: bool) -> tuple[str, ...]:
    asked = ""
    if head.dial is not None:
        asked = f"dial {head.dial.power}"
        if not head.dial.in_range:
            asked += f", {stops_text(head.dial.left_over_stops)} off the dial"
    notes = (("FLARE", head.flare), ("IN FRAME", head.in_frame), ("metered today", today))
    marks = [word for word, true in notes if true]
    return (
        " ",
        head.head,
        head.role,
        str(head.power),
        reads_text(head.reads_stops),
        stops_text(head.over_stops),
        under_key_text(head.under_key_stops),
        asked,
        f"{head.size_deg:.0f}°",
        ", ".join(marks),
    )


def _panel(panel: PanelLight) -> tuple[str, ...]:
    mark = "IN FRAME" if panel.in_frame else ""
    over, under = stops_text(panel.over_stops), under_key_text(panel.under_key_stops)
    return (" ", panel.panel, "panel", "", reads_text(panel.reads_stops), over, under, "", "", mark)
