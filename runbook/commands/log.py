"""``runbook log``: the journal, as it was kept."""

from __future__ import annotations

from argparse import Namespace

from runbook.commands.out import say, say_json
from runbook.plan.where import find_day

from runbook.journal.store import journal_file, look

HELP = "the journal: what really happened, in order"


def run(args: Namespace) -> int:
    """Print the journal of a day; it need not be readable as a plan any more."""
    from runbook.journal.entries import live
    from runbook.session.said import said_of

    entries = look(journal_file(find_day(args.day)))
    if args.json:
        say_json({"entries": [entry.facts() for entry in entries]})
        return 0
    if not entries:
        say("Nothing has been journalled yet; runbook open begins the day.")
    counts = {entry.n for entry in live(entries)}
    for entry in entries:
        undone = "" if entry.n in counts else "  (undone)"
        say(f"{entry.n:>5}  {entry.at:%Y-%m-%d %H:%M:%S}  {entry.who:<10} {said_of(entry)}{undone}")
    return 0
