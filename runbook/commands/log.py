"""``runbook log``: the journal, as it was kept."""

from __future__ import annotations

from argparse import Namespace

from runbook.commands.out import complain, say, say_json
from runbook.journal.store import Journal, journal_path
from runbook.plan.where import find_day, records_of
from runbook.session.said import log_lines


def run(args: Namespace) -> int:
    """Print the journal of a day; it need not be readable as a plan any more."""
    seen = Journal.look(journal_path(records_of(find_day(args.day))))
    entries = seen.entries
    for row in seen.unreadable:
        complain(f"entry {row.n} cannot be read: {row.why}; the others are all here")
    if args.json:
        say_json({"entries": [entry.facts() for entry in entries]})
        return 1 if seen.unreadable else 0
    if not entries:
        say("Nothing has been journalled yet; runbook open begins the day.")
    for line in log_lines(entries):
        entry, undone = line.entry, "  (undone)" if line.undone else ""
        say(f"{entry.n:>5}  {entry.at:%Y-%m-%d %H:%M:%S}  {entry.who:<10} {line.text}{undone}")
    return 1 if seen.unreadable else 0
