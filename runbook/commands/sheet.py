"""``runbook sheet``: print the day, its record, or a setup's floor plan."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from runbook.commands.output import print_line, write_file
from runbook.files.errors import Fault, Unreadable, instead, shown_path
from runbook.files.load import read_day
from runbook.files.paths import find_day
from runbook.model.day import Plan

if TYPE_CHECKING:
    from runbook.reports.document import Page

_WHO = "runbook sheet"


def run(args: Namespace) -> int:
    """Write the page asked for; 0 when done. Raises Unreadable with what is wrong."""
    path = Path(args.output)
    kind = path.suffix.lower()
    kinds = (".svg",) if args.floor is not None else (".html", ".md")
    if kind not in kinds:
        stem = path.stem or "day"
        do = f"name a file like {' or '.join(f'{stem}{each}' for each in kinds)}"
        what = "a floor plan" if args.floor is not None else "a printed runbook"
        raise Unreadable([Fault(_WHO, None, "-o", f"{path} is not the name of {what}", do)])
    folder = find_day(args.day)
    plan = read_day(folder)
    if args.floor is not None:
        text = _floor(plan, args.floor)
    else:
        text = _written(_record(plan, folder) if args.record else _day(plan, folder), kind)
    write_file(path, text, _WHO)
    print_line(f"wrote {shown_path(path)}")
    return 0


# the pages are slow to import, and only one is needed


def _floor(plan: Plan, setup_id: str) -> str:
    from runbook.reports.svg import setup_floor_svg

    if setup_id not in plan.setups:
        what, do = f"no setup is called {setup_id}", instead(setup_id, plan.setups)
        raise Unreadable([Fault(_WHO, None, "--floor", what, do)])
    return setup_floor_svg(plan, plan.setups[setup_id])


def _day(plan: Plan, folder: Path) -> Page:
    from runbook.commands.load_session import LOCAL, metered_today
    from runbook.reports.day_page import day_page

    return day_page(plan, metered_today(plan, folder), LOCAL)


def _record(plan: Plan, folder: Path) -> Page:
    from runbook.files.paths import records_of
    from runbook.journal.journal import Journal, journal_path
    from runbook.reports.record_page import record_page

    seen = Journal.read(journal_path(records_of(folder)))
    return record_page(plan, seen.entries)


def _written(page: Page, kind: str) -> str:
    if kind == ".md":
        from runbook.reports.document import markdown_page

        return markdown_page(page)
    from runbook.reports.document import html_page

    return html_page(page)
