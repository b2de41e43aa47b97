"""``runbook stands``: what keeps each stand upright, worst first."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from runbook.change.checks import CAUTIONS
from runbook.commands.out import asked_setups, say, say_json, table
from runbook.plan.day import Plan
from runbook.plan.files import read_day
from runbook.plan.setup import Setup
from runbook.plan.units import mass
from runbook.plan.where import find_day
from runbook.session.standing import facts, worst_first
from runbook.stand.judge import Verdict, judge_setup
from runbook.stand.stability import kgf


def run(args: Namespace) -> int:
    """Print the verdicts; 0 when done."""
    plan = read_day(find_day(args.day))
    setups = asked_setups(plan, args.setup)
    if args.json:
        say_json(facts(plan, setups))
        return 0
    for setup in setups:
        say("\n".join(_told(plan, setup)) + "\n")
    for caution in CAUTIONS:
        say(caution)
    return 0


def _told(plan: Plan, setup: Setup) -> Iterator[str]:
    yield setup.id
    rows: list[tuple[str, ...]] = [
        ("", "stand", "head", "lean", "push", "factor", "bags", "load", "wind", "")
    ]
    rows += [_row(plan, verdict) for verdict in worst_first(judge_setup(plan, setup))]
    yield from (line.rstrip() for line in table(rows))


def _row(plan: Plan, verdict: Verdict) -> tuple[str, ...]:
    units = plan.day.units
    needed = verdict.bags_needed_kg
    bags = mass(verdict.bags_kg, units)
    if needed is None or needed > verdict.bags_kg:
        bags += " of " + ("no mass is enough" if needed is None else mass(needed, units))
    said = "ok" if verdict.ok else "NOT OK: " + ", ".join(verdict.faults)
    weight = verdict.counterweight_needed_kg
    if weight is not None:
        said += f", balances with {mass(weight, units)}"
    return (
        " ",
        verdict.stand,
        verdict.head or "-",
        f"{verdict.lean_deg:.1f}°",
        f"{kgf(verdict.push_n):.1f} kgf",
        "-" if verdict.factor is None else f"{verdict.factor:.1f}",
        bags,
        f"{mass(verdict.load_kg, units)} of {mass(verdict.load_max_kg, units)}",
        f"{verdict.wind_limit_ms:.1f} m/s",
        said,
    )
