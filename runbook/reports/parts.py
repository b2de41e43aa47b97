"""What a printed page is made of, before it is HTML or Markdown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple


class Heading(NamedTuple):
    """A heading; ``level`` 1 is the page's own. ``new_page`` begins a sheet of paper with it."""

    text: str
    level: int = 2
    new_page: bool = False


class Text(NamedTuple):
    """A line or two; ``care`` is said on every sheet, ``warn`` must not be missed."""

    text: str
    kind: Literal["", "care", "warn"] = ""


class Pairs(NamedTuple):
    """Words and what they say, one under another."""

    rows: Sequence[tuple[str, str]]


class Table(NamedTuple):
    """A table; ``strong`` is how many of the first columns are what a row is looked up by."""

    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    strong: int = 1


class Group(NamedTuple):
    """Lines to tick under one title: each with what is noted behind it."""

    title: str
    lines: Sequence[tuple[str, str]]


class Boxes(NamedTuple):
    """Everything to tick, group by group."""

    groups: Sequence[Group]


class Drawing(NamedTuple):
    """A drawing as SVG, what stands beside it, and how else to come by it."""

    svg: str
    beside: Sequence[Heading | Text | Pairs | Table | Boxes]
    instead: str


Part = Heading | Text | Pairs | Table | Boxes | Drawing


class Page(NamedTuple):
    """A whole document: what it is called, and its parts in order."""

    title: str
    parts: Sequence[Part]
