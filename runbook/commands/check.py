"""``runbook check``: all problems of the day, most severe first."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from typing import Final

from runbook.commands.load_session import LOCAL, metered_today
from runbook.commands.output import FINE, WRONG, print_json, print_line, problem_lines
from runbook.day.day_audit import problems_of
from runbook.day.load_plan import read_day
from runbook.files.paths import find_day
from runbook.model.day import Level
from runbook.model.units import count_text

_COUNTED: Final[dict[Level, str]] = {
    "stop": "{} problem{} stop{} the day",
    "warn": "{} warning{}",
    "note": "{} note{}",
    "meant": "{} meant",
}


def run(args: Namespace) -> int:
    """Print what is wrong with a day. 1 when anything stops it or warns, 0 when not."""
    folder = find_day(args.day)
    plan = read_day(folder)
    problems = problems_of(plan, metered_today(plan, folder), LOCAL)
    levels = [problem.level for problem in problems]
    if args.json:
        print_json({"problems": [asdict(problem) for problem in problems]})
    else:
        counts = ((levels.count(level), text) for level, text in _COUNTED.items())
        texts = [text.format(n, *("", "s") if n == 1 else ("s", "")) for n, text in counts if n]
        setups = count_text(len(plan.order), "setup")
        for line in (*problem_lines(problems), f"{plan.day.name}, {setups}: {', '.join(texts) or 'no problems'}"):
            print_line(line)
    return WRONG if {"stop", "warn"} & {*levels} else FINE
