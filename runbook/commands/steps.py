"""``runbook steps``: the changeovers, as planned."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Mapping
from math import ceil
from pathlib import Path
from typing import Final

from runbook.changeover.step_text import blocks
from runbook.changeover.steps import step_seconds
from runbook.commands.load_session import metered_today
from runbook.commands.output import print_json, print_line
from runbook.day.changeovers import (
    LOAD_IN,
    WRAP,
    Change,
    Notes,
    Shares,
    Timed,
    all_changes,
    change_between,
    facts,
    held_from_start,
    no_notes,
    people_of,
    person_tasks,
    scene_of,
    share,
    step_notes,
    stopped_s,
)
from runbook.day.timings import journals_near
from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day
from runbook.files.paths import find_day, records_of
from runbook.model.day import Plan
from runbook.model.kit import Measured


def run(args: Namespace) -> int:
    """Print the changeovers; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    changes = _asked(plan, args.start, args.goal, pace_of(records_of(folder)))
    notes = _notes(plan, metered_today(plan, folder))
    if args.json:
        print_json(facts(plan, changes, notes))
        return 0
    for n, change in enumerate(changes):
        print_line(("\n" if n else "") + "\n".join(_told(plan, change, notes(change))))
    return 0


def _notes(plan: Plan, measured: tuple[Measured, ...]) -> Notes:
    """Return what gives the notes of a changeover's steps, by number: powers that the day's readings ask for."""
    if not measured:
        return no_notes  # what predicts light need not be imported
    from runbook.day.light import power_notes

    return lambda change: power_notes(plan, change, measured)


def pace_of(records: Path) -> Timed:
    """The seconds to plan steps with: learned from journals, where there are any near the day."""
    if not any(journals_near(records)):
        return step_seconds  # nothing to learn from, so the learning need not be imported
    from runbook.day.timings import timings_near

    return timings_near(records).seconds


def _asked(plan: Plan, start: str | None, goal: str | None, pace: Timed) -> Iterator[Change]:
    if start is None and goal is None:
        yield from all_changes(plan, pace)
        return
    for option, name, empty in (("--from", start, LOAD_IN), ("--to", goal, WRAP)):
        if name is None or name in (*plan.setups, empty):
            continue
        what, do = f"no setup {name}", f"one of {', '.join(plan.day.order)}"
        if name in (LOAD_IN, WRAP):
            what = f"{name} is only {'a beginning' if name == LOAD_IN else 'an end'}"
            do = f"write {'--from load-in' if name == LOAD_IN else '--to wrap'}"
        raise Unreadable([Fault("runbook steps", None, option, what, do)])
    yield change_between(plan, start, goal, pace)


def _told(plan: Plan, change: Change, notes: Mapping[int, str]) -> Iterator[str]:
    start, goal = change.start or LOAD_IN, change.goal or WRAP
    shares = share(change.steps, plan)
    count = len(change.steps)
    steps = f"{count} step{'' if count == 1 else 's'}"
    yield f"{start} to {goal}: {steps}, {_time(plan, change, shares)}"
    setup = plan.setups[change.goal] if change.goal else None
    marks = step_notes(change.steps, held_from_start(plan, change))
    for block in blocks(change.steps, scene_of(plan, setup)):
        alone = len(block.steps) == 1  # a single step is its own title
        if not alone:
            yield f"  {block.title}"
        for step in block.steps:
            said = "; ".join((f"{step.seconds:.0f} s", *marks[step.n], *filter(None, (notes.get(step.n),))))
            yield f"{'' if alone else '  '}  {step.n:>3}  {step.text}  ({said})"
    for member in plan.day.crew:
        does = person_tasks(shares, member.id)
        yield f"  {member.id}: {', then '.join(does) if does else 'free'}"


def _time(plan: Plan, change: Change, shares: Shares) -> str:
    crew = people_of(plan)
    said = f"about {_span(shares.total_s)}"
    if crew > 1:
        said += f" shared over {_NUMBER[crew]}"
        said += f", {_span(change.alone_s)} alone; " if change.people <= 1 else "; "
        said += "fastest possible" if shares.proven else _slower_text(shares)
    stopped = stopped_s(change.steps, plan, shares.total_s)
    if stopped < shares.total_s:
        said += f"; {_span(stopped)} of it if the rest is done ahead"
    if change.people > 1:
        said += f"; {_NUMBER.get(change.people, change.people)} people needed"
    return said


def _slower_text(shares: Shares) -> str:
    """Return how much slower than the fastest possible the shares may be, at most."""
    return f"at most {ceil(100 * (shares.total_s / shares.bound_s - 1))} % over the fastest possible"


_NUMBER: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def _span(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
