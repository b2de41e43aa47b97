"""What is wrong with a day's files, where it is written, and what would be right."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, Final

Path = tuple[Any, ...]  # from the top of a file to one value: ("light", "A", "power")
_COMPARED_MAX: Final = 300  # names; among more, to find the nearest takes long
_LISTED_MAX: Final = 20
LONGEST: Final = 60  # characters of a person's own text in a message


@dataclass(frozen=True, slots=True)
class Wrong:
    """A fault before it is known where it is written.

    ``paths`` are the values that do not go together, the one most likely wrong first; a thing in a list is counted
    from 0.
    """

    paths: tuple[Path, ...]
    what: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a file; as text it is one line, whatever was written in the file.

    ``file`` as the person would type it; ``line`` counts from 1, None when it is about the whole file; ``key`` as in
    ``light.A.power`` or, where there is no id, ``head[2].mass_kg`` for the second head.
    """

    file: str
    line: int | None
    key: str
    what: str
    do: str = ""

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        parts = (where, self.key, f"{self.what}; {self.do}" if self.do else self.what)
        return " ".join(": ".join(filter(None, parts)).splitlines())


class Unreadable(Exception):
    """A day that cannot be read, with everything that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        order = {(fault.file, fault.line or 0, fault.key, fault.what): fault for fault in faults}
        self.faults: tuple[Fault, ...] = tuple(order[place] for place in sorted(order))
        super().__init__("\n".join(map(str, self.faults)))


def instead(word: str, known: Collection[str]) -> str:
    """What to write in place of a word that names nothing: the nearest, or all there are."""
    if len(known) > _COMPARED_MAX:
        return f"write one of the {len(known)} there are"
    from difflib import get_close_matches

    names = {name.lower(): name for name in sorted(known)}
    near = get_close_matches(word.lower(), names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {names[near[0]]}?"
    listed = ", ".join(sorted(known)[:_LISTED_MAX])
    return f"there are {listed or 'none'}{' and more' if len(known) > _LISTED_MAX else ''}"


def shown(value: Any) -> str:
    """A value as it is written in a file, cut to a length that can be read."""
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, int) and abs(value) >= 10**LONGEST:
        return "a number too long to read"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = " ".join(text.lower().split() if isinstance(value, bool) else text.split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


def split(problem: ValueError) -> tuple[str, str]:
    """What is wrong and what would be right, from a message with both."""
    what, _, do = str(problem).partition("; ")
    return what, do


def one_line(text: str) -> str:
    """Return a person's text without line ends and control characters."""
    return "".join(char if char.isprintable() else " " for char in text)


def shown_path(path: FilePath) -> str:
    """A path as short as it can be from here; in it, what cannot be printed is escaped."""
    text = str(path)
    try:
        short = os.path.relpath(path)
    except (OSError, ValueError):  # no current folder; another drive
        short = text
    text = text if short.startswith(os.pardir) else short
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)


def unreadable(path: FilePath, problem: Exception) -> Unreadable:
    """Why a file or folder cannot be opened, in plain words."""
    match problem:
        case FileNotFoundError() if path.is_symlink():
            what, do = "points at a file that does not exist", "repair the link, or delete it"
        case FileNotFoundError():
            what, do = "does not exist", "name a day's folder, or start one with: runbook new DAY"
        case PermissionError():
            what, do = "cannot be read: no permission", "get permission to read it"
        case NotADirectoryError():
            what, do = "is not a folder", "name the folder that holds day.toml"
        case _:
            reason = problem.strerror if isinstance(problem, OSError) else None
            what, do = f"cannot be read: {reason or problem}".lower(), "repair it on the disk, or name another"
    return Unreadable([Fault(shown_path(path), None, "", what, do)])
