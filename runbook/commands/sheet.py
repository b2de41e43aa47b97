"""``runbook sheet``: print the day, its record, or a setup's floor plan."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from runbook.commands.output import FINE, print_line, refusal, write_file
from runbook.day.load_plan import read_day
from runbook.files.errors import instead, shown_path
from runbook.files.paths import find_day, records_of
from runbook.model.day import Plan

if TYPE_CHECKING:
    from runbook.reports.document import Page

FACE_PX = 180  # sharp enough for a face as wide as three fingers, and a third of a second of work


def run(args: Namespace) -> int:
    """Write the page asked for; 0 when done. Raises Unreadable with what is wrong."""
    path = Path(args.output)
    kinds = (".svg",) if args.floor is not None else (".html", ".md")
    kind = path.suffix.lower()
    if kind not in kinds:
        names = " or ".join((path.stem or "day") + ending for ending in kinds)
        raise refusal("sheet", "-o", f"{path} does not end in {' or '.join(kinds)}", f"name a file like {names}")
    folder = find_day(args.day)
    plan = read_day(folder)
    # the pages are slow to import, and only one is needed
    if args.floor is not None:
        from runbook.reports.svg import setup_floor_svg

        if args.floor not in plan.setups:
            raise refusal("sheet", "--floor", f"no setup is called {args.floor}", instead(args.floor, plan.setups))
        text = setup_floor_svg(plan, plan.setups[args.floor])
    else:
        page = _record(plan, folder) if args.record else _day(plan, folder, 0 if kind == ".md" else FACE_PX)
        if kind == ".md":
            from runbook.reports.document import markdown_page as written
        else:
            from runbook.reports.document import html_page as written
        text = written(page)
    write_file(path, text, "sheet")
    print_line(f"wrote {shown_path(path)}")
    return FINE


def _day(plan: Plan, folder: Path, face_px: int) -> Page:
    from runbook.commands.load_session import LOCAL, selects_part, state_today, timings_of
    from runbook.commands.output import show_progress
    from runbook.reports.day_page import day_page

    state, records = state_today(plan, folder), records_of(folder)
    return day_page(
        plan,
        state.anchors if state else (),
        zone=LOCAL,
        timings=timings_of(records),
        face_px=face_px,
        more=selects_part(state, records),
        tell=show_progress,
    )


def _record(plan: Plan, folder: Path) -> Page:
    from runbook.commands.load_session import selects_part, state_today
    from runbook.journal.journal import Journal, journal_path
    from runbook.reports.record_page import record_page

    records = records_of(folder)
    entries = Journal.read(journal_path(records)).entries
    return record_page(plan, entries, selects_part(state_today(plan, folder), records))
