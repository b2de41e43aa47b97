"""``runbook hours``: the day's clock, its forecast, and what running over costs."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from runbook.commands.load_session import now, session_now
from runbook.commands.output import FINE, print_json, print_line, table
from runbook.day.hours import DRAWS, Hours, hours_data, hours_of
from runbook.day.hours_text import (
    basis_text,
    finish_text,
    overtime_text,
    row_cells,
    savings_lines,
    sooner_lines,
    wrap_text,
)
from runbook.day.order_proposal import sooner_order
from runbook.files.load import read_day
from runbook.files.paths import find_day, records_of
from runbook.model.day import Plan


def run(args: Namespace) -> int:
    """Print the day's hours; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    hours = hours_now(plan, records_of(folder), now())
    if args.json:
        print_json(hours_data(hours))
        return FINE
    heading = ("setup", "", "planned", "real" if hours.begun else "expected", "change", "shoot", "")
    for line in table([heading, *(row_cells(row, hours.clock) for row in hours.rows)]):
        print_line(line.rstrip())
    print_line("")
    for line in (
        finish_text(hours),
        wrap_text(hours),
        overtime_text(plan.day, hours),
        basis_text(hours),
        *savings_lines(plan.day, hours),
        *sooner_lines(plan.day, hours),
    ):
        print_line(line)
    return FINE


def hours_now(plan: Plan, records: Path, now: datetime) -> Hours:
    """Return the day's clock: as planned before anything was begun, else as it stands."""
    session = session_now(plan, records, now)
    hours = hours_of(session.moment, session.changes, ways_back=True)
    return replace(hours, sooner=sooner_order(session.moment, session.changes, DRAWS // 4))
