"""Saving a head's last reading of the day in kit.toml; undo does not take it back."""

from __future__ import annotations

from pathlib import Path

from runbook.day.actions import Refused, Session
from runbook.day.light import measured_text, measurement_text
from runbook.files.errors import Unreadable
from runbook.model.kit import Measured


def save_question(day: Session, head: str) -> tuple[str, str]:
    """Return the question before a head's last reading is saved, and what a yes does.

    Raises Refused without a reading to save or a folder to save it in.
    """
    from runbook.files.editor import replaced_by, same_use
    from runbook.files.load import read_day

    row, folder = _row_to_save(day, head)
    try:
        rows = read_day(folder).kit.measured
    except Unreadable as error:
        raise Refused(f"kit.toml cannot be updated: {error.faults[0]}") from None
    units, replaced = day.plan.day.units, replaced_by(rows, row)
    others = [measured_text(rows[n], units) for n in same_use(rows, row) if n != replaced]
    effect = "save it" if replaced is None else f"save it in place of {measured_text(rows[replaced], units)}"
    effect += f", beside {' and '.join(others)}" if others else ""
    return f"Save {measurement_text(row, units)} in kit.toml?", effect


def save_measurement(day: Session, head: str) -> str:
    """Save a head's last reading; return what was written and where the old file is.

    Raises Refused as ``save_question``, and when kit.toml cannot be written.
    """
    from runbook.files.editor import keep_measured, stamp_of
    from runbook.files.toml_edit import NotEdited

    row, folder = _row_to_save(day, head)
    text = measurement_text(row, day.plan.day.units)
    try:
        backup = keep_measured(folder, row, stamp_of(day.clock()))
    except (Unreadable, NotEdited) as error:
        fault = error.faults[0] if isinstance(error, Unreadable) else error
        raise Refused(f"kit.toml is not written: {fault}") from None
    return f"already in kit.toml: {text}" if backup is None else f"saved (before: {backup}/kit.toml): {text}"


def _row_to_save(day: Session, head: str) -> tuple[Measured, Path]:
    """Return a head's last reading of the day as a row of the kit, and the folder of that kit."""
    row = next((row for row in reversed(day.state.anchors) if row.head == head), None)
    if row is None:
        raise Refused(f"no reading of {head} alone, aimed at the face, is in the journal yet")
    if day.folder is None:
        raise Refused("this day has no folder to save it in")
    return row, day.folder
