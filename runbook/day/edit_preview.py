"""What an edited plan leads to, in a line or two: the light of a head, and its stand."""

from __future__ import annotations

from collections.abc import Sequence

from runbook.day.light import ambient_text, key_text, reads_text, stops_text
from runbook.day.stand_view import stand_state, worst_first
from runbook.files.errors import Path
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.setup import Light, Setup
from runbook.model.units import force, length, mass
from runbook.stands.rig import rig_of
from runbook.stands.verdict import Verdict, judge, judge_setup
from runbook.stands.verdict_text import bags_needed_text


def edit_preview(plan: Plan, kind: str, of: str, path: Path, measured: Sequence[Measured] = ()) -> tuple[str, ...]:
    """The light and the stand of a light, of a setup (its worst stand), or of a thing of the kit.

    ``kind`` and ``of`` name the thing edited, ``path`` the line of its form; ``measured`` are the
    day's meter readings.
    """
    if kind == "setup":
        setup = plan.setups[of]
        if path[:1] == ("light",) and path[1] in setup.light:
            return _light_lines(plan, setup, setup.light[path[1]], measured)
        return _setup_lines(plan, setup, measured)
    using = [(setup, light) for setup in plan.order for light in setup.lights if _uses(light, kind, of)]
    if not using:
        return ()
    setup, light = min(using, key=lambda pair: judge(rig_of(plan.kit, pair[1]), plan.day.place).lean_deg)
    first, *rest = _light_lines(plan, setup, light, measured)
    return (f"{setup.id}: {first}", *rest)


def _uses(light: Light, kind: str, of: str) -> bool:
    used = {
        "head": (light.head,),
        "modifier": (light.modifier,),
        "stand": (light.stand,),
        "accessory": light.accessories,
        "cloth": light.through,
        "bag": light.bags,
    }
    return of in used.get(kind, ())


def _light_lines(plan: Plan, setup: Setup, light: Light, measured: Sequence[Measured]) -> tuple[str, ...]:
    prediction = predict(plan, setup, measured)
    head = next(head for head in prediction.heads if head.head == light.head)
    return (_head_text(setup, head, prediction), _stand_text(plan, judge(rig_of(plan.kit, light), plan.day.place)))


def _head_text(setup: Setup, head: HeadLight, prediction: Prediction) -> str:
    text = f"{head.head} reads {reads_text(head.reads_stops)}"
    if head.over_stops is not None:
        text += f", {stops_text(head.over_stops)} on f/{setup.exposure.f:g}"
    if head.under_key_stops is not None and (prediction.key is None or head.head != prediction.key.head):
        text += f", {stops_text(-head.under_key_stops)} on the key"
    if head.asked_stops is not None and head.dial is not None:
        text += f"; target {meter_text(head.asked_stops)}: dial {head.dial.power}"
        if not head.dial.in_range:
            text += f", {stops_text(head.dial.left_over_stops)} off"
    if head.in_frame:
        text += "; IN SHOT"
    return f"{text}; LENS FLARE" if head.flare else text


def _stand_text(plan: Plan, verdict: Verdict) -> str:
    units = plan.day.units
    text = f"{verdict.stand}: tips at {verdict.lean_deg:.0f}° of lean, or a push of {force(verdict.push_n, units)}"
    if verdict.factor is not None:
        text += f", factor {verdict.factor:.1f}"
    needed = "no bag is enough" if verdict.bags_needed_kg is None else f"{bags_needed_text(verdict, units)} needed"
    text += f", bags {mass(verdict.bags_kg, units)}, {needed}"
    return text if verdict.ok else f"{text}; {stand_state(verdict)}"


def _setup_lines(plan: Plan, setup: Setup, measured: Sequence[Measured]) -> tuple[str, ...]:
    prediction = predict(plan, setup, measured)
    parts = [
        f"all heads {reads_text(prediction.whole_stops)} on f/{setup.exposure.f:g}",
        f"{key_text(prediction)}, pattern {prediction.pattern}",
    ]
    if prediction.ambient_under_stops is not None:
        parts.append(ambient_text(prediction.ambient_under_stops))
    if prediction.depth_of_field_m < 100:
        parts.append(f"depth of field {length(prediction.depth_of_field_m, plan.day.units)}")
    worst = worst_first(judge_setup(plan, setup))[:1]
    return ("; ".join(parts), *(_stand_text(plan, verdict) for verdict in worst))
