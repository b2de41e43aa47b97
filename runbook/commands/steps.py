"""``runbook steps``: the changeovers, as planned."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping

from runbook.changeover.step_text import blocks
from runbook.commands.load_session import metered_today, timings_of
from runbook.commands.output import FINE, print_json, print_line, refusal
from runbook.day.changeovers import (
    LOAD_IN,
    WRAP,
    Changeover,
    Changeovers,
    Notes,
    changeovers_data,
    scene_of,
    summary_text,
)
from runbook.day.load_plan import read_day
from runbook.files.errors import instead
from runbook.files.paths import find_day, records_of
from runbook.model.day import Plan
from runbook.model.kit import Measured


def run(args: Namespace) -> int:
    """Print the changeovers; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    changes = _asked(Changeovers(plan, timings_of(records_of(folder))), args.start, args.goal)
    notes = _notes(plan, metered_today(plan, folder))
    if args.json:
        print_json(changeovers_data(changes, notes))
    else:
        print_line("\n\n".join("\n".join(_lines(change, notes(change))) for change in changes))
    return FINE


def _notes(plan: Plan, measured: tuple[Measured, ...]) -> Notes:
    """Return what gives the notes of a changeover's steps, by number: powers that the day's readings ask for."""
    if not measured:
        return lambda _: {}  # what predicts light need not be imported
    from runbook.day.light import power_notes

    return lambda change: power_notes(plan, change, measured)


def _asked(changes: Changeovers, start: str | None, goal: str | None) -> Iterable[Changeover]:
    """Return the changeovers between two ends; with neither, all of the day. Raises Unreadable."""
    if start is None and goal is None:
        return changes.all
    for option, name, empty in (("--from", start, LOAD_IN), ("--to", goal, WRAP)):
        if name is not None and name not in (*changes.plan.setups, empty):
            do = instead(name, (empty, *changes.plan.setups))
            raise refusal("steps", option, f"no setup is called {name}", do)
    return [changes.named(start, goal)]


def _lines(change: Changeover, notes: Mapping[int, str]) -> Iterator[str]:
    yield f"{change.start or LOAD_IN} to {change.goal or WRAP}: {summary_text(change)}"
    for block in blocks(change.steps, scene_of(change.plan, change.plan.setups.get(change.goal or ""))):
        indent = "" if len(block.steps) == 1 else "  "  # a single step is its own title
        if indent:
            yield f"  {block.title}"
        for step in block.steps:
            details = (f"{step.seconds:.0f} s", *change.notes[step.n], notes.get(step.n))
            yield f"{indent}  {step.n:>3}  {step.text}  ({'; '.join(filter(None, details))})"
    for member in change.plan.day.crew:
        yield f"  {member.id}: {', then '.join(change.tasks_for(member.id)) or 'free'}"
