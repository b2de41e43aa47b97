"""Keeping a reading in kit.toml: everything around it is left to the letter.

Of several rows for the same head, modifier and accessories, the one nearest in distance counts, and
of two as near the later. A row taken at the same distance would never count again: the new reading
is written over it. Those taken from elsewhere still count there, and stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Final

from runbook.files.editor import Editor
from runbook.files.edits import KIT
from runbook.files.toml_edit import add_table, set_value
from runbook.model.kit import Measured

_KEY: Final = "measured"
_FOR: Final = ("head", "modifier", "accessories")  # what a row is for, and how it was read
_READ: Final = ("power", "distance_m", "iso", "reads_f")


def same_use(rows: Sequence[Measured], row: Measured) -> tuple[int, ...]:
    """Which of the kit's rows are for the same head, modifier and accessories."""

    def use(each: Measured) -> tuple[str, str, list[str]]:
        return each.head, each.modifier, sorted(each.accessories)

    return tuple(n for n, each in enumerate(rows) if use(each) == use(row))


def replaced_by(rows: Sequence[Measured], row: Measured) -> int | None:
    """Which of the kit's rows never counts again once this one is there; None where all do."""
    at_m = round(row.distance_m, 3)
    same = [n for n in same_use(rows, row) if round(rows[n].distance_m, 3) == at_m]
    return same[-1] if same else None


def keep_measured(folder: Path, row: Measured, stamp: str) -> str | None:
    """Write a ``[[measured]]`` row into a day's kit.toml, whole or not at all.

    The files as they were are kept in ``.backup-<stamp>``, whose name is given back; None where the
    kit says so already, and nothing was written. Raises Unreadable where the day on disk cannot be
    read, NotEdited where kit.toml cannot be written.
    """
    editor = Editor(folder, stamp)
    text, rows = editor.texts[KIT], editor.plan.kit.measured
    row = replace(row, distance_m=round(row.distance_m, 3), reads_f=round(row.reads_f, 3))
    at = replaced_by(rows, row)
    if at is None:
        table = {key: getattr(row, key) for key in (*_FOR, *_READ)}
        after = add_table(text, _KEY, table | {"accessories": list(row.accessories)})
    else:
        after = text
        for key in _READ:
            if getattr(rows[at], key) != getattr(row, key):
                after = set_value(after, (_KEY, at, key), getattr(row, key))
    if after == text:
        return None
    try:
        editor.apply({KIT: after}, f"reading of {row.head} kept")
    except BaseException:
        with suppress(OSError):  # only where nothing is in it: nothing was written then
            editor.backup.rmdir()
        raise
    return editor.backup.name
