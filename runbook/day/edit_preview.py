"""What an edited plan leads to, in a few lines: the light of a head, its stand, and what a check finds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from runbook.day.light import in_shot_text, light_summary, reads_text, stops_text, target_text
from runbook.day.stand_view import STAND_COLUMNS, stand_state, verdict_row, worst_first
from runbook.files.errors import Path
from runbook.files.lint import audit, mark_meant
from runbook.files.lint import worst_first as worst_problems_first
from runbook.light.audit import audit_light
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.model.day import Plan, Problem
from runbook.model.kit import Measured
from runbook.model.setup import Light, Setup
from runbook.stands.audit import audit_stands
from runbook.stands.statics import rig_of
from runbook.stands.verdict import Verdict, judge, judge_setup


def edit_preview(plan: Plan, kind: str, of: str, path: Path, measured: Sequence[Measured] = ()) -> tuple[str, ...]:
    """The light and the stand of a light, of a setup (its worst stand), or of a thing of the kit.

    ``kind`` and ``of`` name the thing edited, ``path`` the line of its form; ``measured`` are the
    day's meter readings.
    """
    if kind == "setup":
        setup = plan.setups[of]
        if path[:1] == ("light",) and path[1] in setup.light:
            return _light_lines(plan, setup, setup.light[path[1]], measured)
        summary = "; ".join(light_summary(predict(plan, setup, measured), plan.day.units))
        verdicts = worst_first(judge_setup(plan, setup))
        held = path[:1] in {("place_panel",), ("hang",)}
        mine = [verdict for verdict in verdicts if held and verdict.carries == path[1]]
        return (summary, *(_stand_text(plan, verdict) for verdict in (mine or verdicts)[:1]))
    if kind == "measured":
        row = plan.kit.measured[int(of)]
        using = [(setup, light) for setup in plan.order for light in setup.lights if _same_use(light, row)]
    else:
        using = [(setup, light) for setup in plan.order for light in setup.lights if _uses(setup, light, kind, of)]
    if not using:
        return ()
    setup, light = min(using, key=lambda pair: judge(rig_of(plan.kit, pair[1]), plan.day.place).lean_deg)
    first, *rest = _light_lines(plan, setup, light, measured)
    return (f"{setup.id}: {first}", *rest)


def setup_problems(plan: Plan, setup: Setup, light: Prediction) -> tuple[Problem, ...]:
    """Return what stops or warns of a setup by itself, worst first; changeovers and hours are left to the check."""
    alone = replace(plan, day=replace(plan.day, order=(setup.id,)))
    found = (*audit(plan), *audit_light(alone, (), {setup.id: light}), *audit_stands(alone))
    own = [problem for problem in mark_meant(plan, found) if problem.setup == setup.id]
    return tuple(problem for problem in worst_problems_first(own) if problem.level in ("stop", "warn"))


def _uses(setup: Setup, light: Light, kind: str, of: str) -> bool:
    used = {
        "head": (light.head,),
        "modifier": (light.modifier,),
        "stand": (light.stand,),
        "accessory": light.accessories,
        "cloth": (*light.through, *setup.hung),
        "bag": light.bags,
    }
    return of in used.get(kind, ())


def _same_use(light: Light, row: Measured) -> bool:
    """Whether a light's reading can be carried from a row of the kit."""
    used = light.head, light.modifier, sorted(light.accessories)
    return used == (row.head, row.modifier, sorted(row.accessories))


def _light_lines(plan: Plan, setup: Setup, light: Light, measured: Sequence[Measured]) -> tuple[str, ...]:
    prediction = predict(plan, setup, measured)
    head = next(head for head in prediction.heads if head.head == light.head)
    return (_head_text(head, prediction), _stand_text(plan, judge(rig_of(plan.kit, light), plan.day.place)))


def _head_text(head: HeadLight, prediction: Prediction) -> str:
    power = f" at {head.power} (calculated)" if head.solved else ""
    over = [f"over f: {stops_text(head.over_stops)}"] if head.over_stops is not None else []
    if head.under_key_stops is not None and (prediction.key is None or head.head != prediction.key.head):
        over.append(f"over the key: {stops_text(-head.under_key_stops)}")
    against = f" ({', '.join(over)})" if over else ""
    reads = f"{head.head}{power} reads {reads_text(head.reads_stops)}{against}"
    flags = (in_shot_text(head), "LENS FLARE" if head.flare else "")
    return "; ".join(filter(None, (reads, target_text(head), *flags)))


def _stand_text(plan: Plan, verdict: Verdict) -> str:
    """Return the state of a stand, then lean, push, factor and bags as in the table of stands."""
    cells = zip(STAND_COLUMNS[2:6], verdict_row(verdict, plan.day.units)[2:6], strict=True)
    figures = ", ".join(f"{column} {cell}" for column, cell in cells if cell != "-")
    return f"{verdict.stand} {stand_state(verdict)}: {figures}"
