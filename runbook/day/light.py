"""The day's light: predictions, meter readings as rows of the kit, and their texts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import isfinite
from typing import Any, Final

from runbook.changeover.steps import Step
from runbook.day.changeovers import Changeover
from runbook.day.event_text import reading_place_text
from runbook.journal.events import Reading
from runbook.light.audit import OFF_ASKED_STOPS
from runbook.light.battery import batteries
from runbook.light.heads import off_axis_stops
from runbook.light.prediction import ClothLight, HeadLight, PanelLight, Prediction, SetAsk, predict
from runbook.light.stops import METER_LEAST, ambient_stops, f_number, meter_text, without_ambient
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.setup import Light, Setup
from runbook.model.units import Units, length

_NO_LIGHT: Final = 20.0  # stops away from which a reading is no light at all


def flash_read(plan: Plan, setup: Setup, stops: float) -> float | None:
    """Return the flash in a reading at the face, without ambient light; None when nearly all is ambient light."""
    shot = setup.exposure
    return without_ambient(stops, ambient_stops(plan.day.place.ambient_lux, shot.shutter, shot.iso))


def anchor(plan: Plan, setup: Setup, light: Light, stops: float) -> Measured | None:
    """Return a reading of one head as a row of the kit, to carry other predictions from.

    Ambient light is subtracted and the loss of cloths is added back: a row is about the head alone.
    What a feathered beam loses off its axis is added back too. None for a head that is off or not aimed at the face,
    for a face outside its field angle, and when nearly all is ambient light.
    """
    flash = flash_read(plan, setup, stops)
    off_axis = off_axis_stops(plan.kit, setup, light) if light.aim == "face" else None
    if off_axis is None or not light.power.fires or flash is None:
        return None
    cloths = sum(plan.kit.cloth[cloth].loss_stops for cloth in light.through)
    return Measured(
        head=light.head,
        power=str(light.power),
        distance_m=light.distance_m,
        reads_f=f_number(flash + cloths - off_axis),
        modifier=light.modifier,
        accessories=light.accessories,
        iso=setup.exposure.iso,
    )


def meter_place(light: Light) -> str:
    """Return where a head alone is metered: ``face``, or what it is aimed at instead.

    A target is always at the face, wherever the head is aimed.
    """
    has_target = light.aim_reading_f is not None or light.under_key_stops is not None
    return "face" if has_target else light.aim


def predicted_reading(light: Prediction, head: str | None, where: str) -> float | None:
    """Return what a head, or the whole set (None), is predicted to read in that place, in stops."""
    if head is None:
        return light.whole_stops
    reads = {one.head: one.reads_stops if where == "face" else one.at_aim_stops for one in light.heads}
    return reads.get(head)


# -- texts ---------------------------------------------------------------------------------------


def measured_text(row: Measured, units: Units) -> str:
    """``f/5.6 at 1/4, 1.5 m``."""
    return f"{meter_text(aperture_stops(row.reads_f))} at {_conditions(row, units)}"


def measurement_text(row: Measured, units: Units) -> str:
    """``f/5.6 for A through octa-90 at 1/4, 1.5 m``."""
    through = " + ".join((row.modifier, *row.accessories))
    return f"{meter_text(aperture_stops(row.reads_f))} for {row.head} through {through} at {_conditions(row, units)}"


def _conditions(row: Measured, units: Units) -> str:
    iso = "" if row.iso == 100 else f", ISO {row.iso:g}"
    return f"{row.power}, {length(row.distance_m, units)}{iso}"


def stops_text(stops: float | None, nothing: str = "-") -> str:
    """``+0.3``: stops over or under; ``nothing`` when there is no light."""
    if stops is None or abs(stops) >= _NO_LIGHT:
        return nothing
    return f"{stops:+.1f}" if round(stops, 1) else "0.0"


def under_key_text(stops: float | None, nothing: str = "-") -> str:
    """``+1.0`` under the key; ``4.6 over`` when brighter than the key."""
    if stops is None or stops >= 0 or not round(stops, 1) or -stops >= _NO_LIGHT:
        return stops_text(stops, nothing)
    return f"{-stops:.1f} over"


def reads_text(stops: float | None) -> str:
    """A predicted reading as a meter shows it, or a dash."""
    return "-" if stops is None else meter_text(stops)


def in_shot_text(source: HeadLight | PanelLight | ClothLight) -> str:
    """``IN SHOT 12 % left``; empty for what is not."""
    shot = source.in_shot
    return "" if shot is None else f"IN SHOT {max(100 * shot.share, 1):.0f} % {shot.where}"


def cloth_text(cloth: ClothLight) -> str:
    """``scatters f/4, reflects f/1.4``: what a hung cloth gives the face."""
    parts = (("scatters", cloth.scattered_stops), ("reflects", cloth.reflected_stops))
    known = [f"{what} {meter_text(stops)}" for what, stops in parts if stops is not None and stops >= METER_LEAST]
    return ", ".join(known) or "gives the face no light"


def light_summary(light: Prediction, units: Units) -> Iterator[str]:
    """Yield a setup's light apart from its heads and panels, one text a subject."""
    if light.whole_stops is not None:
        over = stops_text(light.whole_over_stops)
        yield f"all flash, incident, dome to the camera: {meter_text(light.whole_stops)} (over f: {over})"
    if light.key is not None:
        names = " off ".join(filter(None, (light.key.head, light.key.panel)))
        yield f"key {names}" + ("" if light.key.panel is None else f", {reads_text(light.key.reads_stops)}")
    if light.pattern != "none":
        yield f"pattern: {light.pattern}"
    if light.ambient_under_stops is not None:
        side = "under" if light.ambient_under_stops >= 0 else "over"
        yield f"ambient: {abs(light.ambient_under_stops):.1f} stops {side} f"
    if light.background_reads_stops is not None:
        level = light.background_level_stops
        grey = "" if level is None else f", over mid grey: {stops_text(level)}"
        over = stops_text(light.background_against_f_stops)
        hidden = "" if light.background_hidden_by is None else f"; hidden by {light.background_hidden_by}"
        yield f"background, flat meter: {meter_text(light.background_reads_stops)} (over f: {over}{grey}{hidden})"
    for ask in light.asks:
        yield set_ask_text(ask)
    if light.background_over_stops is not None:
        yield f"background against the face: {stops_text(light.background_over_stops)} stops"
    depth = light.depth_of_field.depth_m
    yield f"depth of field {length(depth, units) if isfinite(depth) else 'to infinity'}"


def face_caption(light: Prediction) -> str:
    """``Rembrandt, key to fill 4:1``: what a picture of the face shows."""
    over = light.key_over_fill_stops
    ratio = "" if over is None else f"key to fill {_ratio_text(over)}"
    return ", ".join(filter(None, (light.pattern if light.pattern != "none" else "", ratio)))


def _ratio_text(stops: float) -> str:
    """``4:1``, ``1:2``: a ratio of light."""
    ratio = 2.0 ** min(abs(stops), _NO_LIGHT)
    text = f"{ratio:.0f}" if ratio >= 9.5 else f"{ratio:.1f}".removesuffix(".0")
    return f"{text}:1" if stops >= 0 else f"1:{text}"


def set_ask_text(ask: SetAsk) -> str:
    """``target of the background: f/8, 0.2 stops over with all powers set``."""
    of = f"the {ask.of}" if ask.of in ("background", "whole") else ask.of
    target = f"target of {of}: {meter_text(ask.wanted_stops)}"
    if ask.left_over_stops is None:
        return f"{target}; no light reaches it"
    off = abs(round(ask.left_over_stops, 1))
    left = f"{off:.1f} stops {'over' if ask.left_over_stops > 0 else 'under'}" if off else "met"
    return f"{target}, {left} with all powers set"


def target_text(head: HeadLight | None) -> str:
    """``target f/4: dial 1/16``, and how far off that still is at the end of the dial; empty without a target."""
    if head is None or head.dial is None:
        return ""
    if head.asked_stops is None:
        return "" if head.dial.power == head.power else f"dial {head.dial.power}"
    do = "no click is nearer" if head.dial.power == head.power else f"dial {head.dial.power}"
    off = "" if head.dial.in_range else f", {stops_text(head.dial.left_over_stops)} off"
    return f"target {meter_text(head.asked_stops)}: {do}{off}"


def reading_result(reading: Reading, flash: float | None, predicted: float | None, head: HeadLight | None) -> str:
    """Compare a meter reading with the prediction, and name the power that gives the target of its head, if any.

    ``flash`` are the stops of the reading without ambient light, None where nearly all of it is ambient light.
    """
    text = reading_place_text(reading, " read")
    if flash is None:
        return f"{text}; nearly all of it is ambient light: use a faster shutter, and meter again"
    if flash != reading.stops:
        text += f", {meter_text(flash)} of it flash"
    if predicted is not None and predicted < METER_LEAST:
        text += "; no light predicted there"
    elif predicted is not None:
        text += f", {abs(flash - predicted):.1f} {'over' if flash > predicted else 'under'} the prediction"
        if reading.head is None and abs(flash - predicted) > OFF_ASKED_STOPS:
            text += "; meter each head alone (r), then P sets the powers"
    return "; ".join(filter(None, (text, target_text(head))))


def dial_differs(head: HeadLight) -> bool:
    """Whether another power gives what is asked of a head, which its own misses by more than a meter tells apart."""
    asked, reads = head.asked_stops, head.reads_stops
    if head.dial is None or not head.power.fires or head.dial.power == head.power:
        return False
    return asked is None or reads is None or abs(reads - asked) > OFF_ASKED_STOPS


def power_note(step: Step, light: Prediction | None, metered: Sequence[Measured]) -> str:
    """Return what a power step should dial instead, by the day's meter readings; empty when it is right.

    ``light`` is the prediction of the setup the step leads to.
    """
    heads = () if light is None or (step.verb, step.kind) != ("power", "head") else light.heads
    head = next((one for one in heads if one.head == step.item), None)
    if head is None or head.dial is None or not dial_differs(head):
        return ""
    if head.asked_stops is None:  # the reading of any head may be what changes it
        return f"metered today: {head.dial.power} meets the target" if metered else ""
    return (
        f"metered today: target {meter_text(head.asked_stops)} is {head.dial.power}" if head.measured in metered else ""
    )


def power_notes(plan: Plan, change: Changeover, measured: Sequence[Measured]) -> dict[int, str]:
    """Return what the power steps of a changeover should dial instead, by number of the step."""
    if change.goal is None or not measured:
        return {}
    light = predict(plan, plan.setups[change.goal], measured)
    return {step.n: note for step in change.steps if (note := power_note(step, light, measured))}


# -- for programs --------------------------------------------------------------------------------

_SETUP_KEYS: Final = (
    "id", "aperture_f", "ambient_under_stops", "whole_f", "whole_over_stops", "pattern", "background_over_stops",
    "background_reads_f", "background_against_f_stops", "background_level_stops", "background_hidden_by",
)  # fmt: skip
_HEAD_KEYS: Final = (
    "head", "role", "reads_f", "over_stops", "under_key_stops", "size_deg", "flare", "recycle_s", "solved",
    "shadow_edge_m",
)  # fmt: skip
_PANEL_KEYS: Final = ("panel", "role", "size_deg", "reads_f", "over_stops", "under_key_stops")
_CLOTH_KEYS: Final = ("cloth", "scattered_f", "reflected_f", "size_deg", "veils")
_BATTERY_KEYS: Final = ("head", "spent", "of", "change_before")


def light_facts(plan: Plan, lights: Iterable[Prediction]) -> dict[str, Any]:
    """Return predictions as plain data for a program."""
    return {
        "setups": [_setup_facts(light) for light in lights],
        "batteries": [_pick(battery, _BATTERY_KEYS) for battery in batteries(plan)],
    }


def _pick(value: Any, keys: Iterable[str]) -> dict[str, Any]:
    """Return values by key; one called ``..._f`` is kept in stops, and given as an f-number."""
    return {key: _f_number(value, key) if key.endswith("_f") else getattr(value, key) for key in keys}


def _f_number(value: Any, key: str) -> float | None:
    stops = getattr(value, key.removesuffix("_f") + "_stops")
    return None if stops is None else f_number(stops)


def _setup_facts(light: Prediction) -> dict[str, Any]:
    return _pick(light, _SETUP_KEYS) | {
        "key": light.key and (light.key.head or light.key.panel),
        "key_off_panel": light.key and light.key.head and light.key.panel,
        "depth_of_field_m": depth_m if isfinite(depth_m := light.depth_of_field.depth_m) else None,
        "heads": [_head_facts(head) for head in light.heads],
        "panels": [_pick(panel, _PANEL_KEYS) | _shot_facts(panel) for panel in light.panels],
        "cloths": [_pick(cloth, _CLOTH_KEYS) | _shot_facts(cloth) for cloth in light.cloths],
        "asks": [
            {
                "of": head.head,
                "wanted_f": f_number(head.asked_stops),
                "left_over_stops": head.dial and head.dial.left_over_stops,
            }
            for head in light.heads
            if head.asked_stops is not None and head.power.fires
        ]
        + [_pick(ask, ("of", "wanted_f", "left_over_stops")) for ask in light.asks],
    }


def _head_facts(head: HeadLight) -> dict[str, Any]:
    dial = head.dial and {"power": str(head.dial.power)} | _pick(head.dial, ("left_over_stops", "in_range"))
    return _pick(head, _HEAD_KEYS) | _shot_facts(head) | {"power": str(head.power), "dial": dial}


def _shot_facts(source: HeadLight | PanelLight | ClothLight) -> dict[str, Any]:
    shot = source.in_shot
    return {
        "in_frame": shot is not None,
        "in_frame_share": shot.share if shot else 0.0,
        "in_frame_at": shot and shot.where,
    }
