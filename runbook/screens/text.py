"""Text as this terminal can show it: the signs it has, and lines cut to a width."""

from __future__ import annotations

import os
import re
import sys
import unicodedata
from dataclasses import dataclass
from textwrap import TextWrapper
from typing import Final

from rich.cells import cell_len, set_cell_size

Line = tuple[str, str]  # a text and its style

_NO_BREAK: Final = "\u00a0"
_BEFORE_UNIT: Final = re.compile(r"(?<=\d) (?=[A-Za-z]{1,3}\b|%)")
_ASCII_FOR: Final = str.maketrans(
    {"°": " deg", "·": "-", "–": "-", "—": "-", "…": "...", "×": "x", "²": "2", "’": "'", "→": ">"}
)


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The signs of this terminal. Every state is a word or one of these before it is a colour."""

    ascii: bool
    done: str
    to_do: str
    waits: str
    held: str
    skipped: str
    here: str
    folded: str
    unfolded: str
    full: str
    upper: str
    lower: str

    def shown(self, text: str) -> str:
        """Return a text on one line, without what this terminal cannot show."""
        if not text.isprintable():
            text = "".join(" " if char.isspace() else char for char in text if char.isprintable() or char.isspace())
        if not self.ascii:
            return text
        decomposed = unicodedata.normalize("NFKD", text.translate(_ASCII_FOR))
        bare = "".join(char for char in decomposed if not unicodedata.combining(char))
        return bare.encode("ascii", "replace").decode("ascii")

    def fit(self, text: str, width: int) -> str:
        """Return a text in exactly ``width`` cells: cut with an ellipsis, or padded."""
        shown, width = self.shown(text), max(width, 0)
        if cell_len(shown) <= width:
            return set_cell_size(shown, width)
        dots = self.shown("…")
        return set_cell_size(set_cell_size(shown, max(width - len(dots), 0)) + dots, width)

    def cut(self, text: str, width: int) -> str:
        """Return a text in at most ``width`` cells."""
        return self.fit(text, width).rstrip()

    def wrap(self, *texts: str, width: int, most: int = 1000) -> list[str]:
        """Return texts wrapped, each from a new line; of more than ``most`` lines, the last is cut."""
        lines = [line for text in texts for line in wrap_words(self.shown(text), max(width, 1))]
        if len(lines) > most:
            lines = [*lines[: most - 1], self.cut(" ".join(lines[most - 1 :]), width)]
        return lines


UNICODE: Final = Glyphs(False, "✓", "○", "·", "▲", "–", "▶", "▸", "▾", "█", "▀", "▄")
ASCII: Final = Glyphs(True, "x", "o", ".", "!", "-", ">", "+", "-", "#", "#", "#")


def glyphs_for_terminal() -> Glyphs:
    """Return the ASCII signs where the terminal's encoding is not UTF-8 or ``RUNBOOK_ASCII`` is set."""
    encoding = (getattr(sys.__stdout__, "encoding", "") or "").lower().replace("-", "")
    return ASCII if os.environ.get("RUNBOOK_ASCII") or encoding != "utf8" else UNICODE


def wrap_words(text: str, width: int, indent: int = 0) -> list[str]:
    """Return words on lines of at most ``width`` letters, from the second on ``indent`` in; a longer word is broken.

    A number and its unit stay on one line.
    """
    wrapper = TextWrapper(width, subsequent_indent=" " * indent, break_on_hyphens=False)
    return [line.replace(_NO_BREAK, " ") for line in wrapper.wrap(_BEFORE_UNIT.sub(_NO_BREAK, text))]
