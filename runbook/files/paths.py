"""Which folder a command means."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

from runbook.files.errors import Fault, Unreadable

DAY_FILE: Final = "day.toml"
KIT_FILE: Final = "kit.toml"
_PACKAGE: Final = Path(__file__).parents[1]
_JOURNALS: Final = ("journal.runlog", "rehearsal.runlog")
_NEWEST: Final = 30  # older journals had other crews
_START: Final = "start your own with: runbook new DAY"
_NO_DAY: Final = "no day in this folder: showing the demo day"


def _on_standard_error(text: str) -> None:
    if sys.stderr is not None:  # closed by whoever started us
        print(text, file=sys.stderr)


def find_day(text: str | None, *, to_write: bool = False, tell: Callable[[str], None] = _on_standard_error) -> Path:
    """The folder named; else the current one if it holds a day; else the demo day, with a message to ``tell``.

    The demo day belongs to everybody: to write in it, a person gets a copy of their own, beside its
    journal. Once that is there, it is what is meant. Raises Unreadable when none is named and there
    is no demo day, or when it cannot be copied.
    """
    if text is not None:
        return Path(text)
    here = Path()
    if holds_day(here):
        return here
    demo = demo_day()
    if demo is None:
        do = f"name a day's folder, or {_START}"
        raise Unreadable([Fault(".", None, "", "holds no day.toml", do)])
    mine = records_of(demo)
    if holds_day(mine):
        tell(f"{_NO_DAY} (your copy in {mine}); {_START}")
        return mine
    if not to_write:
        tell(_NO_DAY)
        return demo
    from runbook.files.atomic_write import replace_files  # slow to import, and only ever wanted once

    try:
        mine.mkdir(parents=True, exist_ok=True)
        replace_files(mine, {}, {path.name: path.read_bytes() for path in demo.glob("*.toml")})
    except OSError as why:
        what = f"the demo day cannot be copied there: {why.strerror}"
        do = "name a day's folder, or set XDG_STATE_HOME to a folder that can be written"
        raise Unreadable([Fault(str(mine), None, "", what, do)]) from None
    tell(f"{_NO_DAY} (copied to {mine}); {_START}")
    return mine


def holds_day(folder: Path) -> bool:
    """Whether a folder is a day's."""
    return os.path.isfile(folder / DAY_FILE)  # noqa: PTH113 (never raises, as a Path may)


def demo_day(package: Path = _PACKAGE) -> Path | None:
    """The demo day: inside the package when installed, beside it in a checkout."""
    for days in (package / "demo", package.parent / "setups"):
        found = sorted(path for path in days.glob("*") if holds_day(path))
        if found:
            return found[0]
    return None


def records_of(folder: Path) -> Path:
    """Where a day's journals are kept: beside the day; the demo day's in the person's own state.

    The demo day may be installed where nobody can write, and belongs to everybody.
    """
    demo = demo_day()
    if demo is None or folder.resolve() != demo.resolve():
        return folder
    state = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(state) / "runbook" / folder.resolve().name


def journals_near(records: Path) -> tuple[Path, ...]:
    """Return the journals to learn from, the newest first.

    They are the day's own, its rehearsal, and those of the folders beside it. ``records`` is the day's own folder.
    """
    own = records.resolve()
    folders = [own]
    with suppress(OSError):
        folders += [folder for folder in own.parent.iterdir() if folder != own]
    journals = []
    for path in (folder / name for folder in folders for name in _JOURNALS):
        with suppress(OSError):
            status = path.stat()
            if stat.S_ISREG(status.st_mode):
                journals.append((status.st_mtime, path))
    journals.sort(key=lambda journal: -journal[0])
    return tuple(path for _, path in journals[:_NEWEST])


def has_journal(records: Path) -> bool:
    """Return whether the day that keeps its records there was ever opened."""
    return os.path.exists(records / _JOURNALS[0])  # noqa: PTH110 (never raises, as Path.exists may)
