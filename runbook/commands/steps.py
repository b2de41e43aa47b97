"""``runbook steps``: the changeovers, as planned."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from runbook.change.words import Scene, blocks
from runbook.commands.out import say, say_json
from runbook.plan.day import Plan
from runbook.plan.faults import Fault, Unreadable
from runbook.plan.files import read_day
from runbook.plan.where import find_day
from runbook.session.changeovers import (
    LOAD_IN,
    WRAP,
    Change,
    asked_change,
    every_change,
    facts,
)


def run(args: Namespace) -> int:
    """Print the changeovers; 0 when done."""
    plan = read_day(find_day(args.day))
    changes = tuple(_asked(plan, args.start, args.goal))
    if args.json:
        say_json(facts(changes))
        return 0
    for n, change in enumerate(changes):
        say(("\n" if n else "") + "\n".join(_told(plan, change)))
    return 0


def _asked(plan: Plan, start: str | None, goal: str | None) -> Iterator[Change]:
    if start is None and goal is None:
        yield from every_change(plan)
        return
    for option, name in (("--from", start), ("--to", goal)):
        if name is not None and name not in (*plan.setups, LOAD_IN, WRAP):
            known = ", ".join(plan.day.order)
            raise Unreadable(
                [Fault("runbook steps", None, option, f"no setup {name}", f"one of {known}")]
            )
    yield asked_change(plan, start, goal)


def _told(plan: Plan, change: Change) -> Iterator[str]:
    start, goal = change.start or LOAD_IN, change.goal or WRAP
    people = "two people needed" if change.people > 1 else "one person can"
    minutes = (
        f"{change.total_s / 60:.0f} min" if change.total_s >= 90 else f"{change.total_s:.0f} s"
    )
    count = len(change.steps)
    steps = f"{count} step{'' if count == 1 else 's'}"
    yield f"{start} to {goal}: {steps}, about {minutes} one after another, {people}"
    setup = plan.setups[change.goal] if change.goal else None
    for block in blocks(
        [shared.step for shared in change.steps], Scene(plan.kit, setup, plan.day.units)
    ):
        yield f"  {block.title}"
        if len(block.steps) == 1:
            continue
        for step in block.steps:
            marks = [f"{step.seconds:.0f} s"]
            if step.hands > 1:
                marks.append(f"{step.hands} people: {step.why_hands}")
            if step.ahead:
                marks.append("can be done ahead")
            yield f"    {step.n:>3}  {step.text}  ({', '.join(marks)})"
