"""``runbook new``: start a day's folder."""

from __future__ import annotations

import datetime as dt
from argparse import Namespace
from pathlib import Path

from runbook.commands.output import FINE, print_line
from runbook.files.errors import shown_path
from runbook.files.paths import start_day


def run(args: Namespace) -> int:
    """Write a day to begin with, and print what was written."""
    folder = Path(args.day)
    for path in start_day(folder, dt.date.today()):
        print_line(f"wrote {shown_path(path)}")
    print_line(f"change them to your own kit and setups, then: runbook check {shown_path(folder)}")
    return FINE
