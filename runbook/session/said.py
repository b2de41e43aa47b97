"""What happened, in words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from runbook.journal import entries as told
from runbook.journal.entries import Entry
from runbook.plan.marks import aperture_mark


def reading_said(stops: float) -> str:
    """``f/5.6 +0.3``: the way an incident meter shows a reading."""
    mark, over = aperture_mark(stops)
    tenths = round(over * 10)
    if tenths == 10:
        mark, tenths = aperture_mark(round(stops))[0], 0
    return f"f/{mark}" if tenths == 0 else f"f/{mark} +0.{tenths}"


def _skipped(data: told.Skipped) -> str:
    if data.what == "check":
        what = f"set aside: {data.id}"
    else:
        what = f"left out: {(data.step or {}).get('text') or data.id}"
    return f"{what}, because: {data.reason}"


_SAID: Final[dict[type, Callable[[Any], str]]] = {
    told.DayOpened: lambda data: f"opened: {data.day}",
    told.SetupBegun: lambda data: f"begun: {data.setup or 'the wrap'}",
    told.StepTicked: lambda data: f"done: {data.step.get('text') or data.step.get('verb')}",
    told.CheckTicked: lambda data: f"checked: {data.check}",
    told.Skipped: _skipped,
    told.Undone: lambda data: f"undone: entry {data.entry}",
    told.Changed: lambda data: (
        f"changed: {data.item or data.of} {data.key} {data.before} to {data.now}"
    ),
    told.Reading: lambda data: f"read: {data.head or 'all heads'} {data.f}",
    told.Frames: lambda data: f"frames: {data.added:+d} on {data.setup}",
    told.Note: lambda data: f"note: {data.text}",
    told.SetupShot: lambda data: f"shot: {data.setup}",
    told.BreakBegun: lambda data: f"break: {data.id}",
    told.BreakEnded: lambda data: f"break over: {data.id}",
}


def said_of(entry: Entry) -> str:
    """An entry in words."""
    say = _SAID.get(type(entry.data))
    return say(entry.data) if say else entry.kind
