"""The parts of a printed page, before it is HTML or Markdown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``level`` 1 is the page's own. ``new_page`` starts a sheet of paper with it."""

    text: str
    level: int = 2
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph: ``caution`` is repeated on every sheet, ``warn`` must not be missed."""

    text: str
    kind: Literal["", "caution", "warn"] = ""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels and values, one pair a line; an empty label continues the one above."""

    rows: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first ``key_columns`` identify a row and are printed bold."""

    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    key_columns: int = 1


@dataclass(frozen=True, slots=True)
class CheckGroup:
    """Lines to tick under one title, each with a note behind it."""

    title: str
    lines: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Checklist:
    """Everything to tick, group by group."""

    groups: Sequence[CheckGroup]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing as SVG, the parts beside it, and the text that replaces it in plain text."""

    svg: str
    beside: Sequence[Heading | Text | Pairs | Table | Checklist]
    instead: str


Part = Heading | Text | Pairs | Table | Checklist | Drawing


@dataclass(frozen=True, slots=True)
class Page:
    """A whole document: its title and its parts in order."""

    title: str
    parts: Sequence[Part]
