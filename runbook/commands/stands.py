"""``runbook stands``: what keeps each stand upright, worst first; then the panels."""

from __future__ import annotations

from argparse import Namespace

from runbook.changeover.checklist import CAUTIONS
from runbook.commands.output import FINE, WRONG, asked_setups, print_json, print_line, table
from runbook.day.load_plan import read_day
from runbook.day.stand_view import STAND_COLUMNS, counterweight_text, stand_facts, stand_state, verdict_row, worst_first
from runbook.files.paths import find_day
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.stands.verdict import judge_panels, judge_setup, panels_to_show
from runbook.stands.verdict_text import panel_state


def run(args: Namespace) -> int:
    """Print the verdicts. 1 when any stand or panel is not ok, else 0."""
    plan = read_day(find_day(args.day))
    setups = asked_setups(plan, args.setup)
    if args.json:
        print_json(stand_facts(plan, setups))
    else:
        for setup in setups:
            print_line("\n".join((setup.id, *_lines(plan, setup), "")))
        print_line("\n".join(CAUTIONS))
    verdicts = [verdict for setup in setups for judge in (judge_setup, judge_panels) for verdict in judge(plan, setup)]
    return FINE if all(verdict.ok for verdict in verdicts) else WRONG


def _lines(plan: Plan, setup: Setup) -> list[str]:
    units = plan.day.units
    stands = [
        (" ", *verdict_row(verdict, units), stand_state(verdict) + counterweight_text(verdict, units))
        for verdict in worst_first(judge_setup(plan, setup))
    ]
    panels = [
        (" ", *verdict_row(panel, units), panel_state(panel))
        for panel in panels_to_show(judge_panels(plan, setup), plan.day.place)
    ]
    return table([("", *STAND_COLUMNS), *stands, *panels])
