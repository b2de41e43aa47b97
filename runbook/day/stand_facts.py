"""The day's stands: what keeps each upright, setup by setup, as facts and in words."""

from __future__ import annotations

from typing import Any, Final

from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import Units, force, mass
from runbook.stands.verdict import PanelVerdict, Verdict, judge_panels, judge_setup
from runbook.stands.verdict_text import bags_needed_text, panel_state
from runbook.stands.wind import limit_text


def stand_facts(plan: Plan, setups: tuple[Setup, ...]) -> dict[str, Any]:
    """Verdicts on every stand and panel of some setups as plain data for a program."""
    return {
        "setups": [
            {
                "id": setup.id,
                "stands": [_facts(each) for each in judge_setup(plan, setup)],
                "panels": [_panel_facts(each) for each in judge_panels(plan, setup)],
            }
            for setup in setups
        ]
    }


def _facts(verdict: Verdict) -> dict[str, Any]:
    return {
        "stand": verdict.stand,
        "head": verdict.head,
        "lean_deg": verdict.lean_deg,
        "push_n": verdict.push_n,
        "factor": verdict.factor,
        "bags_kg": verdict.bags_kg,
        "bags_needed_kg": verdict.bags_needed_kg,
        "bags_most_kg": verdict.bags_most_kg,
        "load_kg": verdict.load_kg,
        "load_max_kg": verdict.load_max_kg,
        "counterweight_needed_kg": verdict.counterweight_needed_kg,
        "wind_limit_ms": verdict.wind_limit_ms,
        "ok": verdict.ok,
        "faults": list(verdict.faults),
    }


def _panel_facts(panel: PanelVerdict) -> dict[str, Any]:
    return {
        "panel": panel.panel,
        "height_m": panel.height_m,
        "lean_deg": panel.lean_deg,
        "push_n": panel.push_n,
        "bags_kg": panel.bags_kg,
        "bags_needed_kg": panel.bags_needed_kg,
        "wind_push_n": panel.wind_push_n,
        "wind_limit_ms": panel.wind.limit if panel.wind else None,
        "ok": panel.ok,
        "faults": list(panel.faults),
    }


def worst_first(verdicts: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    """Stands in the order to look at them: what is not all right, then the least lean."""
    return tuple(sorted(verdicts, key=lambda each: (each.ok, each.lean_deg)))


STAND_COLUMNS: Final = ("stand", "head", "lean", "push", "factor", "bags", "gust limit", "load", "")


def stand_row(verdict: Verdict, units: Units) -> tuple[str, ...]:
    """The figures of one stand as they are said, in the order of ``HEADS`` but for the last."""
    needed = verdict.bags_needed_kg
    bags = mass(verdict.bags_kg, units)
    if needed is None or needed > verdict.bags_kg:
        bags += f" of {bags_needed_text(verdict, units)}"
    return (
        verdict.stand,
        verdict.head or "-",
        f"{verdict.lean_deg:.1f}°",
        force(verdict.push_n, units),
        "-" if verdict.factor is None else f"{verdict.factor:.1f}",
        bags,
        limit_text(verdict.wind_limit_ms, units),
        f"{mass(verdict.load_kg, units)} of {mass(verdict.load_max_kg, units)}",
    )


def panel_row(panel: PanelVerdict, units: Units) -> tuple[str, ...]:
    """The figures of one panel in the columns of the stands."""
    return (
        panel.panel,
        "-",
        "-" if panel.lean_deg is None else f"{panel.lean_deg:.1f}°",
        "-" if panel.push_n is None else force(panel.push_n, units),
        "-",
        mass(panel.bags_kg, units),
        "-" if panel.wind is None else limit_text(panel.wind.limit, units),
        mass(panel.mass_kg, units),
    )


def panel_state_of(panel: PanelVerdict) -> str:
    """``ok``, or what is wrong in a word or two."""
    return panel_state(panel)


def counterweight_text(verdict: Verdict, units: Units) -> str:
    """The counterweight of a boom, as it follows its state; empty for another stand."""
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    wanted = mass(needed, units)
    balanced = "balance" not in verdict.faults
    return f", balanced by {wanted}" if balanced else f", needs counterweight {wanted}"


def stand_state(verdict: Verdict) -> str:
    """``ok``, or what is wrong in a word or two."""
    return "ok" if verdict.ok else "NOT OK: " + ", ".join(verdict.faults)
