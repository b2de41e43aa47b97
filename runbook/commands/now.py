"""The day as it stands now, for commands that only look at it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from runbook.day.actions import Session
from runbook.day.timeline import wrap_at
from runbook.day.timings import timings_near
from runbook.journal.store import Journal, journal_path
from runbook.model.day import Plan


def session_now(plan: Plan, records: Path, now: datetime) -> Session:
    """The day as its journal tells it, at a moment, with nothing written anywhere.

    A day that is over by the calendar is taken as it stood when last something was journalled; one
    that is not begun, at its call. Raises JournalTrouble.
    """
    entries = Journal.look(journal_path(records)).entries
    if entries and wrap_at(plan.day, entries[-1].at) != wrap_at(plan.day, now):
        now = entries[-1].at.astimezone(now.tzinfo)
    times = [now]
    journal = Journal.in_memory(clock=lambda: times[-1], who="", entries=entries)
    session = Session(plan, journal, "", lambda: times[-1], known=timings_near(records))
    if not session.state.begun:
        times.append(datetime.combine(plan.day.date, plan.day.call, now.tzinfo))
    return session
