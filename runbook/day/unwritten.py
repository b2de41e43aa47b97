"""What is lost with a program that only looked on, or went on without a record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

from runbook.journal.entries import Entry, Undone

# nobody said these: they come by themselves, as the program begins and ends
_UNSAID: Final = frozenset({"day-opened", "left"})
_ONE_AND_MANY: Final = {
    "setup-begun": ("setup begun", "setups begun"),
    "step-ticked": ("step", "steps"),
    "check-ticked": ("check", "checks"),
    "reading": ("reading", "readings"),
    "changed": ("change", "changes"),
    "note": ("note", "notes"),
    "wind": ("wind", "winds"),
}
_OTHER: Final = ("other thing", "other things")


def lost_said(unwritten: Sequence[Entry]) -> str:
    """``2 steps and 1 note are not written and would be lost``; empty where nothing is.

    What was undone again is not lost; the undoing of something that is written is.
    """
    counts = Counter(_ONE_AND_MANY.get(each.kind, _OTHER) for each in _lost(unwritten))
    if not counts:
        return ""
    *most, last = [f"{many} {words[many > 1]}" for words, many in counts.items()]
    listed = f"{', '.join(most)} and {last}" if most else last
    if counts.total() == 1:
        return f"{listed} is not written and would be lost"
    return f"{listed} are not written and would be lost"


def _lost(unwritten: Sequence[Entry]) -> list[Entry]:
    """What still counts, the first first."""
    here, cancelled, kept = {each.n for each in unwritten}, set[int](), list[Entry]()
    for entry in reversed(unwritten):  # what undoes comes after what it undoes
        if entry.n in cancelled or entry.kind in _UNSAID:
            continue
        if isinstance(entry.data, Undone):
            cancelled.add(entry.data.entry)
        if not isinstance(entry.data, Undone) or entry.data.entry not in here:
            kept.append(entry)
    return kept[::-1]
