"""The few signs the screens use, with plain ASCII ones for a terminal that has no more."""

from __future__ import annotations

import os
import sys
import unicodedata
from typing import Final, NamedTuple

_PLAIN: Final = str.maketrans(
    {"°": " deg", "·": "-", "–": "-", "—": "-", "…": "...", "×": "x", "²": "2", "’": "'", "→": ">"}
)


class Glyphs(NamedTuple):
    """Every state is a word or one of these before it is a colour."""

    ascii: bool
    done: str
    to_do: str
    waits: str
    held: str
    skipped: str
    here: str
    folded: str
    unfolded: str
    rule: str
    full: str
    upper: str
    lower: str

    def shown(self, text: str) -> str:
        """A text as this terminal can show it, on one line, whatever a person put in it."""
        clean = text
        if not text.isprintable():
            kept = (char for char in text if char.isprintable() or char.isspace())
            clean = "".join(" " if char.isspace() else char for char in kept)
        if not self.ascii:
            return clean
        decomposed = unicodedata.normalize("NFKD", clean.translate(_PLAIN))
        bare = "".join(char for char in decomposed if not unicodedata.combining(char))
        return bare.encode("ascii", "replace").decode("ascii")

    def shown_lines(self, text: str) -> str:
        """The same for a text of several lines."""
        return "\n".join(self.shown(line) for line in text.split("\n"))


UNICODE: Final = Glyphs(False, "✓", "○", "·", "▲", "–", "▶", "▸", "▾", "─", "█", "▀", "▄")
ASCII: Final = Glyphs(True, "x", "o", ".", "!", "-", ">", "+", "-", "-", "#", "#", "#")


def glyphs_for_terminal() -> Glyphs:
    """ASCII where the terminal's encoding is not UTF-8, or ``RUNBOOK_ASCII`` is set."""
    encoding = (getattr(sys.__stdout__, "encoding", "") or "").lower().replace("-", "")
    if os.environ.get("RUNBOOK_ASCII") or encoding != "utf8":
        return ASCII
    return UNICODE
