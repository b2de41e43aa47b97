"""A first day's folder: a small kit, the hours, and two setups, all to be written over."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import tempfile
from pathlib import Path
from typing import Final

from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.toml_edit import set_value

_ASIDE: Final = ".new-"  # how the name of a folder begins in which files are written first
_TEMPLATES: Final = Path(__file__).with_name("templates")
_NAMES: Final = ("kit.toml", "one.toml", "two.toml", "day.toml")  # the day last


def start_day(folder: Path, date: dt.date) -> list[Path]:
    """Write a day that ``runbook check`` finds fine into a new or empty folder.

    Returns the files written. A kill leaves a folder that can be written again, or a whole day.
    Raises Unreadable, with nothing left behind, when the folder holds something already or cannot
    be written.
    """
    name = "".join(c for c in folder.absolute().name if c.isprintable() and c not in '"\\')
    texts = {file: (_TEMPLATES / file).read_text("utf-8") for file in _NAMES}
    day = set_value(texts["day.toml"], ("name",), name or "A day")
    texts["day.toml"] = set_value(day, ("date",), date)
    try:
        fresh = not folder.exists()
        if not fresh and any(not _is_leftover(path, texts) for path in folder.iterdir()):
            raise Unreadable([Fault(shown_path(folder), None, "", "is not empty", "name a new one")])
        folder.mkdir(parents=True, exist_ok=True)
        for left in folder.glob(f"{_ASIDE}*"):
            shutil.rmtree(left)
        return _write(folder, texts, fresh)
    except (OSError, ValueError) as problem:
        raise _unwritable(folder, problem) from None


def _is_leftover(path: Path, texts: dict[str, str]) -> bool:
    """Whether a file or folder is what a killed ``start_day`` left: day.toml is written last."""
    if path.name.startswith(_ASIDE) and path.is_dir():
        return all(each.name in texts for each in path.iterdir())
    if path.name not in texts or path.name == "day.toml":
        return False
    return path.is_file() and path.read_bytes() == texts[path.name].encode()


def _write(folder: Path, texts: dict[str, str], fresh: bool) -> list[Path]:
    """Write everything beside, then move it into place; take all of it away if one fails."""
    moved: list[Path] = []
    aside = Path(tempfile.mkdtemp(prefix=_ASIDE, dir=folder))
    try:
        for name, text in texts.items():
            (aside / name).write_text(text, encoding="utf-8", newline="\n")
        for name in texts:
            os.replace(aside / name, folder / name)  # noqa: PTH105 (as one step, on any system)
            moved.append(folder / name)
    except BaseException:
        for path in (*moved, *aside.iterdir()):
            path.unlink()
        aside.rmdir()
        if fresh:
            folder.rmdir()
        raise
    aside.rmdir()
    return moved


def _unwritable(folder: Path, problem: Exception) -> Unreadable:
    """Why a day cannot be written: told of the last folder on the way to it that is there."""
    way = (folder.absolute(), *folder.absolute().parents)
    there = next(path for path in way if os.path.lexists(path))
    elsewhere = "name a folder that can be made"
    if not there.exists():
        what, do = "points at a folder that is not there", f"mend the link, or {elsewhere}"
    elif not there.is_dir():
        what, do = "is no folder", elsewhere
    elif isinstance(problem, PermissionError):
        what, do = "may not be written", "ask for the right to write there"
    elif isinstance(problem, FileNotFoundError):  # a folder that takes no other, as /proc
        what, do = "cannot be written: it takes no new folder", elsewhere
    else:
        reason = problem.strerror if isinstance(problem, OSError) else None
        what, do = f"cannot be written: {reason or problem}".lower(), elsewhere
    return Unreadable([Fault(shown_path(there), None, "", what, do)])
