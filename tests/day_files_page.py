"""The tables of docs/day-files.md, made from the models.

By hand, after a key has come or gone: ``python -m tests.day_files_page`` writes them again.
"""

import re
from dataclasses import MISSING
from pathlib import Path
from typing import Any

import tomli_w

from runbook.files.form import kind_of
from runbook.files.validate import Member, members, plain
from runbook.model.day import Day
from runbook.model.fields import LEAST, MOST
from runbook.model.kit import Kit
from runbook.model.setup import MERGE_KEYS, Setup

PAGE = Path(__file__).parents[1] / "docs" / "day-files.md"
_TABLE = re.compile(r"(<!-- keys: (\w+) -->\n).*?(<!-- /keys -->)", re.DOTALL)
_TAKES = {
    "length": "m", "mass": "kg", "yes": "`true`, `false`", "whole": "whole number", "text": "text", "id": "id",
    "ids": "list of ids", "date": "date, `2026-12-04`", "time": "time, `08:00:00`", "power": 'power, `"1/8+0.3"`',
    "aperture": "f-number", "shutter": 'shutter, `"1/160"`',
}  # fmt: skip
_MERGE = {"like": "id", "drop": "list of ids"}  # in a setup's file only, worked in on reading


def models_in(cls: type) -> list[type]:
    """A model and every model inside it."""
    inner = [member.shape for member in members(cls) if member.shape]
    return [cls, *(model for shape in inner for model in models_in(shape))]


MODELS = [model for cls in (Kit, Day, Setup) for model in models_in(cls)]


def _schema(member: Member) -> dict[str, Any]:
    """The JSON schema of what a key takes, without null."""
    schema = member.adapter.json_schema()
    return next(option for option in schema.get("anyOf", [schema]) if option.get("type") != "null")


def _bounds(member: Member) -> str:
    """The bounds of a number, where they are more than those of every number."""
    schema = _schema(member)
    over = schema.get("exclusiveMinimum")
    low = schema.get("minimum") if over is None else over
    high = schema.get("maximum", schema.get("exclusiveMaximum"))
    if low in (None, LEAST) or (low == 0 and high in (MOST, 1_000_000)):
        return ""
    return f"{'' if over is None else 'over '}{low:g} to {high:g}"


def _takes(member: Member) -> str:
    kind, unit = kind_of(member)
    if kind == "choice":
        return ", ".join(f'`"{word}"`' for word in _schema(member)["enum"])
    if kind == "pair":
        return f"two numbers, {unit}"
    return ", ".join(part for part in (_TAKES.get(kind, unit or "number"), _bounds(member)) if part)


def _default(member: Member) -> str:
    if member.default is MISSING:
        return "**required**"
    value = plain(member.default)
    if value in (None, "", []):
        return member.means.partition("; default ")[2] or "none"
    return f"`{value if isinstance(value, list) else tomli_w.dumps({'x': value}).removeprefix('x = ').strip()}`"


def table(cls: type) -> str:
    """The keys of a model: what they take, what they mean, and their defaults."""
    shown = [member for member in members(cls) if not member.shape and not (cls is Setup and member.key == "id")]
    rows = [
        (f"`{member.key}`", _takes(member), member.means.partition("; default ")[0], _default(member))
        for member in shown
    ]
    if cls is Setup:
        rows += [(f"`{key}`", _MERGE[key], means, "none") for key, means in MERGE_KEYS.items()]
    heading = ["| key | takes | means | default |\n", "|---|---|---|---|\n"]
    return "".join([*heading, *(f"| {' | '.join(row)} |\n" for row in rows)])


def with_tables(page: str) -> str:
    """The page with every table as the models have it."""
    by_name = {cls.__name__: cls for cls in MODELS}
    return _TABLE.sub(lambda match: match[1] + table(by_name[match[2]]) + match[3], page)


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text("utf-8")), "utf-8")
