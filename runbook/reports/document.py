"""A printed page: its parts, and the two writers that walk them, for HTML and for Markdown.

The HTML is one self-contained file: no network, no script, no font; each setup has its own sheet
of paper.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from itertools import groupby
from typing import Final, Literal

# -- the parts -------------------------------------------------------------------------------------


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
class Checklist:
    """Lines to tick under one title, each with a note behind it."""

    title: str
    lines: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing as SVG, the labels and values beside it, and the text that replaces it in plain text."""

    svg: str
    beside: Pairs
    instead: str


Part = Heading | Text | Pairs | Table | Checklist | Drawing


@dataclass(frozen=True, slots=True)
class Page:
    """A whole document: its title and its parts in order."""

    title: str
    parts: Sequence[Part]


def one_line(text: str) -> str:
    """Return a person's text without line ends and control characters."""
    return "".join(char if char.isprintable() else " " for char in text)


# -- HTML ------------------------------------------------------------------------------------------

# nothing may be fetched or run, whatever a text contains
_HEAD: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
"""
_KEPT_TOGETHER: Final = 4  # lines of a checklist that stay together on paper
_ON_ONE_LINE: Final = 12  # letters of a cell that is not broken


def html_page(page: Page) -> str:
    """Return the page as a whole HTML document."""
    style = files("runbook.reports").joinpath("page.css").read_text("utf-8")
    body = "\n".join(_parts_html(page.parts))
    return f"{_HEAD}{_tag('title', page.title)}\n<style>\n{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"


def html_text(text: str) -> str:
    """Escape a text for HTML, on one line."""
    return escape(one_line(text))


def _tag(name: str, text: str, kind: str = "") -> str:
    """Return an element with a text in it."""
    marked = f' class="{kind}"' if kind else ""
    return f"<{name}{marked}>{html_text(text)}</{name}>"


def _parts_html(parts: Iterable[Part]) -> Iterator[str]:
    """Yield the parts; checklists that follow each other share the columns of their sheet."""
    for ticked, group in groupby(parts, key=lambda part: isinstance(part, Checklist)):
        if ticked:
            sections = "\n".join(map(_part_html, group))
            yield f'<div class="boxes">\n{sections}\n</div>'
        else:
            yield from map(_part_html, group)


def _part_html(part: Part) -> str:
    match part:
        case Heading():
            return _tag(f"h{part.level}", part.text, "page" if part.new_page else "")
        case Text():
            return _tag("p", part.text, part.kind)
        case Pairs():
            return f"<dl>{''.join(_tag('dt', label) + _tag('dd', text) for label, text in part.rows)}</dl>"
        case Table():
            rows = "\n".join(f"<tr>{_cells_html(row, part.key_columns)}</tr>" for row in part.rows)
            head = f"<thead><tr>{''.join(_tag('th', name) for name in part.columns)}</tr></thead>"
            return f'<div class="wide"><table>{head}<tbody>\n{rows}\n</tbody></table></div>'
        case Checklist():
            title = _tag("h4", part.title) if part.title else ""
            lines = "\n".join(_tick_html(text, note) for text, note in part.lines)
            short = ' class="short"' if len(part.lines) <= _KEPT_TOGETHER else ""
            return f"<section{short}>{title}\n{lines}\n</section>"
    return f'<div class="beside">\n{part.svg}\n<div>{_part_html(part.beside)}</div></div>'


def _cells_html(row: Sequence[str], key_columns: int) -> str:
    """Return the cells of a row: key columns are bold, short values stay on one line."""
    short = ("nb" if len(cell) <= _ON_ONE_LINE else "" for cell in row)
    kinds = ("is" if n < key_columns else kind for n, kind in enumerate(short))
    return "".join(_tag("td", cell, kind) for cell, kind in zip(row, kinds, strict=True))


def _tick_html(text: str, note: str) -> str:
    small = f" {_tag('small', note)}" if note else ""
    return f'<label><input type="checkbox" autocomplete="off"><span>{html_text(text)}{small}</span></label>'


# -- Markdown --------------------------------------------------------------------------------------

_SPECIAL: Final = re.compile(r"([\\`*_{}\[\]<>#!|~&$^]|^[-+:=()]|^\d+(?=[.)]))")


def markdown_page(page: Page) -> str:
    """Return the page as a whole Markdown document, for a mail or a folder of texts."""
    return "\n".join(line for part in page.parts for line in _part_markdown(part)).strip("\n") + "\n"


def markdown_text(text: str) -> str:
    """Escape a text for Markdown, on one line; some characters are special only at its start."""
    line = " ".join(one_line(text).split())
    return _SPECIAL.sub(lambda match: f"{match[0]}\\" if match[0].isdigit() else f"\\{match[0]}", line)


def _part_markdown(part: Part) -> Iterator[str]:
    match part:
        case Heading():
            yield f"\n{'#' * part.level} {markdown_text(part.text)}\n"
        case Text():
            text = markdown_text(part.text)
            yield f"**{text}**\n" if part.kind == "warn" else f"{text}\n"
        case Pairs():
            label = ""
            for name, text in part.rows:
                label = name or label
                yield f"- {markdown_text(label)}: {markdown_text(text)}"
            yield ""
        case Table():
            yield _row_markdown(part.columns)
            yield f"|{'---|' * len(part.columns)}"
            yield from map(_row_markdown, part.rows)
            yield ""
        case Checklist():
            if part.title:
                yield f"**{markdown_text(part.title)}**\n"
            for text, note in part.lines:
                yield f"- [ ] {markdown_text(text)}{f' ({markdown_text(note)})' if note else ''}"
            yield ""
        case Drawing():
            yield from _part_markdown(part.beside)
            yield f"{markdown_text(part.instead)}\n"


def _row_markdown(cells: Iterable[str]) -> str:
    return f"| {' | '.join(map(markdown_text, cells))} |"
