"""The day as its journal has it, and this machine's clock, for commands that look at a day."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Final

from runbook.commands.output import print_error
from runbook.files.paths import has_journal, journals_near, records_of
from runbook.model.day import Plan
from runbook.model.kit import Measured

if TYPE_CHECKING:
    from runbook.day.actions import Session
    from runbook.day.changeovers import Timings
    from runbook.day.state import DayState
    from runbook.reports.document import Part


class LocalZone(tzinfo):
    """This machine's time zone, with its changes between winter and summer time."""

    def utcoffset(self, dt: datetime | None) -> timedelta | None:
        """Return the offset in force at a local time, by its ``fold`` where it comes twice."""
        return None if dt is None else dt.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, _: datetime | None) -> timedelta | None:
        """Return None: how much of the offset is summer time is not asked."""
        return None

    def tzname(self, dt: datetime | None) -> str | None:
        """Return the name of the zone at a local time."""
        return None if dt is None else dt.replace(tzinfo=None).astimezone().tzname()

    def fromutc(self, dt: datetime) -> datetime:
        """Return the local time of a time in UTC that has this zone."""
        local = dt.replace(tzinfo=UTC).astimezone()  # which does not say which of two equal hours it is
        here = local.replace(tzinfo=self)
        return here if here.utcoffset() == local.utcoffset() else here.replace(fold=1)


LOCAL: Final = LocalZone()


def now() -> datetime:
    """Return the time in this machine's zone."""
    return datetime.now(LOCAL)


def is_terminal() -> bool:
    """Return whether there is a terminal to show screens on, or to ask questions."""
    import os

    ours = (sys.stdin, sys.stdout)  # None where whoever started us closed it
    return all(stream is not None and stream.isatty() for stream in ours) and os.environ.get("TERM", "dumb") != "dumb"


def session_now(plan: Plan, folder: Path, now: datetime) -> Session:
    """Return the day as its journal has it, at a moment, with nothing written anywhere.

    A day that is over by the calendar is taken as it stood when last something was journalled; one
    that is not begun, at its call. Raises JournalError.
    """
    from runbook.clock.timetable import wrap_at
    from runbook.day.actions import Session
    from runbook.day.timings import timings_near
    from runbook.journal.journal import Journal, journal_path

    records = records_of(folder)
    entries = Journal.read(journal_path(records)).entries
    if entries and wrap_at(plan.day, entries[-1].at) != wrap_at(plan.day, now):
        now = entries[-1].at.astimezone(now.tzinfo)
    times = [now]
    journal = Journal.in_memory(clock=lambda: times[-1], who="", entries=entries)
    session = Session(plan, journal, "", lambda: times[-1], known=timings_near(records))
    if not session.state.begun:
        times.append(datetime.combine(plan.day.date, plan.day.call, now.tzinfo))
    return session


def timings_of(records: Path) -> Timings:
    """Return the timings of the journals near the day, where there are any."""
    from runbook.day.changeovers import NO_TIMINGS

    if not journals_near(records):
        return NO_TIMINGS  # what learns from them need not be imported
    from runbook.day.timings import timings_near

    return timings_near(records)


def state_today(plan: Plan, folder: Path) -> DayState | None:
    """Return the state of the day as its journal has it; None before the day.

    A journal that cannot be read is reported on standard error: what it holds is then not used.
    """
    records = records_of(folder)
    if not has_journal(records):
        return None  # so that what reads journals need not be imported
    from runbook.day.reduce import state_after
    from runbook.journal.errors import JournalError
    from runbook.journal.events import live
    from runbook.journal.journal import Journal, journal_path

    try:
        return state_after(plan, live(Journal.read(journal_path(records)).entries))
    except JournalError as trouble:
        print_error(f"runbook: readings of the day are not used: {trouble}")
        return None


def metered_today(plan: Plan, folder: Path) -> tuple[Measured, ...]:
    """Return what the meter showed of each head so far, to carry predictions from; nothing before the day."""
    state = state_today(plan, folder)
    return state.anchors if state else ()


def selects_part(state: DayState | None, records: Path) -> tuple[Part, ...]:
    """Return the page of the frames to match setups by, with their pictures as they are beside the journal."""
    if state is None or not state.selects:
        return ()
    from runbook.day.frame_view import FramesView
    from runbook.reports.overview import selects_page

    view = FramesView(state)
    return (selects_page(view, {setup_id: path.read_bytes() for setup_id, path in view.select_files(records).items()}),)
