"""``runbook check``: all problems of the day, most severe first."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from runbook.commands.load_session import LOCAL, metered_today
from runbook.commands.output import FINE, WRONG, print_json, print_line, problem_lines
from runbook.day.day_audit import problems_of
from runbook.files.load import read_day
from runbook.files.paths import find_day
from runbook.model.day import Plan, Problem


def run(args: Namespace) -> int:
    """Say what is wrong with a day. 1 when anything stops it or warns, 0 when not."""
    folder = find_day(args.day)
    plan = read_day(folder)
    problems = problems_of(plan, metered_today(plan, folder), LOCAL)
    if args.json:
        print_json({"problems": [asdict(problem) for problem in problems]})
    else:
        for line in problem_lines(problems):
            print_line(line)
        print_line(_summary(plan, problems))
    return WRONG if any(problem.level in ("stop", "warn") for problem in problems) else FINE


def _summary(plan: Plan, problems: tuple[Problem, ...]) -> str:
    levels = [problem.level for problem in problems]
    counts = (
        _counted(levels.count("stop"), "thing stops it", "things stop it"),
        _counted(levels.count("warn"), "warning", "warnings"),
        _counted(levels.count("note"), "note", "notes"),
        _counted(levels.count("meant"), "meant", "meant"),
    )
    found = ", ".join(count for count in counts if count) or "nothing wrong"
    return f"{plan.day.name}, {_counted(len(plan.order), 'setup', 'setups')}: {found}"


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}" if count else ""
