"""What is wrong with a day's files, where it is written, and what would be right."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any, Final

Path = tuple[Any, ...]  # from the top of a file to one value: ("light", "A", "power")
_LOOKED_AT: Final = 300  # names; in a longer list nobody looks, and to find the nearest takes long
LONGEST: Final = 60  # characters of a person's own text that are said back


@dataclass(frozen=True, slots=True)
class Wrong:
    """A fault before it is known where it is written.

    ``paths`` are the values that do not go together, the one most likely wrong first; a thing in a
    list is named by its place or by its id.
    """

    paths: tuple[Path, ...]
    what: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a file.

    ``file`` as the person would type it; ``line`` counts from 1, None when it is about the whole
    file; ``key`` as in ``light.A.power`` or, where there is no id, ``head[2].mass_kg`` for the
    second head. Said, it is one line, whatever was written in the file.
    """

    file: str
    line: int | None
    key: str
    what: str
    do: str = ""

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        said = f"{self.what}; {self.do}" if self.do else self.what
        parts = (where, self.key, said)
        return " ".join(": ".join(part for part in parts if part).splitlines())


class Unreadable(Exception):
    """A day that cannot be read, with everything that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        order = {(fault.file, fault.line or 0, fault.key, fault.what): fault for fault in faults}
        self.faults: tuple[Fault, ...] = tuple(order[place] for place in sorted(order))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like this one, if any is like it."""
    from difflib import get_close_matches

    words = {name.lower(): name for name in known}
    found = get_close_matches(word.lower(), words, n=1, cutoff=0.6)
    return words[found[0]] if found else None


def instead(word: str, known: Collection[str]) -> str:
    """What to write in place of a word that names nothing: the nearest, or all there are."""
    if len(known) > _LOOKED_AT:
        return f"write one of the {len(known)} there are"
    names = sorted(known)
    near = nearest(word, names)
    if near:
        return f"did you mean {near}?"
    if not names:
        return "there are none"
    shown = ", ".join(names[:12])
    return f"there are {shown}{' and more' if len(names) > 12 else ''}"


def shown(value: Any) -> str:
    """A value as it is written in a file, cut to a length that can be read."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        text = "a list"
    elif isinstance(value, int) and abs(value) >= 10**LONGEST:
        text = "a number too long to read"
    else:
        text = str(value)
    text = " ".join(text.split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


def split(problem: ValueError) -> tuple[str, str]:
    """What is wrong and what would be right, from a message that says both."""
    what, _, do = str(problem).partition("; ")
    return what, do
