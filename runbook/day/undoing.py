"""What would be taken back next, and what would be brought back."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import takewhile
from typing import Final

from runbook.journal.entries import Entry, Undone

# Who came and went is no deed to take back.
_NOT_UNDONE: Final = ("day-opened", "left", "undone", "handed-over", "resumed", "rescued")


def first_affected(entries: Sequence[Entry], number: int) -> int:
    """Return the number of the first entry that counts otherwise once ``number`` is undone.

    That of an undoing is what it undid. ``entries`` are in order.
    """
    while True:
        at = bisect_left(entries, number, key=lambda entry: entry.n)
        data = entries[at].data if at < len(entries) and entries[at].n == number else None
        if not isinstance(data, Undone) or data.entry >= number:
            return number
        number = data.entry


def to_take_back(counted: Sequence[Entry]) -> Entry | None:
    """The last of the entries that count that can be undone."""
    return next((e for e in reversed(counted) if e.kind not in _NOT_UNDONE), None)


def to_bring_back(entries: Sequence[Entry]) -> Entry | None:
    """The undoing that was said last and still counts, if nothing was said since."""
    undone: list[Entry] = []
    came_and_went = ("day-opened", "left")
    last = takewhile(lambda e: isinstance(e.data, Undone) or e.kind in came_and_went, reversed(entries))
    for entry in reversed([e for e in last if e.kind not in came_and_went]):
        if undone and entry.data.entry == undone[-1].n:
            undone.pop()
        else:
            undone.append(entry)
    return undone[-1] if undone else None
