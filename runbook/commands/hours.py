"""``runbook hours``: whether the day ends in time, what would help, and the day's clock."""

from __future__ import annotations

import sys
from argparse import Namespace

from runbook.commands.load_session import now, session_now
from runbook.commands.output import FINE, print_json, print_line, show_progress, table
from runbook.day.hours import hours_data, hours_of, with_help
from runbook.day.hours_chart import PLAIN, SIGNS, chart_of
from runbook.day.hours_text import REMEDY_HEADING, ROW_HEADING, hours_lines, order_text, remedy_cells, table_rows
from runbook.day.load_plan import read_day
from runbook.files.paths import find_day

_CHART_WIDTH = 48


def run(args: Namespace) -> int:
    """Print the day's hours, as planned before anything was begun, else as it stands; 0 when done."""
    folder = find_day(args.day)
    session = session_now(read_day(folder), folder, now())
    hours = hours_of(session.moment, session.changes, tell=show_progress)
    hours = with_help(hours, session.changes, tell=show_progress)
    if args.json:
        print_json(hours_data(hours))
        return FINE
    helps = [*remedy_cells(hours)]
    order = [order_text(hours)] if hours.sooner else []
    chart = chart_of(hours, _CHART_WIDTH, SIGNS if _takes_blocks() else PLAIN)
    width = max(len(row.id) for row in hours.day.all)
    bars = [f"{row.id:{width}}  {chart.bar(row)}".rstrip() for row in hours.day.all]
    blocks = [
        hours_lines(hours),
        [*table([REMEDY_HEADING, *helps]), *order] if helps else [],
        table([ROW_HEADING, *table_rows(hours)]),
        [f"{'':{width}}  {chart.axis}", *bars, "  ".join(chart.legend)],
    ]
    print_line("\n\n".join("\n".join(block) for block in blocks if block))
    return FINE


def _takes_blocks() -> bool:
    return (getattr(sys.stdout, "encoding", "") or "").lower().replace("-", "") == "utf8"
