"""The tables of docs/day-files.md, made from the models.

By hand, after a key has come or gone: ``python -m tests.day_files_page`` writes them anew.
"""

from __future__ import annotations

import re
from dataclasses import MISSING
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import tomli_w
from pydantic.fields import FieldInfo

from runbook.files.form import kind_of
from runbook.files.validate import Member, members, plain
from runbook.model.day import Day
from runbook.model.fields import LEAST, MOST
from runbook.model.kit import Kit
from runbook.model.setup import MERGE_KEYS, Setup

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
_MERGE = {"like": "id", "drop": "list of ids"}  # in a setup's file only, worked in on reading
_SIDES = ("gt", "ge", "lt", "le")


def models_in(cls: type) -> list[type]:
    """A model and every model inside it."""
    inner = [member.shape for member in members(cls) if member.shape]
    return [cls, *(model for shape in inner for model in models_in(shape))]


MODELS = [model for cls in (Kit, Day, Setup) for model in models_in(cls)]


def _bounds(hint: Any) -> str:
    """What a number is held to, where that is more than being of this world."""
    if get_origin(hint) is not Annotated:
        parts = [_bounds(arg) for arg in get_args(hint)]
        return next((part for part in parts if part), "")
    bounds: dict[str, float] = {}
    for note in get_args(hint)[1:]:
        for limit in note.metadata if isinstance(note, FieldInfo) else ():
            bounds |= {name: getattr(limit, name) for name in _SIDES if hasattr(limit, name)}
    if not bounds:
        return _bounds(get_args(hint)[0])
    low, high = bounds.get("gt", bounds.get("ge")), bounds.get("lt", bounds.get("le"))
    if low == LEAST or (low == 0 and high in (MOST, 1_000_000)):
        return ""
    return f"{'over ' if 'gt' in bounds else ''}{low:g} to {high:g}"


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
    for member in members(cls):
        inner = member.shape
        if inner is not None or (cls is Setup and member.key == "id"):
            continue
        row = (f"`{member.key}`", _takes(member), member.means, _default(member))
        rows.append(f"| {' | '.join(row)} |")
    if cls is Setup:
        rows += [f"| `{key}` | {_MERGE[key]} | {means} | none |" for key, means in MERGE_KEYS.items()]
    return "\n".join(rows) + "\n"


def made(page: str) -> str:
    """The page with every table as the models have it."""
    by_name = {cls.__name__: cls for cls in MODELS}
    return _TABLE.sub(lambda found: found[1] + table(by_name[found[2]]) + found[3], page)


if __name__ == "__main__":
    PAGE.write_text(made(PAGE.read_text("utf-8")), "utf-8")
