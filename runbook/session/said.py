"""What happened, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from runbook.change.checks import CHECKS
from runbook.journal import entries as told
from runbook.journal.entries import Entry, live
from runbook.plan.marks import aperture_mark
from runbook.plan.tuples import NamedTuple

HANDOVER: Final = "handover"  # the stage of what the next shooter says back
_CHECK_TEXT: Final = {check.id: check.text for check in CHECKS}


class LogLine(NamedTuple):
    """An entry, what happened in words, and whether it was undone."""

    entry: Entry
    text: str
    undone: bool


def reading_said(stops: float) -> str:
    """``f/5.6 +0.3``: the way an incident meter shows a reading."""
    mark, over = aperture_mark(stops)
    tenths = round(over * 10)
    if tenths == 10:
        mark, tenths = aperture_mark(round(stops))[0], 0
    return f"f/{mark}" if tenths == 0 else f"f/{mark} {'+' if tenths > 0 else '-'}0.{abs(tenths)}"


def _checked(data: told.CheckTicked) -> str:
    text = _CHECK_TEXT.get(data.check)
    if data.stage == HANDOVER:
        return f"said back: {data.answer or data.check}"
    return f"checked: {text or data.check}"


def _skipped(data: told.Skipped) -> str:
    if data.what == "check":
        what = f"set aside: {_CHECK_TEXT.get(str(data.id), data.id)}"
    else:
        what = f"left out: {(data.step or {}).get('text') or data.id}"
    return f"{what}, because: {data.reason}"


def _counted(data: told.Counted) -> str:
    said = f"counted home: {len(data.home)} {data.of}" if data.home else f"counted: {data.of}"
    return f"{said}; MISSING {', '.join(data.missing)}" if data.missing else said


_SAID: Final[dict[type, Callable[[Any], str]]] = {
    told.DayOpened: lambda data: f"opened: {data.day}",
    told.SetupBegun: lambda data: f"begun: {data.setup or 'the wrap'}",
    told.StepTicked: lambda data: f"done: {data.step.get('text') or data.step.get('verb')}",
    told.CheckTicked: _checked,
    told.Skipped: _skipped,
    told.Changed: lambda data: (
        f"changed: {data.item or data.of} {data.key} {data.before} to {data.now}"
    ),
    told.Reading: lambda data: f"read: {data.head or 'all heads'} {data.f}",
    told.Frames: lambda data: f"frames: {data.added:+d} on {data.setup}",
    told.Note: lambda data: f"note: {data.text}",
    told.SetupShot: lambda data: f"shot: {data.setup}",
    told.BreakBegun: lambda data: f"break: {data.id}",
    told.BreakEnded: lambda data: f"break over: {data.id}",
    told.HandedOver: lambda data: f"handed over to {data.to}",
    told.Resumed: lambda data: f"taken over from {data.giver}",
    told.Counted: _counted,
}


def said_of(entry: Entry) -> str:
    """An entry in words, by itself."""
    if isinstance(entry.data, told.Undone):
        return f"undone: entry {entry.data.entry}"
    say = _SAID.get(type(entry.data))
    return say(entry.data) if say else entry.kind


def log_lines(entries: Sequence[Entry]) -> tuple[LogLine, ...]:
    """Every entry in words, with what an undoing took back, and those undone marked."""
    by_number = {entry.n: entry for entry in entries}
    counts = {entry.n for entry in live(entries)}
    return tuple(
        LogLine(
            entry,
            _undoing_said(entry, by_number),
            entry.n not in counts and not isinstance(entry.data, told.Undone),
        )
        for entry in entries
    )


def _undoing_said(entry: Entry, by_number: dict[int, Entry]) -> str:
    if not isinstance(entry.data, told.Undone):
        return said_of(entry)
    back, taken = True, by_number.get(entry.data.entry)
    while taken is not None and isinstance(taken.data, told.Undone):
        back, taken = not back, by_number.get(taken.data.entry)
    if taken is None:
        return said_of(entry)
    return f"{'undone' if back else 'brought back'}: entry {taken.n}, {said_of(taken)}"
