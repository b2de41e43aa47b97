"""Keeping a head's last reading of the day in kit.toml.

It is no deed of the day, and no undoing of one takes it back.
"""

from __future__ import annotations

from pathlib import Path

from runbook.day.actions import Refused
from runbook.day.day_view import DayView
from runbook.day.light import measured_text, measurement_text
from runbook.files.errors import Unreadable
from runbook.model.kit import Measured


def save_question(day: DayView, head: str) -> tuple[str, str]:
    """What to ask before a head's last reading is kept, and what a yes does.

    Raises Refused where there is none to keep, or nowhere to keep it.
    """
    from runbook.files.load import read_day
    from runbook.files.save_reading import replaced_by, same_use

    row, folder = _to_keep(day, head)
    try:
        rows = read_day(folder).kit.measured
    except Unreadable as why:
        raise Refused(f"kit.toml cannot be kept up: {why.faults[0]}") from None
    at, units, does = replaced_by(rows, row), day.plan.day.units, "keep it"
    others = " and ".join(measured_text(rows[n], units) for n in same_use(rows, row) if n != at)
    if at is not None:
        does += f" in place of {measured_text(rows[at], units)}"
    if others:
        does += f", beside {others}"
    return f"Keep {measurement_text(row, units)} in kit.toml?", does


def save_measurement(day: DayView, head: str) -> str:
    """Keep a head's last reading; returns what was written, in words that say how to undo it.

    Raises Refused as ``keep_asked``, and where kit.toml cannot be written.
    """
    from runbook.files.editor import stamp_of
    from runbook.files.save_reading import keep_measured
    from runbook.files.toml_edit import NotEdited

    row, folder = _to_keep(day, head)
    said = measurement_text(row, day.plan.day.units)
    try:
        backup = keep_measured(folder, row, stamp_of(day.clock()))
    except (Unreadable, NotEdited) as why:
        fault = why.faults[0] if isinstance(why, Unreadable) else why
        raise Refused(f"kit.toml is not written: {fault}") from None
    if backup is None:
        return f"kit.toml says so already: {said}"
    return f"kept (as it was: {backup}/kit.toml): {said}"


def _to_keep(day: DayView, head: str) -> tuple[Measured, Path]:
    """A head's last reading of the day as a row of the kit, and the folder of that kit."""
    row = next((row for row in reversed(day.state.anchors) if row.head == head), None)
    if row is None:
        raise Refused(f"no reading of {head} alone, aimed at the face, is in the journal yet")
    if day.folder is None:
        raise Refused("this day has no folder to keep it in")
    return row, day.folder
