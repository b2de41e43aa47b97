"""``runbook light``: what each head will read, and what goes wrong, before the first pop."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from runbook.commands.out import asked_setups, say, say_json, table
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.light.stops import as_meter
from runbook.plan.day import Plan
from runbook.plan.files import read_day
from runbook.plan.units import length
from runbook.plan.where import find_day
from runbook.session.light import facts, predictions


def run(args: Namespace) -> int:
    """Print the predictions; 0 when done."""
    plan = read_day(find_day(args.day))
    found = predictions(plan, asked_setups(plan, args.setup))
    if args.json:
        say_json(facts(plan, found))
        return 0
    for n, light in enumerate(found):
        say(("\n" if n else "") + "\n".join(_told(plan, light)))
    return 0


def _told(plan: Plan, light: Prediction) -> Iterator[str]:
    setup = plan.setups[light.id]
    shot = setup.exposure
    yield f"{light.id}: f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}"
    rows: list[tuple[str, ...]] = [
        ("", "head", "role", "power", "reads", "over", "under key", "asked for", "size", "")
    ]
    rows += [_head(head) for head in light.heads]
    rows += [_panel(panel) for panel in light.panels]
    yield from (line.rstrip() for line in table(rows))
    yield f"  {', '.join(_whole(plan, light))}"


def stops_said(stops: float | None) -> str:
    """Stops over or under, in tenths; a dash where there is nothing to say."""
    if stops is None or abs(stops) >= 20:
        return "-"
    return f"{stops:+.1f}" if round(stops, 1) else "0.0"


def _reads(stops: float | None) -> str:
    return "-" if stops is None else as_meter(stops)


def _head(head: HeadLight) -> tuple[str, ...]:
    asked = ""
    if head.dial is not None:
        asked = f"dial {head.dial.power}"
        if not head.dial.in_range:
            asked += f", {stops_said(head.dial.left_over_stops)} off the dial"
    marks = [word for word, true in (("FLARE", head.flare), ("IN FRAME", head.in_frame)) if true]
    return (
        " ",
        head.head,
        head.role,
        str(head.power),
        _reads(head.reads_stops),
        stops_said(head.over_stops),
        stops_said(head.under_key_stops),
        asked,
        f"{head.size_deg:.0f}°",
        " ".join(marks),
    )


def _panel(panel: PanelLight) -> tuple[str, ...]:
    mark = "IN FRAME" if panel.in_frame else ""
    over, under = stops_said(panel.over_stops), stops_said(panel.under_key_stops)
    return (" ", panel.panel, "panel", "", _reads(panel.reads_stops), over, under, "", "", mark)


def _whole(plan: Plan, light: Prediction) -> Iterator[str]:
    if light.whole_stops is not None:
        over = stops_said(light.whole_over_stops)
        yield f"all flash, dome to the camera {as_meter(light.whole_stops)} ({over})"
    if light.pattern != "none":
        yield f"pattern {light.pattern}"
    if light.ambient_under_stops is not None:
        yield f"ambient {light.ambient_under_stops:.1f} stops under"
    if light.background_over_stops is not None:
        yield f"background {stops_said(light.background_over_stops)} by falloff"
    yield f"sharp over {length(light.depth_of_field_m, plan.day.units)}"
