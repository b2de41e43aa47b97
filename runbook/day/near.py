"""Where the journals near a day lie: found without opening any."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Final

_NAMES: Final = ("journal.runlog", "rehearsal.runlog")
_READ: Final = 30  # the newest; older ones had other hands


def journals_near(records: Path) -> tuple[Path, ...]:
    """The journals to learn from, the newest first: the day's own, its rehearsal, and those of the
    folders beside it. ``records`` is where the day keeps its own.
    """
    own = records.resolve()
    found: list[tuple[float, Path]] = []
    for folder in (str(own), *_beside(own)):
        for name in _NAMES:
            path = os.path.join(folder, name)  # noqa: PTH118 - a thousand folders, at every start
            try:
                there = os.stat(path)  # noqa: PTH116
            except OSError:
                continue
            if stat.S_ISREG(there.st_mode):
                found.append((there.st_mtime, Path(path)))
    found.sort(key=lambda each: -each[0])
    return tuple(path for _, path in found[:_READ])


def has_journal(records: Path) -> bool:
    """Whether the day that keeps its records there was ever opened."""
    return os.path.exists(records / _NAMES[0])  # noqa: PTH110 (never raises, as a Path may)


def _beside(own: Path) -> list[str]:
    try:
        with os.scandir(own.parent) as entries:
            return [each.path for each in entries if each.is_dir() and each.name != own.name]
    except OSError:
        return []
