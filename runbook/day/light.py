"""The day's light: predictions setup by setup, anchored by what the meter really showed."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from math import isfinite
from typing import Any, Final, NamedTuple

from runbook.changeover.steps import Step
from runbook.day.changeovers import Change
from runbook.day.event_text import meter_place_text
from runbook.light.audit import OFF_ASKED_STOPS
from runbook.light.battery import Battery, batteries
from runbook.light.exposure import ambient_stops, without_ambient
from runbook.light.power import DialSetting
from runbook.light.prediction import HeadLight, PanelLight, Prediction, predict
from runbook.light.stops import METER_LEAST, f_number, meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.setup import Light, Setup
from runbook.model.units import Units, length

# A head far outside its beam reads something, but nothing a person would call light.
_NO_LIGHT: Final = 20.0


def predictions(plan: Plan, setups: Iterable[Setup], measured: Sequence[Measured] = ()) -> tuple[Prediction, ...]:
    """The predictions of some setups. Raises ValueError as ``predict``."""
    return tuple(predict(plan, setup, measured) for setup in setups)


def flash_read(plan: Plan, setup: Setup, stops: float) -> float | None:
    """The flash in what the meter showed at the face, the room's own light taken off.

    None where nearly all of it is room light.
    """
    shot = setup.exposure
    room = ambient_stops(plan.day.place.ambient_lux, shot.shutter, shot.iso)
    return without_ambient(stops, room)


def anchor(plan: Plan, setup: Setup, light: Light, stops: float) -> Measured | None:
    """A reading of one head as a row like the kit's own, to carry other predictions from.

    Room light is taken off where it shows, and what a cloth took is given back, for a row speaks
    of the head alone. None when the head is off or not aimed at the face, for then the reading
    says nothing of its axis, and when nearly all that was metered is room light.
    """
    flash = flash_read(plan, setup, stops)
    if light.aim != "face" or not light.power.fires or flash is None:
        return None
    cloths = sum(plan.kit.cloth[cloth].loss_stops for cloth in light.through)
    return Measured(
        head=light.head,
        power=str(light.power),
        distance_m=light.distance_m,
        reads_f=f_number(flash + cloths),
        modifier=light.modifier,
        accessories=light.accessories,
        iso=setup.exposure.iso,
    )


def measured_text(row: Measured, units: Units) -> str:
    """What a row of the kit read, and how: ``f/5.6 at 1/4, 1.5 m``."""
    iso = "" if row.iso == 100 else f", ISO {row.iso:g}"
    read = meter_text(aperture_stops(row.reads_f))
    return f"{read} at {row.power}, {length(row.distance_m, units)}{iso}"


def measurement_text(row: Measured, units: Units) -> str:
    """The same with what it was read through: ``f/5.6 for A through octa-90 at 1/4, 1.5 m``."""
    read, _, how = measured_text(row, units).partition(" at ")
    return f"{read} for {row.head} through {' + '.join((row.modifier, *row.accessories))} at {how}"


def meter_place(light: Light) -> str:
    """Where the meter is held for a head alone: ``face``, or what the head is aimed at instead.

    What is asked of a head is asked at the face, wherever it is aimed: there its edge is metered.
    """
    asked = light.aim_reading_f is not None or light.under_key_stops is not None
    return "face" if asked else light.aim


def predicted_at(head: HeadLight, where: str) -> float | None:
    """What a head is predicted to read there, in stops."""
    return head.reads_stops if where == "face" else head.at_aim_stops


def stops_text(stops: float | None, nothing: str = "-") -> str:
    """Stops over or under, in tenths; ``nothing`` where there is nothing to say."""
    if stops is None or abs(stops) >= _NO_LIGHT:
        return nothing
    return f"{stops:+.1f}" if round(stops, 1) else "0.0"


def under_key_text(stops: float | None, nothing: str = "-") -> str:
    """How far under the key, ``+1.0``; of what is brighter than the key, ``4.6 over``."""
    if stops is None or stops >= 0 or not round(stops, 1) or -stops >= _NO_LIGHT:
        return stops_text(stops, nothing)
    return f"{-stops:.1f} over"


def reads_text(stops: float | None) -> str:
    """A predicted reading as a meter shows it, or a dash."""
    return "-" if stops is None else meter_text(stops)


def key_text(light: Prediction) -> str:
    """Which head is the key, and the panel it lights the face by: ``key A off flat-1``."""
    if light.key is None:
        return "key none"
    by = "" if light.key.panel is None else f" off {light.key.panel}"
    return f"key {light.key.head}{by}"


def ambient_text(under_stops: float) -> str:
    """How far the room's own light is under the working aperture, or over it."""
    way = "under" if under_stops >= 0 else "over"
    return f"ambient: {abs(under_stops):.1f} stops {way}"


def light_summary(light: Prediction, units: Units) -> Iterator[str]:
    """A setup's light but for its heads and panels, a few words for each thing there is to say."""
    if light.whole_stops is not None:
        over = stops_text(light.whole_over_stops)
        yield f"all flash, dome to the camera: {meter_text(light.whole_stops)} ({over})"
    if light.pattern != "none":
        yield f"pattern: {light.pattern}"
    if light.key is not None and light.key.panel is not None:
        yield f"{key_text(light)}, {reads_text(light.key.reads_stops)}"
    if light.ambient_under_stops is not None:
        yield ambient_text(light.ambient_under_stops)
    if light.background_over_stops is not None:
        yield f"background by falloff: {stops_text(light.background_over_stops)}"
    deep = light.depth_of_field_m
    yield f"sharp over {length(deep, units)}" if isfinite(deep) else "sharp to infinity"


class MeterReading(NamedTuple):
    """What the meter showed, of a head or of all (None), where, and the flash in it, in stops."""

    head: str | None
    stops: float
    flash: float | None
    where: str = "face"


def reading_result(read: MeterReading, predicted: float | None, now: HeadLight | None) -> str:
    """What a typed reading says of the prediction, and the power that gives what was asked."""
    text = f"{read.head or 'all heads'} read {meter_text(read.stops)}"
    if read.where != "face":
        text += f" at {meter_place_text(read.where)}"
    if read.flash is None:
        return f"{text}; nearly all of it is room light: use a faster shutter, and meter again"
    if read.flash != read.stops:
        text += f", {meter_text(read.flash)} of it flash"
    if predicted is not None and predicted < METER_LEAST:
        text += "; the sums give no light there"
    elif predicted is not None:
        off = read.flash - predicted
        text += f", {abs(off):.1f} {'over' if off > 0 else 'under'} the prediction"
    if now is not None and now.dial is not None and now.asked_stops is not None:
        text += f"; {meter_text(now.asked_stops)} asked: {_as_asked(now, now.dial)}"
    return text


def _as_asked(now: HeadLight, dial: DialSetting) -> str:
    if dial.power == now.power:
        return "as dialled"
    if dial.in_range:
        return f"p dials {dial.power}"
    return f"{dial.power} is the end of the dial, {stops_text(dial.left_over_stops)} off"


def light_facts(plan: Plan, found: Iterable[Prediction]) -> dict[str, Any]:
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
        "key": None if light.key is None else light.key.head,
        "key_off_panel": None if light.key is None else light.key.panel,
        "pattern": light.pattern,
        "depth_of_field_m": depth if isfinite(depth) else None,
        "background_over_stops": light.background_over_stops,
        "heads": [_head_facts(head) for head in light.heads],
        "panels": [_panel_facts(panel) for panel in light.panels],
        "asks": [_ask_facts(head) for head in light.heads if head.asked_f is not None],
    }


def _ask_facts(head: HeadLight) -> dict[str, Any]:
    return {
        "of": head.head,
        "wanted_f": head.asked_f,
        "left_over_stops": None if head.dial is None else head.dial.left_over_stops,
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
        else {"power": str(dial.power), "left_over_stops": dial.left_over_stops, "in_range": dial.in_range},
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
    return {"head": battery.head, "spent": battery.spent, "of": battery.of, "change_before": battery.change_before}


def power_note(step: Step, light: Prediction | None, metered: Container[Measured]) -> str:
    """What a power step should dial instead, by the day's meter readings; empty where it is right.

    ``light`` is the prediction of the setup the step leads to.
    """
    heads = () if light is None or (step.verb, step.kind) != ("power", "head") else light.heads
    head = next((one for one in heads if one.head == step.item), None)
    if head is None or head.measured not in metered or not head.power.fires:
        return ""
    asked, reads, dial = head.asked_stops, head.reads_stops, head.dial
    if asked is None or reads is None or dial is None or abs(reads - asked) <= OFF_ASKED_STOPS:
        return ""
    return f"metered today: {meter_text(asked)} asked is {dial.power}"


def power_notes(plan: Plan, change: Change, measured: Sequence[Measured]) -> dict[int, str]:
    """Return what the power steps of a changeover should dial instead, by number of the step."""
    if change.goal is None or not measured:
        return {}
    light = predict(plan, plan.setups[change.goal], measured)
    return {step.n: note for step in change.steps if (note := power_note(step, light, measured))}
