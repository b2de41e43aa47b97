"""A page as Markdown: the same facts, to read in a mail or to keep in a folder of texts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from runbook.reports.parts import Boxes, Drawing, Heading, Page, Pairs, Part, Table, Text

_MEANT: Final = re.compile(r"([\\`*_{}\[\]<>()#+!|~&$^=:-])")
_NUMBERED: Final = re.compile(r"^(\d+)([.)])")


def markdown_page(page: Page) -> str:
    """The page as a whole Markdown document."""
    return "\n".join(line for part in page.parts for line in _part(part)).strip("\n") + "\n"


def safe(text: str) -> str:
    """A person's text on one line, with nothing left in it that Markdown would take for its own."""
    line = " ".join("".join(char if char.isprintable() else " " for char in text).split())
    return _NUMBERED.sub(r"\1\\\2", _MEANT.sub(_kept, line))


def _kept(found: re.Match[str]) -> str:
    """A sign with its backslash; a dash, plus or colon within words needs none."""
    sign = found[0]
    if sign in "-+:=()" and found.start() > 0:
        return sign
    return f"\\{sign}"


def _part(part: Part) -> Iterator[str]:
    match part:
        case Heading():
            yield f"\n{'#' * part.level} {safe(part.text)}\n"
        case Text():
            text = safe(part.text)
            yield f"**{text}**\n" if part.kind == "warn" else f"{text}\n"
        case Pairs():
            word = ""
            for name, said in part.rows:
                word = name or word
                yield f"- {safe(word)}: {safe(said)}"
            yield ""
        case Table():
            yield from _table(part)
        case Boxes():
            for group in part.groups:
                if group.title:
                    yield f"**{safe(group.title)}**\n"
                for text, note in group.lines:
                    yield f"- [ ] {safe(text)}{f' ({safe(note)})' if note else ''}"
                yield ""
        case Drawing():
            for each in part.beside:
                yield from _part(each)
            yield f"{safe(part.instead)}\n"


def _table(part: Table) -> Iterator[str]:
    yield f"| {' | '.join(safe(name) for name in part.columns)} |"
    yield f"|{'---|' * len(part.columns)}"
    for row in part.rows:
        yield f"| {' | '.join(safe(cell) for cell in row)} |"
    yield ""
