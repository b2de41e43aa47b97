"""Lines of text with their emphasis, cut to the width there is. Colour only repeats the words."""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from runbook.screens.glyphs import Glyphs


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
