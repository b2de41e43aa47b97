"""``runbook hours``: the day's clock, its forecast, and what running over costs."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace

from runbook.commands.load_session import now, session_now
from runbook.commands.output import FINE, print_json, print_line, table
from runbook.day.hours import DRAWS, hours_data, hours_of
from runbook.day.hours_text import hours_lines, row_cells
from runbook.day.load_plan import read_day
from runbook.day.order_proposal import sooner_order
from runbook.files.paths import find_day


def run(args: Namespace) -> int:
    """Print the day's hours, as planned before anything was begun, else as it stands; 0 when done."""
    folder = find_day(args.day)
    session = session_now(read_day(folder), folder, now())
    hours = hours_of(session.moment, session.changes, ways_back=True)
    hours = replace(hours, sooner=sooner_order(session.moment, session.changes, DRAWS // 4))
    if args.json:
        print_json(hours_data(hours))
        return FINE
    heading = ("setup", "", "planned", "real" if hours.begun else "expected", "change", "shoot", "")
    for line in table([heading, *(row_cells(row, hours.clock) for row in hours.rows)]):
        print_line(line.rstrip())
    print_line("\n" + "\n".join(hours_lines(hours)))
    return FINE
