"""One TOML file of a day, as it is on disk: read with care, and never trusted."""

from __future__ import annotations

import re
import stat
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from runbook.files.errors import Fault, Unreadable, shown_path, unreadable

SIZE_MAX: Final = 1024 * 1024
PARTS_MAX: Final = 64  # of a key: our own have three
# a key of so many parts that to read it would take hours
_LONG_KEY: Final = re.compile(rf"(?<![\w.-])(?:(?:[\w-]+|\"[^\"]*\"|'[^']*')\s*\.\s*){{{PARTS_MAX}}}")
_PLACE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


@dataclass(frozen=True, slots=True)
class Source:
    """A file that is TOML: how a person would name it, its text, and its table."""

    shown: str
    text: str
    table: dict[str, Any]


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


@lru_cache(maxsize=256)  # while a day is edited, most of its files are read again and again as they are
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
    for number, line_text in enumerate(text.split("\n"), 1):
        if line_text.count(".") >= PARTS_MAX and _LONG_KEY.search(line_text):
            raise _refused(path, f"a key in it has over {PARTS_MAX} parts", "write fewer dots", number)
    try:
        return Source(shown_path(path), text, tomllib.loads(text))
    except tomllib.TOMLDecodeError as problem:
        raise _not_toml(path, text, str(problem)) from None
    except RecursionError:
        raise _refused(path, "brackets are nested too deeply to read", "close them") from None
    except (ValueError, OverflowError):
        # the digits Python will turn into a whole number have a limit
        digits = re.search(r"[0-9_]{1000,}", text)
        line = text.count("\n", 0, digits.start()) + 1 if digits else 1
        raise _refused(path, "a number or a date in it cannot be read", "write fewer digits", line) from None


def _not_toml(path: Path, text: str, message: str) -> Unreadable:
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else text.rstrip("\n").count("\n") + 1
    what = _PLACE.sub("", message)[:100]
    do = "write each line as key = value, with texts in quotes"
    return _refused(path, f"is not TOML: {what[:1].lower()}{what[1:]}", do, line)


def _too_big(path: Path) -> Unreadable:
    return _refused(path, "is over 1 MiB", "no file of a day is so big; is it the right one?")


def _refused(path: Path, what: str, do: str, line: int | None = None) -> Unreadable:
    return Unreadable([Fault(shown_path(path), line, "", what, do)])
