"""A first day's folder: a small kit, the hours, and two setups, all to be written over."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Final

from runbook.files.atomic_write import replace_files, write_folder
from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.toml_edit import set_value

_TEMPLATES: Final = Path(__file__).with_name("templates")
_NAMES: Final = ("kit.toml", "one.toml", "two.toml", "day.toml")


def start_day(folder: Path, date: dt.date) -> list[Path]:
    """Write a day that ``runbook check`` finds fine into a new or empty folder, whole or not at all.

    Returns the files written. Raises Unreadable when the folder holds something already or cannot be written.
    """
    name = "".join(c for c in folder.absolute().name if c.isprintable() and c not in '"\\')
    texts = {file: (_TEMPLATES / file).read_text("utf-8") for file in _NAMES}
    day = set_value(texts["day.toml"], ("name",), name or "A day")
    texts["day.toml"] = set_value(day, ("date",), date)
    files = {file: text.encode() for file, text in texts.items()}
    try:
        if not folder.exists():
            folder.parent.mkdir(parents=True, exist_ok=True)
            write_folder(folder, files)
        elif any(folder.iterdir()):
            raise Unreadable([Fault(shown_path(folder), None, "", "is not empty", "name a new one")])
        else:  # somebody may be working in it: it is not replaced
            replace_files(folder, {}, files)
    except (OSError, ValueError) as problem:
        raise _unwritable(folder, problem) from None
    return [folder / file for file in files]


def _unwritable(folder: Path, problem: Exception) -> Unreadable:
    """Why a day cannot be written, with the last folder on the way to it that is there."""
    way = (folder.absolute(), *folder.absolute().parents)
    there = next(path for path in way if os.path.lexists(path))
    what = f"cannot be written: {getattr(problem, 'strerror', None) or problem}".lower()
    if not there.is_dir():
        what = "is no folder" if there.exists() else "points at a folder that is not there"
    return Unreadable([Fault(shown_path(there), None, "", what, "name a folder that can be made")])
