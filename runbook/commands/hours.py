"""``runbook hours``: the day's clock, its forecast, and what running over costs."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from runbook.commands.out import FINE, say, say_json, table
from runbook.journal.store import Journal, journal_path
from runbook.plan.day import Plan
from runbook.plan.files import read_day
from runbook.plan.where import find_day, records_of
from runbook.session.ending import wrap_at
from runbook.session.hours import Hours, facts, hours_of
from runbook.session.hours_said import (
    against_wrap_said,
    finish_said,
    overtime_said,
    row_words,
    savings_said,
    stands_on_said,
)
from runbook.session.session import Session
from runbook.session.timings import known_beside


def run(args: Namespace) -> int:
    """Print the day's hours; 0 when done."""
    folder = find_day(args.day)
    plan = read_day(folder)
    hours = hours_now(plan, records_of(folder), datetime.now().astimezone())
    if args.json:
        say_json(facts(hours))
        return FINE
    for line in _told(plan, hours):
        say(line)
    return FINE


def hours_now(plan: Plan, records: Path, now: datetime) -> Hours:
    """The day's clock: as planned before anything was begun, else as it stands.

    A day that is over by the calendar is told as it stood when last something was journalled.
    """
    entries = Journal.look(journal_path(records)).entries
    if entries and wrap_at(plan.day, entries[-1].at) != wrap_at(plan.day, now):
        now = entries[-1].at
    journal = Journal.in_memory(clock=lambda: now, who="", entries=entries)
    session = Session(plan, journal, "", lambda: now, known=known_beside(records))
    if not session.truth.begun:
        now = datetime.combine(plan.day.date, plan.day.call, now.tzinfo)
    return hours_of(session.moment, session.changes, ways_back=True)


def _told(plan: Plan, hours: Hours) -> Iterator[str]:
    heading = ("setup", "", "planned", "real" if hours.begun else "expected", "change", "shoot", "")
    yield from (line.rstrip() for line in table([heading, *map(row_words, hours.rows)]))
    yield ""
    yield finish_said(hours)
    yield against_wrap_said(hours)
    yield overtime_said(plan.day, hours)
    yield stands_on_said(hours)
    yield from savings_said(plan.day, hours)
