"""What would be taken back next, and what would be brought back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from runbook.journal.entries import Entry, Undone, live

# Who came and went is no deed to take back.
_NOT_UNDONE: Final = ("day-opened", "left", "undone", "handed-over", "resumed", "rescued")


def to_take_back(entries: Sequence[Entry]) -> Entry | None:
    """The last thing said that still counts and can be taken back."""
    return next((e for e in reversed(live(entries)) if e.kind not in _NOT_UNDONE), None)


def to_bring_back(entries: Sequence[Entry]) -> Entry | None:
    """The undoing that was said last and still counts, if nothing was said since."""
    undone: list[Entry] = []
    for entry in entries:
        if entry.kind in ("day-opened", "left"):
            continue
        if not isinstance(entry.data, Undone):
            undone = []
        elif undone and entry.data.entry == undone[-1].n:
            undone.pop()
        else:
            undone.append(entry)
    return undone[-1] if undone else None
