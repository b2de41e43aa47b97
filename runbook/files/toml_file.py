"""One TOML file of a day, as it is on disk: read with care, and never trusted."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from runbook.files.errors import Fault, Unreadable

DAY_FILE: Final = "day.toml"
KIT_FILE: Final = "kit.toml"
SIZE_MAX: Final = 1024 * 1024
PARTS_MAX: Final = 64  # of a key: our own have three
_LONG_KEY: Final = rf"(?<![\w.-])(?:(?:[\w-]+|\"[^\"]*\"|'[^']*')\s*\.\s*){{{PARTS_MAX}}}"
_PLACE: Final = r" \(at (?:line (\d+), column \d+|end of document)\)$"
_LIKE: Final = "write each line as key = value, with texts in quotes"


@dataclass(frozen=True, slots=True)
class Source:
    """A file that is TOML: how a person would name it, its text, and what it says."""

    shown: str
    text: str
    table: dict[str, Any]


def shown_path(path: Path) -> str:
    """A path as short as it can be said from here; in it, what cannot be printed is escaped."""
    said = str(path)
    try:
        short = os.path.relpath(path)
    except (OSError, ValueError):  # no current folder; another drive
        short = said
    said = said if short.startswith(os.pardir) else short
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in said)


def unreadable(path: Path, problem: Exception) -> Unreadable:
    """Why a file or folder cannot be opened, in plain words."""
    if isinstance(problem, FileNotFoundError):
        what, do = "is not there", "name a day's folder, or start one with: runbook new DAY"
        if path.is_symlink():
            what, do = "points at a file that is not there", "mend the link, or take it away"
    elif isinstance(problem, PermissionError):
        what, do = "may not be read", "ask for the right to read it"
    elif isinstance(problem, NotADirectoryError):
        what, do = "is no folder", "name the folder that holds day.toml"
    else:
        reason = problem.strerror if isinstance(problem, OSError) else None
        what = f"cannot be read: {reason or problem}".lower()
        do = "mend it on the disk, or name another"
    return Unreadable([Fault(shown_path(path), None, "", what, do)])


def read_bytes(path: Path) -> bytes:
    """What a file holds. Raises Unreadable with one fault when it is no fit file."""
    try:
        mode = path.stat()
        if not stat.S_ISREG(mode.st_mode):
            raise _refused(path, "is no plain file", "write a file there, or give it another name")
        if mode.st_size > SIZE_MAX:
            raise _too_big(path)
        with path.open("rb") as file:
            return file.read(SIZE_MAX + 1)
    except (OSError, ValueError) as problem:
        raise unreadable(path, problem) from None


def read_source(path: Path) -> Source:
    """Read one file. Raises Unreadable with one fault when it is not TOML, or no fit file."""
    return parsed(path, read_bytes(path))


def parsed(path: Path, data: bytes) -> Source:
    """A file's bytes as TOML. Raises Unreadable with one fault when they are not."""
    if len(data) > SIZE_MAX:
        raise _too_big(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        what = f"byte 0x{data[problem.start]:02x} is not UTF-8"
        raise _refused(path, what, "save the file as UTF-8 text", line) from None
    long_key = _long_key(text)
    if long_key:
        raise _refused(path, f"a key in it has over {PARTS_MAX} parts", "write fewer dots", long_key)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise _not_toml(path, text, str(problem)) from None
    except RecursionError:
        raise _refused(path, "brackets are nested too deeply to read", "close them") from None
    except (ValueError, OverflowError):
        # the digits Python will turn into a whole number have a limit
        raise _refused(path, "a number or a date in it cannot be read", "write fewer digits", _digits(text)) from None
    return Source(shown_path(path), text, table)


def _long_key(text: str) -> int | None:
    """The line of a key of so many parts that to read it would take hours, if there is one."""
    if text.count(".") < PARTS_MAX:
        return None
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") >= PARTS_MAX and re.search(_LONG_KEY, line):
            return number
    return None


def _digits(text: str) -> int | None:
    found = re.search(r"[0-9_]{1000,}", text)
    return text.count("\n", 0, found.start()) + 1 if found else None


def _not_toml(path: Path, text: str, message: str) -> Unreadable:
    place = re.search(_PLACE, message)
    said = re.sub(_PLACE, "", message)
    line = int(place[1]) if place and place[1] else text.rstrip("\n").count("\n") + 1
    said = said if len(said) <= 100 else f"{said[:99]}…"
    return _refused(path, f"is not TOML: {said[:1].lower()}{said[1:]}", _LIKE, line)


def _too_big(path: Path) -> Unreadable:
    return _refused(path, "is over 1 MiB", "no file of a day is so big; is it the right one?")


def _refused(path: Path, what: str, do: str, line: int | None = None) -> Unreadable:
    return Unreadable([Fault(shown_path(path), line, "", what, do)])
