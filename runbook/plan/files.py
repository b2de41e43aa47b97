"""A day's folder: which of its files are the day's, and the plan they make."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from runbook.plan.day import Plan
from runbook.plan.faults import Unreadable
from runbook.plan.recall import keep, recalled
from runbook.plan.source import read_bytes, unreadable


def read_day(folder: Path) -> Plan:
    """Read a day's folder: ``kit.toml``, ``day.toml``, and every other ``*.toml`` as a setup.

    Files whose names begin with a dot are left alone. Files that are as they were when last read
    are not read anew (see ``recall``). Raises Unreadable with everything that is wrong.
    """
    try:
        files = day_bytes(folder)
    except Unreadable:  # told with all that is wrong with the others
        return _read(folder, {path.name: path for path in _paths(folder)})
    plan = recalled(folder, files)
    if plan is None:
        plan = _read(folder, files)
        keep(folder, files, plan)
    return plan


def read_files(folder: Path, files: Mapping[str, bytes]) -> Plan:
    """Read a day's folder as if it held these files, by name. Raises Unreadable as ``read_day``."""
    return _read(folder, {name: files[name] for name in sorted(files)})


def day_bytes(folder: Path) -> dict[str, bytes]:
    """What the day's files hold, by name. Raises Unreadable with one fault where that fails."""
    return {path.name: read_bytes(path) for path in _paths(folder)}


def _read(folder: Path, files: Mapping[str, Path | bytes]) -> Plan:
    from runbook.plan.reader import read  # slow to import, and not wanted for a plan recalled

    return read(folder, files)


def _paths(folder: Path) -> list[Path]:
    """The files of a folder that are the day's, by name."""
    try:
        names = sorted(path.name for path in folder.iterdir())
    except (OSError, ValueError) as problem:
        raise unreadable(folder, problem) from None
    return [folder / name for name in names if name.endswith(".toml") and name[0] != "."]


def digest_of(folder: Path) -> str:
    """A short sum over the plan's files, to tell whether they changed since. Raises OSError."""
    from hashlib import sha256

    total = sha256()
    for path in _paths(folder):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()[:16]
