"""``runbook new``: start a day's folder."""

from __future__ import annotations

import datetime as dt
from argparse import Namespace
from pathlib import Path

from runbook.commands.output import FINE, print_line
from runbook.files.errors import shown_path
from runbook.files.new_day import start_day


def run(args: Namespace) -> int:
    """Write a day to begin with, and print what was written."""
    folder, other = Path(args.day), Path(args.other) if args.other else None
    for path in start_day(folder, dt.date.today(), other):
        print_line(f"wrote {shown_path(path)}")
    do = "enter your own kit and setups" if other is None else "add lights and setups"
    print_line(
        f"to {do}: runbook open {shown_path(folder)}, key l; to list problems: runbook check {shown_path(folder)}"
    )
    return FINE
