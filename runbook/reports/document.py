"""A printed document: its parts, and the two writers that walk them, for HTML and for Markdown.

The HTML is one self-contained file: no network, no script, no font. Its sheets fit A4 and Letter alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from itertools import groupby
from typing import Final, Literal, NamedTuple

from runbook.changeover.checklist import CAUTIONS
from runbook.files.errors import one_line

# -- the parts -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``level`` 1 is the document's own."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph: ``caution`` is on every sheet, ``warn`` must not be missed, ``figures`` are read from afar."""

    text: str
    kind: Literal["", "caution", "warn", "figures", "times", "small"] = ""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels and values, one pair a line; an empty label continues the one above."""

    rows: Sequence[tuple[str, str]]


Cell = str | tuple[str, ...]  # a tuple is printed line under line


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first ``key_columns`` identify a row and are printed bold, with ``large`` to be read from afar.

    The last cell of a row that is too short takes up what is left.
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    key_columns: int = 1
    large: bool = False


class Tick(NamedTuple):
    """A line to tick, a note behind it, and what stands before it in columns of its own."""

    text: str
    note: str = ""
    before: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Checklist:
    """Lines to tick under one title."""

    title: str
    lines: Sequence[Tick]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as SVG, or the data URI of a picture, and the text that stands for it; an empty one is text only."""

    image: str
    instead: str


@dataclass(frozen=True, slots=True)
class Group:
    """Parts laid out together.

    A ``page`` begins a page of paper, and ``crew`` one set small. A ``sheet`` is one page that its drawing fills up,
    set smaller with its ``density``, 0 to 4. ``beside`` puts a drawing and more side by side, ``tall`` more of it
    below each other, and ``tables`` some tables side by side. ``column`` is text, and ``story`` rows of ``tile``.
    """

    kind: Literal["page", "crew", "sheet", "beside", "tall", "tables", "column", "story", "tile"]
    parts: Sequence[Part]
    density: int = 0


Part = Heading | Text | Pairs | Table | Checklist | Picture | Group
CAUTION: Final = Text(" ".join(CAUTIONS), "caution")


@dataclass(frozen=True, slots=True)
class Page:
    """A whole document: its title, which is its running head too, and its parts in order."""

    title: str
    parts: Sequence[Part]


# -- HTML ------------------------------------------------------------------------------------------

# nothing may be fetched or run, whatever a text contains
_HEAD: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
"""
_KEPT_TOGETHER: Final = 4  # lines of a checklist that stay together on paper
_ON_ONE_LINE: Final = 12  # letters of a cell that is not broken


def html_page(page: Page) -> str:
    """Return the page as a whole HTML document."""
    style = files("runbook.reports").joinpath("page.css").read_text("utf-8")
    style += f'@page {{ @top-left {{ content: "{_style_text(page.title)}"; }} }}\n'
    body = "\n".join(_parts_html(page.parts))
    return f"{_HEAD}{_tag('title', page.title)}\n<style>\n{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"


def html_text(text: str) -> str:
    """Escape a text for HTML, on one line."""
    return escape(one_line(text))


def _style_text(text: str) -> str:
    """Escape a text for a string in a style sheet: every character that could end it by its number."""
    return "".join(char if char.isalnum() or char in " ,-" else f"\\{ord(char):x} " for char in one_line(text))


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
            html = _tag(f"h{part.level}", part.text)
        case Text():
            html = _tag("p", part.text, part.kind)
        case Pairs():
            html = f"<dl>{''.join(_tag('dt', label) + _tag('dd', text) for label, text in part.rows)}</dl>"
        case Table():
            rows = "\n".join(f"<tr>{_cells_html(row, part)}</tr>" for row in part.rows)
            head = f"<thead><tr>{''.join(_tag('th', name) for name in part.columns)}</tr></thead>"
            large = ' class="large"' if part.large else ""
            html = f'<div class="wide"><table{large}>{head}<tbody>\n{rows}\n</tbody></table></div>'
        case Checklist():
            title = _tag("h4", part.title) if part.title else ""
            lines = "\n".join(map(_tick_html, part.lines))
            short = ' class="short"' if len(part.lines) <= _KEPT_TOGETHER else ""
            html = f"<section{short}>{title}\n{lines}\n</section>"
        case Picture(image) if image.startswith("data:"):
            html = f'<div class="face"><img src="{escape(image)}" alt="{html_text(part.instead)}"></div>'
        case Picture(svg):
            html = f'<div class="drawing">\n{svg}\n</div>' if svg else ""
        case Group():
            density = f" d{part.density}" if part.density else ""
            body = "\n".join(_parts_html(part.parts))
            html = f'<div class="{part.kind}{density}">\n{body}\n</div>'
    return html


def _cells_html(row: Sequence[Cell], table: Table) -> str:
    """Return the cells of a row: key columns are bold, short values stay on one line."""
    left = len(table.columns) - len(row)
    cells = []
    for n, cell in enumerate(row, 1):
        lines = (cell,) if isinstance(cell, str) else cell
        short = "nb" if max(map(len, lines), default=0) <= _ON_ONE_LINE else ""
        kind = "is" if n <= table.key_columns else short
        marked = f' class="{kind}"' if kind else ""
        span = f' colspan="{left + 1}"' if left and n == len(row) else ""
        text = html_text(cell) if isinstance(cell, str) else "".join(_tag("div", line) for line in cell)
        cells.append(f"<td{marked}{span}>{text}</td>")
    return "".join(cells)


def _tick_html(line: Tick) -> str:
    small = f" {_tag('small', line.note)}" if line.note else ""
    before = "".join(_tag("b", text) for text in line.before)
    box = '<input type="checkbox" autocomplete="off">'
    return f"<label>{box}{before}<span>{html_text(line.text)}{small}</span></label>"


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
            yield from (_row_markdown([*row, *[""] * (len(part.columns) - len(row))]) for row in part.rows)
            yield ""
        case Checklist():
            if part.title:
                yield f"**{markdown_text(part.title)}**\n"
            yield from map(_tick_markdown, part.lines)
            yield ""
        case Picture() if part.instead:
            yield f"{markdown_text(part.instead)}\n"
        case Group():
            for inner in part.parts:
                yield from _part_markdown(inner)


def _tick_markdown(line: Tick) -> str:
    note = f" ({markdown_text(line.note)})" if line.note else ""
    before = " ".join(markdown_text(text) for text in line.before if text)
    return f"- [ ] {before}{': ' if before else ''}{markdown_text(line.text)}{note}"


def _row_markdown(cells: Iterable[Cell]) -> str:
    texts = (markdown_text(cell if isinstance(cell, str) else "; ".join(cell)) for cell in cells)
    return f"| {' | '.join(texts)} |"
