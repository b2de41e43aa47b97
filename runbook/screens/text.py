"""Text as this terminal can show it: signs, lines cut to a width, and a widget that holds them."""

from __future__ import annotations

import os
import sys
import unicodedata
from typing import Final, NamedTuple

from rich.cells import cell_len, set_cell_size
from rich.text import Text
from textual.visual import VisualType
from textual.widgets import Static

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


def fit(text: str, width: int, glyphs: Glyphs) -> str:
    """A text in exactly ``width`` cells: cut with an ellipsis, or padded."""
    shown = glyphs.shown(text)
    if cell_len(shown) <= width:
        return set_cell_size(shown, max(width, 0))
    dots = glyphs.shown("…")
    return set_cell_size(set_cell_size(shown, max(width - len(dots), 0)) + dots, max(width, 0))


def cut(text: str, width: int, glyphs: Glyphs) -> str:
    """A text in at most ``width`` cells."""
    return fit(text, width, glyphs).rstrip()


def sides(left: str, right: str, width: int, glyphs: Glyphs) -> str:
    """Two texts on one line, the right one kept whole."""
    right = cut(right, width, glyphs)
    room = width - cell_len(right) - 1
    return f"{fit(left, room, glyphs)} {right}" if room > 0 else fit(right, width, glyphs)


def rule(title: str, width: int, glyphs: Glyphs) -> str:
    """A line across the screen with its title in it."""
    head = f"{glyphs.rule * 2} {glyphs.shown(title)} "
    return set_cell_size(head + glyphs.rule * max(width - cell_len(head), 0), max(width, 0))


def lines(*parts: tuple[str, str]) -> Text:
    """Lines of text, each with a style."""
    text = Text(no_wrap=True, end="")
    for n, (line, style) in enumerate(parts):
        text.append(("\n" if n else "") + line, style)
    return text


class Words(Static):
    """A text that costs nothing while it stays as it is.

    Textual would lay the whole screen out anew for every update; that is needed only where the
    text takes more or fewer lines than before, and is given them.
    """

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        """Show a text; nothing happens where it is shown already."""
        old = self.content
        if isinstance(old, Text) and isinstance(content, Text):
            if old == content and old.style == content.style:
                return
            layout = layout and self._is_given_room and self._takes_other_room(old, content)
        super().update(content, layout=layout)

    @property
    def _is_given_room(self) -> bool:
        """Whether what it says decides its size: not while it is hidden, or its size is set."""
        height, width = self.styles.height, self.styles.width
        set_by_style = height and width and not (height.is_auto or width.is_auto)
        return self.display and not set_by_style

    def _takes_other_room(self, old: Text, new: Text) -> bool:
        """Whether a text may not fit where the other was: other lines, or lines that wrap."""
        if old.plain.count("\n") != new.plain.count("\n") or not old.plain or not new.plain:
            return True
        room = self.size.width
        return any(cell_len(line) > room for text in (old, new) for line in text.plain.split("\n"))
