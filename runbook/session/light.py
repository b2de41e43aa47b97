"""The day's light: predictions setup by setup, anchored by what the meter really showed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite
from typing import Any, Final

from runbook.light.battery import Battery, batteries
from runbook.light.predict import predict
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.light.stops import as_meter, f_number
from runbook.plan.day import Plan
from runbook.plan.kit import Kit, Measured
from runbook.plan.setup import Light, Setup

# A head far outside its beam reads something, but nothing a person would call light.
_NO_LIGHT: Final = 20.0


def predictions(
    plan: Plan, setups: Iterable[Setup], measured: Sequence[Measured] = ()
) -> tuple[Prediction, ...]:
    """The predictions of some setups. Raises ValueError as ``predict``."""
    return tuple(predict(plan, setup, measured) for setup in setups)


def anchor(kit: Kit, setup: Setup, light: Light, stops: float) -> Measured | None:
    """A reading of one head as a row like the kit's own, to carry other predictions from.

    What a cloth took is given back, for a row speaks of the head without it. None when the head
    is off or not aimed at the face: then the reading says nothing of its axis.
    """
    if light.aim != "face" or not light.power.fires:
        return None
    cloths = sum(kit.cloth[cloth].loss_stops for cloth in light.through)
    return Measured(
        head=light.head,
        power=str(light.power),
        distance_m=light.distance_m,
        reads_f=f_number(stops + cloths),
        modifier=light.modifier,
        accessories=light.accessories,
        iso=setup.exposure.iso,
    )


def over_said(stops: float | None, nothing: str = "-") -> str:
    """Stops over or under, in tenths; ``nothing`` where there is nothing to say."""
    if stops is None or abs(stops) >= _NO_LIGHT:
        return nothing
    return f"{stops:+.1f}" if round(stops, 1) else "0.0"


def reads_said(stops: float | None) -> str:
    """A predicted reading as a meter shows it, or a dash."""
    return "-" if stops is None else as_meter(stops)


def metered(head: str | None, stops: float, predicted: float | None, now: HeadLight | None) -> str:
    """What a typed reading says of the prediction, and the power that gives what was asked."""
    said = f"{head or 'all heads'} read {as_meter(stops)}"
    if predicted is not None:
        off = stops - predicted
        said += f", {abs(off):.1f} {'over' if off > 0 else 'under'} the prediction"
    if now is not None and now.dial is not None and now.asked_stops is not None:
        said += f"; {as_meter(now.asked_stops)} asked: "
        if now.dial.power == now.power:
            said += "as dialled"
        elif now.dial.in_range:
            said += f"p dials {now.dial.power}"
        else:
            left = over_said(now.dial.left_over_stops)
            said += f"{now.dial.power} is the end of the dial, {left} off"
    return said


def facts(plan: Plan, found: Iterable[Prediction]) -> dict[str, Any]:
    """Predictions as plain data for a program."""
    return {
        "setups": [_setup_facts(each) for each in found],
        "batteries": [_battery_facts(each) for each in batteries(plan)],
    }


def _setup_facts(light: Prediction) -> dict[str, Any]:
    depth = light.depth_of_field_m
    return {
        "id": light.id,
        "aperture_f": light.aperture_f,
        "ambient_under_stops": light.ambient_under_stops,
        "whole_f": light.whole_f,
        "whole_over_stops": light.whole_over_stops,
        "pattern": light.pattern,
        "depth_of_field_m": depth if isfinite(depth) else None,
        "background_over_stops": light.background_over_stops,
        "heads": [_head_facts(head) for head in light.heads],
        "panels": [_panel_facts(panel) for panel in light.panels],
    }


def _head_facts(head: HeadLight) -> dict[str, Any]:
    dial = head.dial
    return {
        "head": head.head,
        "role": head.role,
        "power": str(head.power),
        "reads_f": head.reads_f,
        "over_stops": head.over_stops,
        "under_key_stops": head.under_key_stops,
        "size_deg": head.size_deg,
        "flare": head.flare,
        "in_frame": head.in_frame,
        "recycle_s": head.recycle_s,
        "shadow_edge_m": head.shadow_edge_m,
        "dial": None
        if dial is None
        else {
            "power": str(dial.power),
            "left_over_stops": dial.left_over_stops,
            "in_range": dial.in_range,
        },
    }


def _panel_facts(panel: PanelLight) -> dict[str, Any]:
    return {
        "panel": panel.panel,
        "reads_f": panel.reads_f,
        "over_stops": panel.over_stops,
        "under_key_stops": panel.under_key_stops,
        "in_frame": panel.in_frame,
    }


def _battery_facts(battery: Battery) -> dict[str, Any]:
    return {
        "head": battery.head,
        "spent": battery.spent,
        "of": battery.of,
        "change_before": battery.change_before,
    }
