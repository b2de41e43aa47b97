"""``runbook stands``: what keeps each stand upright, worst first; then the panels."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from runbook.changeover.checklist import CAUTIONS
from runbook.commands.out import FINE, WRONG, asked_setups, say, say_json, table
from runbook.day.stand_facts import (
    STAND_COLUMNS,
    counterweight_text,
    panel_row,
    panel_state_of,
    stand_facts,
    stand_row,
    stand_state,
    worst_first,
)
from runbook.files.load import read_day
from runbook.files.paths import find_day
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.stands.verdict import judge_panels, judge_setup, panels_to_show


def run(args: Namespace) -> int:
    """Print the verdicts. 1 when any stand or panel is not to be left so, 0 when none."""
    plan = read_day(find_day(args.day))
    setups = asked_setups(plan, args.setup)
    stand = all(verdict.ok for setup in setups for verdict in judge_setup(plan, setup))
    safe = stand and all(panel.ok for setup in setups for panel in judge_panels(plan, setup))
    status = FINE if safe else WRONG
    if args.json:
        say_json(stand_facts(plan, setups))
        return status
    for setup in setups:
        say("\n".join(_told(plan, setup)) + "\n")
    for caution in CAUTIONS:
        say(caution)
    return status


def _told(plan: Plan, setup: Setup) -> Iterator[str]:
    yield setup.id
    rows: list[tuple[str, ...]] = [("", *STAND_COLUMNS)]
    for verdict in worst_first(judge_setup(plan, setup)):
        figures = stand_row(verdict, plan.day.units)
        rows.append((" ", *figures, stand_state(verdict) + counterweight_text(verdict, plan.day.units)))
    rows += (
        (" ", *panel_row(panel, plan.day.units), panel_state_of(panel))
        for panel in panels_to_show(judge_panels(plan, setup), plan.day.place)
    )
    yield from (line.rstrip() for line in table(rows))
