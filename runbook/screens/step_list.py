"""The list of rows at the heart of the set screen: a cursor, folding, and a window that follows."""

from __future__ import annotations

from typing import Final

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from runbook.screens.glyphs import Glyphs
from runbook.screens.paint import cut
from runbook.screens.rows import Row

_STYLE: Final = {"to do": "", "done": "green", "skipped": "dim", "aside": "yellow", "waits": "dim", "held": "yellow"}


class RowList(Widget):
    """Rows with a cursor. Paints only what the window shows."""

    DEFAULT_CSS = "RowList { height: 1fr; }"

    class Pressed(Message):
        """A row was clicked."""

        def __init__(self, at: int) -> None:
            self.at = at
            super().__init__()

    def __init__(self, glyphs: Glyphs, empty: str = "", *, checks: str = "") -> None:
        """``checks`` is the word in front of a check, where checks and steps stand together."""
        super().__init__(id="steps")
        self.glyphs = glyphs
        self.checks = checks
        self.empty = empty
        self.rows: list[Row] = []
        self.cursor = 0
        self.at_hand = True  # false while the keys are another list's

    def show(self, rows: list[Row], cursor: int) -> None:
        """Show these rows with the cursor on one of them."""
        self.rows = rows
        self.cursor = min(max(cursor, 0), max(len(rows) - 1, 0))
        self.refresh()

    def step_cursor(self, by: int) -> None:
        """Move the cursor, stopping at the ends."""
        self.show(self.rows, self.cursor + by)

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    @property
    def top(self) -> int:
        """The first row the window shows: most of it is for what comes after the cursor."""
        height = max(self.size.height, 1)
        return max(min(self.cursor - height // 4, len(self.rows) - height), 0)

    def render(self) -> Text:
        width, height = self.size.width, self.size.height
        if not self.rows:
            return Text(cut(self.empty, width, self.glyphs), style="dim")
        painted = Text(no_wrap=True, end="")
        for n, row in enumerate(self.rows[self.top : self.top + height], self.top):
            if n > self.top:
                painted.append("\n")
            painted.append_text(self._line(row, width, here=self.at_hand and n == self.cursor))
        return painted

    def _line(self, row: Row, width: int, *, here: bool) -> Text:
        glyphs = self.glyphs
        sign = {
            "to do": glyphs.to_do,
            "done": glyphs.done,
            "skipped": glyphs.skipped,
            "aside": glyphs.skipped,
            "waits": glyphs.waits,
            "held": glyphs.held,
        }[row.state]
        fold = " "
        if row.kind == "block":
            fold = glyphs.folded if row.folded else glyphs.unfolded
        cursor = glyphs.here if here else " "
        word = {"skipped": "skipped: ", "aside": "set aside: "}.get(row.state, "")
        if row.kind == "check":
            word = f"{self.checks}{word}"
        text = f"{cursor}{sign} {fold}{'  ' * row.indent} {word}{row.text}"
        if row.state == "held" and row.kind == "step":
            text += f" (held: {row.note})"
        elif row.note and (row.state in ("skipped", "aside") or (row.kind == "step" and row.state != "done")):
            text += f" ({row.note})"
        style = _STYLE[row.state]
        if here:
            style = f"{style} reverse bold".strip()
        elif row.kind == "check" and not row.over:
            style = f"{style} bold".strip()
        line = Text(cut(text, width, glyphs), style=style, no_wrap=True, end="")
        if here:
            line.pad_right(max(width - line.cell_len, 0))
        return line

    def on_click(self, event: events.Click) -> None:
        """Put the cursor where it was clicked."""
        at = self.top + event.y
        if at < len(self.rows):
            self.post_message(self.Pressed(at))

    def on_mouse_scroll_down(self) -> None:
        self.step_cursor(1)

    def on_mouse_scroll_up(self) -> None:
        self.step_cursor(-1)
