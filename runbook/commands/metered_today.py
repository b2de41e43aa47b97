"""The day's meter readings, for commands that predict light."""

from __future__ import annotations

from pathlib import Path

from runbook.commands.out import complain
from runbook.day.timings import has_journal
from runbook.files.paths import records_of
from runbook.model.day import Plan
from runbook.model.kit import Measured


def metered_today(plan: Plan, folder: Path) -> tuple[Measured, ...]:
    """What the meter showed of each head so far, to carry predictions from; nothing before the day.

    A journal that cannot be read is reported on standard error: its readings are then not used.
    """
    records = records_of(folder)
    if not has_journal(records):
        return ()  # so that what reads journals need not be imported
    from runbook.day.reduce import state_after
    from runbook.journal.entries import live
    from runbook.journal.store import Journal, journal_path
    from runbook.journal.trouble import JournalTrouble

    try:
        entries = Journal.look(journal_path(records)).entries
    except JournalTrouble as trouble:
        complain(f"runbook: readings of the day are not used: {trouble}")
        return ()
    return state_after(plan, live(entries)).anchors
