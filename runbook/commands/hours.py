"""``runbook hours``: the day's clock, its forecast, and what running over costs."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from runbook.commands.now import session_now
from runbook.commands.out import FINE, say, say_json, table
from runbook.commands.wall_clock import now
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
        say_json(hours_data(hours))
        return FINE
    for line in _told(plan, hours):
        say(line)
    return FINE


def hours_now(plan: Plan, records: Path, now: datetime) -> Hours:
    """The day's clock: as planned before anything was begun, else as it stands."""
    session = session_now(plan, records, now)
    moment = session.moment
    found = hours_of(moment, session.changes, ways_back=True)
    return found._replace(sooner=sooner_order(moment, session.changes, DRAWS // 4))


def _told(plan: Plan, hours: Hours) -> Iterator[str]:
    heading = ("setup", "", "planned", "real" if hours.begun else "expected", "change", "shoot", "")
    yield from (line.rstrip() for line in table([heading, *(row_cells(row, hours.clock) for row in hours.rows)]))
    yield ""
    yield finish_text(hours)
    yield wrap_text(hours)
    yield overtime_text(plan.day, hours)
    yield basis_text(hours)
    yield from savings_lines(plan.day, hours)
    yield from sooner_lines(plan.day, hours)
