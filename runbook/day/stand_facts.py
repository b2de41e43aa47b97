"""Verdicts on stands and panels: as plain data, and as rows of a table."""

from __future__ import annotations

from typing import Any, Final

from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import Units, force, mass
from runbook.stands.verdict import PanelVerdict, Verdict, judge_panels, judge_setup
from runbook.stands.verdict_text import bags_needed_text
from runbook.stands.wind import limit_text

_STAND_KEYS: Final = (
    "stand", "head", "lean_deg", "push_n", "factor", "bags_kg", "bags_needed_kg", "bags_most_kg", "load_kg",
    "load_max_kg", "counterweight_needed_kg", "wind_limit_ms", "ok",
)  # fmt: skip
_PANEL_KEYS: Final = (
    "panel", "height_m", "lean_deg", "push_n", "bags_kg", "bags_needed_kg", "wind_push_n", "ok",
)  # fmt: skip
STAND_COLUMNS: Final = ("stand", "head", "lean", "push", "factor", "bags", "gust limit", "load", "")


def stand_facts(plan: Plan, setups: tuple[Setup, ...]) -> dict[str, Any]:
    """Verdicts on every stand and panel of some setups as plain data for a program."""
    return {
        "setups": [
            {
                "id": setup.id,
                "stands": [_facts(verdict, _STAND_KEYS) for verdict in judge_setup(plan, setup)],
                "panels": [
                    _facts(panel, _PANEL_KEYS) | {"wind_limit_ms": panel.wind.limit if panel.wind else None}
                    for panel in judge_panels(plan, setup)
                ],
            }
            for setup in setups
        ]
    }


def _facts(verdict: Verdict | PanelVerdict, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: getattr(verdict, key) for key in keys} | {"faults": list(verdict.faults)}


def worst_first(verdicts: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    """Stands in the order to look at them: those not ok, then by least lean."""
    return tuple(sorted(verdicts, key=lambda verdict: (verdict.ok, verdict.lean_deg)))


def stand_row(verdict: Verdict, units: Units) -> tuple[str, ...]:
    """A stand in the columns of ``STAND_COLUMNS`` except the last."""
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
    """A panel in the same columns as a stand."""
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


def stand_state(verdict: Verdict) -> str:
    """``ok``, or what is wrong in a word or two."""
    return "ok" if verdict.ok else "NOT OK: " + ", ".join(verdict.faults)


def counterweight_text(verdict: Verdict, units: Units) -> str:
    """The counterweight of a boom, to follow its state; empty for another stand."""
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    text = "needs counterweight" if "balance" in verdict.faults else "balanced by"
    return f", {text} {mass(needed, units)}"
