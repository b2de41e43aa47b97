"""A new order of the setups written into ``day.toml``, everything else in it kept byte for byte."""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from runbook.plan.tuples import NamedTuple

_KEY: Final = re.compile(r"""^[ \t]*(?:order|"order"|'order')[ \t]*=[ \t]*\[""", re.MULTILINE)
_TOKEN: Final = re.compile(
    r"""(?P<string>"(?:[^"\\\n]|\\.)*"|'[^'\n]*')|(?P<comment>\#[^\n]*?)(?=\r?\n)|(?P<end>\])|(?P<line>\n)|.""",
    re.DOTALL,
)


class CannotReorder(ValueError):
    """The file cannot be rewritten safely; the text says why."""


class _Item(NamedTuple):
    """One id in the list: where it is written, where its remark is, and the line it stands on."""

    span: tuple[int, int]
    line: int


def reordered(text: str, order: Sequence[str]) -> str:
    """The text of a ``day.toml`` with this order. A remark behind an id goes along with it.

    Raises CannotReorder where the list cannot be found, or anything but the order would change.
    """
    before = _parsed(text)
    names: list[str] = before.get("order", [])
    if sorted(names) != sorted(order):
        raise CannotReorder("its order no longer names the same setups; read the day again")
    items, remarks = _items(text)
    old = [text[slice(*item.span)] for item in items]
    if len(old) != len(names):
        raise CannotReorder("its order is written in a way this cannot follow; write it by hand")
    written = dict(zip(names, old, strict=True))
    new = [written[name] for name in order]
    at = {name: n for n, name in enumerate(names)}
    edits = [(item.span, new[n]) for n, item in enumerate(items)]
    if _one_a_line(items):
        for n, item in enumerate(items):
            mine, theirs = remarks.get(item.line), remarks.get(items[at[order[n]]].line)
            said = "" if theirs is None else text[slice(*theirs)]
            if mine is not None:
                edits.append((mine, said))
            elif said:
                end = _end_of_line(text, item.span[1])
                edits.append(((end, end), f"  {said}"))
    for (start, end), put in sorted(edits, reverse=True):
        text = text[:start] + put + text[end:]
    after = _parsed(text)
    if after != {**before, "order": list(order)}:
        raise CannotReorder("more than its order would change; write the order by hand")
    return text


def _parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise CannotReorder(f"it cannot be read: {problem}") from None


def _items(text: str) -> tuple[list[_Item], dict[int, tuple[int, int]]]:
    """The ids of the list as written, and the remarks by line."""
    found = _KEY.search(text)
    if found is None:
        raise CannotReorder("its order is not written as order = [...]; write it so by hand")
    items: list[_Item] = []
    remarks: dict[int, tuple[int, int]] = {}
    line = 0
    for token in _TOKEN.finditer(text, found.end()):
        if token["string"]:
            items.append(_Item(token.span(), line))
        elif token["comment"]:
            remarks[line] = token.span()
        elif token["line"]:
            line += 1
        elif token["end"]:
            break
    return items, remarks


def _one_a_line(items: Sequence[_Item]) -> bool:
    lines = [item.line for item in items]
    return len(set(lines)) == len(lines)


def _end_of_line(text: str, at: int) -> int:
    end = text.index("\n", at)
    return end - 1 if text[end - 1] == "\r" else end


def write_order(path: Path, order: Sequence[str]) -> None:
    """Put the order into a file, whole or not at all. Raises CannotReorder, and OSError."""
    path = path.resolve()
    old = path.read_bytes()
    new = reordered(old.decode("utf-8"), order).encode("utf-8")
    file, kept = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(file, "wb") as out:
            out.write(new)
            out.flush()
            os.fsync(out.fileno())
        Path(kept).chmod(path.stat().st_mode & 0o777)
        if path.read_bytes() != old:
            raise CannotReorder("somebody else wrote it meanwhile; try again")
        Path(kept).replace(path)
    finally:
        with suppress(OSError):
            Path(kept).unlink()
