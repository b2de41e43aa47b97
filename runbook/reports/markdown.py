"""A page as Markdown, for a mail or a folder of texts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from runbook.reports.document import Checklist, Drawing, Heading, Page, Pairs, Part, Table, Text

_SPECIAL: Final = re.compile(r"([\\`*_{}\[\]<>()#+!|~&$^=:-])")
_NUMBERED: Final = re.compile(r"^(\d+)([.)])")
_SPECIAL_AT_START: Final = "-+:=()"  # within a line these need no backslash


def markdown_page(page: Page) -> str:
    """The page as a whole Markdown document."""
    return "\n".join(line for part in page.parts for line in _part_lines(part)).strip("\n") + "\n"


def safe(text: str) -> str:
    """Escape a text for Markdown, on one line."""
    line = " ".join("".join(char if char.isprintable() else " " for char in text).split())
    return _NUMBERED.sub(r"\1\\\2", _SPECIAL.sub(_escape, line))


def _escape(match: re.Match[str]) -> str:
    char = match[0]
    return char if char in _SPECIAL_AT_START and match.start() > 0 else f"\\{char}"


def _part_lines(part: Part) -> Iterator[str]:
    match part:
        case Heading():
            yield f"\n{'#' * part.level} {safe(part.text)}\n"
        case Text():
            text = safe(part.text)
            yield f"**{text}**\n" if part.kind == "warn" else f"{text}\n"
        case Pairs():
            label = ""
            for name, text in part.rows:
                label = name or label
                yield f"- {safe(label)}: {safe(text)}"
            yield ""
        case Table():
            yield _row(part.columns)
            yield f"|{'---|' * len(part.columns)}"
            yield from map(_row, part.rows)
            yield ""
        case Checklist():
            for group in part.groups:
                if group.title:
                    yield f"**{safe(group.title)}**\n"
                for text, note in group.lines:
                    yield f"- [ ] {safe(text)}{f' ({safe(note)})' if note else ''}"
                yield ""
        case Drawing():
            for beside in part.beside:
                yield from _part_lines(beside)
            yield f"{safe(part.instead)}\n"


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(map(safe, cells))} |"
