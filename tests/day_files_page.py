"""The tables of docs/day-files.md, made from the models.

By hand, after a key has come or gone: ``python -m tests.day_files_page`` writes them anew.
"""

from __future__ import annotations

import re
from dataclasses import MISSING
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import tomli_w

from runbook.plan.bounds import LEAST, MOST, Within
from runbook.plan.form import kind_of, shape_of
from runbook.plan.meanings import MEANINGS
from runbook.plan.setup import Setup
from runbook.plan.shape import Member, members, plain

PAGE = Path(__file__).parents[1] / "docs" / "day-files.md"
_TABLE = re.compile(r"(<!-- keys: (\w+) -->\n).*?(<!-- /keys -->)", re.DOTALL)
_TAKES = {
    "length": "m",
    "mass": "kg",
    "yes": "`true`, `false`",
    "whole": "whole number",
    "text": "text",
    "id": "id",
    "ids": "list of ids",
    "date": "date, `2026-12-04`",
    "time": "time, `08:00:00`",
    "power": 'power, `"1/8+0.3"`',
    "aperture": "f-number",
    "shutter": 'shutter, `"1/160"`',
}
_WRITTEN = (("like", "id"), ("drop", "list of ids"))  # in a setup's file only, worked in on reading


def _bounds(hint: Any) -> str:
    """What a number is held to, where that is more than being of this world."""
    if get_origin(hint) is not Annotated:
        parts = [_bounds(arg) for arg in get_args(hint)]
        return next((part for part in parts if part), "")
    for note in get_args(hint)[1:]:
        if isinstance(note, Within):
            low = note.gt if note.gt is not None else note.ge
            high = note.lt if note.lt is not None else note.le
            if low == LEAST or (low == 0 and high in (MOST, 1_000_000)):
                return ""
            return f"{'over ' if note.gt is not None else ''}{low:g} to {high:g}"
    return ""


def _takes(member: Member) -> str:
    kind, unit = kind_of(member)
    if kind == "choice":
        hint = member.hint
        while get_origin(hint) is Annotated:
            hint = get_args(hint)[0]
        return ", ".join(f'`"{word}"`' for word in get_args(hint))
    if kind == "pair":
        return f"two numbers, {unit}"
    said = _TAKES.get(kind, unit or "number")
    return ", ".join(part for part in (said, _bounds(member.hint)) if part)


def _default(member: Member) -> str:
    if member.default is MISSING:
        return "**must**"
    value = plain(member.default)
    if value is None or not (value or isinstance(value, bool | int | float)):
        return "none"
    if isinstance(value, tuple | list):
        return f"`{list(value)}`"
    return f"`{tomli_w.dumps({'x': value}).removeprefix('x = ').strip()}`"


def table(cls: type) -> str:
    """The keys of a model: what they take, what they mean, what they are when left out."""
    rows = ["| key | takes | means | left out |", "|---|---|---|---|"]
    means = MEANINGS[cls]
    for member in members(cls):
        inner = shape_of(member)
        if inner is not None or (cls is Setup and member.key == "id"):
            continue
        row = (f"`{member.key}`", _takes(member), means[member.key], _default(member))
        rows.append(f"| {' | '.join(row)} |")
    if cls is Setup:
        rows += [f"| `{key}` | {takes} | {means[key]} | none |" for key, takes in _WRITTEN]
    return "\n".join(rows) + "\n"


def made(page: str) -> str:
    """The page with every table as the models have it."""
    by_name = {cls.__name__: cls for cls in MEANINGS}
    return _TABLE.sub(lambda found: found[1] + table(by_name[found[2]]) + found[3], page)


if __name__ == "__main__":
    PAGE.write_text(made(PAGE.read_text("utf-8")), "utf-8")
