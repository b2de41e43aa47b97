"""Which folder a command means."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from runbook.plan.faults import Fault, Unreadable

_PACKAGE: Final = Path(__file__).parents[1]


def find_day(text: str | None) -> Path:
    """The folder named; else the current one if it holds a day; else the demo day.

    Raises Unreadable when none is named and there is no demo day.
    """
    if text is not None:
        return Path(text)
    here = Path()
    if holds_day(here):
        return here
    demo = demo_day()
    if demo is None:
        do = "name a day's folder, or start one with: runbook new DAY"
        raise Unreadable([Fault(".", None, "", "holds no day.toml", do)])
    return demo


def holds_day(folder: Path) -> bool:
    """Whether a folder is a day's."""
    return os.path.isfile(folder / "day.toml")  # noqa: PTH113 (never raises, as a Path may)


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
