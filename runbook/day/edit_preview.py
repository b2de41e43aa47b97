"""What an edited plan comes to, in a line or two: the light of a head, and how its stand stands."""

from __future__ import annotations

from collections.abc import Sequence

from runbook.day.light import ambient_text, key_text, reads_text, stops_text
from runbook.files.errors import Path
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.setup import Light, Setup
from runbook.model.units import force, length, mass
from runbook.stands.rig import rig_of
from runbook.stands.verdict import Verdict, judge
from runbook.stands.verdict_text import bags_needed_text

_FAULTS = {
    "lean": "TIPS TOO SOON",
    "factor": "TIPS TOO EASILY",
    "load": "OVER ITS LOAD",
    "balance": "OUT OF BALANCE",
    "wind": "NOT IN THIS WIND",
}


def edit_preview(plan: Plan, kind: str, of: str, path: Path, measured: Sequence[Measured] = ()) -> tuple[str, ...]:
    """The light and the stand of what is edited: of a light, of a setup's worst, of a kit's first.

    ``kind`` and ``of`` are the thing in the outline, ``path`` the line of its form.
    ``measured`` are the day's meter readings, that the light is carried from.
    """
    if kind == "setup":
        setup = plan.setups[of]
        if path[:1] == ("light",) and path[1] in setup.light:
            return _of_light(plan, setup, setup.light[path[1]], measured)
        return _of_setup(plan, setup, measured)
    using = [(setup, light) for setup in plan.order for light in setup.lights if _uses(light, kind, of)]
    if not using:
        return ()
    setup, light = min(using, key=lambda each: judge(rig_of(plan.kit, each[1]), plan.day.place).lean_deg)
    first, *rest = _of_light(plan, setup, light, measured)
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


def _of_light(plan: Plan, setup: Setup, light: Light, measured: Sequence[Measured]) -> tuple[str, ...]:
    found = predict(plan, setup, measured)
    head = next(each for each in found.heads if each.head == light.head)
    verdict = judge(rig_of(plan.kit, light), plan.day.place)
    return (_head_said(setup, head, found), _stand_said(plan, verdict))


def _head_said(setup: Setup, head: HeadLight, found: Prediction) -> str:
    said = f"{head.head} reads {reads_text(head.reads_stops)}"
    if head.over_stops is not None:
        said += f", {stops_text(head.over_stops)} on f/{setup.exposure.f:g}"
    if head.under_key_stops is not None and (found.key is None or head.head != found.key.head):
        said += f", {stops_text(-head.under_key_stops)} on the key"
    if head.asked_stops is not None and head.dial is not None:
        said += f"; asked {meter_text(head.asked_stops)}: dial {head.dial.power}"
        if not head.dial.in_range:
            said += f", {stops_text(head.dial.left_over_stops)} off"
    notes = [word for word, there in (("IN FRAME", head.in_frame), ("FLARE", head.flare)) if there]
    return "; ".join((said, *notes))


def _stand_said(plan: Plan, verdict: Verdict) -> str:
    units = plan.day.units
    push = force(verdict.push_n, units)
    said = f"{verdict.stand}: tips at {verdict.lean_deg:.0f}° of lean, or a push of {push}"
    if verdict.factor is not None:
        said += f", factor {verdict.factor:.1f}"
    said += f", bags {mass(verdict.bags_kg, units)} of "
    never = verdict.bags_needed_kg is None
    said += "more than bags can do" if never else f"{bags_needed_text(verdict, units)} needed"
    return "; ".join((said, *(_FAULTS[fault] for fault in verdict.faults)))


def _of_setup(plan: Plan, setup: Setup, measured: Sequence[Measured]) -> tuple[str, ...]:
    found = predict(plan, setup, measured)
    said = f"all heads {reads_text(found.whole_stops)} on f/{setup.exposure.f:g}"
    said += f"; {key_text(found)}, pattern {found.pattern}"
    if found.ambient_under_stops is not None:
        said += f"; {ambient_text(found.ambient_under_stops)}"
    depth = found.depth_of_field_m
    said += f"; depth {length(depth, plan.day.units)}" if depth < 100 else ""
    verdicts = [judge(rig_of(plan.kit, light), plan.day.place) for light in setup.lights]
    if not verdicts:
        return (said,)
    worst = min(verdicts, key=lambda each: (each.ok, each.lean_deg))
    return (said, _stand_said(plan, worst))
