"""A list of lines with a cursor and a window that follows it."""

from __future__ import annotations

from typing import NamedTuple

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from runbook.screens.glyphs import Glyphs
from runbook.screens.paint import fit


class PickLine(NamedTuple):
    """A line, and the style it has besides being picked."""

    text: str
    style: str = ""


class PickList(Widget):
    """Lines of which one is picked. Paints only what the window shows."""

    class Pressed(Message):
        """A line was clicked."""

        def __init__(self, pick: PickList, at: int) -> None:
            self.pick, self.at = pick, at
            super().__init__()

    def __init__(self, glyphs: Glyphs, widget_id: str) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.lines: list[PickLine] = []
        self.cursor = 0
        self.active = False

    def show(self, lines: list[PickLine], cursor: int, *, active: bool) -> None:
        """Show these lines; the picked one is marked in full where the keys are this list's."""
        self.lines, self.active = lines, active
        self.cursor = min(max(cursor, 0), max(len(lines) - 1, 0))
        self.refresh()

    @property
    def top(self) -> int:
        """The first line the window shows."""
        height = max(self.size.height, 1)
        return max(min(self.cursor - height // 2, len(self.lines) - height), 0)

    def render(self) -> Text:
        painted = Text(no_wrap=True, end="")
        width, height = self.size.width, self.size.height
        for n, line in enumerate(self.lines[self.top : self.top + height], self.top):
            here = n == self.cursor
            sign = self.glyphs.here if here else " "
            style = f"{line.style} {'reverse ' if self.active else ''}bold" if here else line.style
            painted.append("\n" if n > self.top else "")
            painted.append(fit(f"{sign} {line.text}", width, self.glyphs), style.strip())
        return painted

    def on_click(self, event: events.Click) -> None:
        """Pick the line that was clicked."""
        if self.top + event.y < len(self.lines):
            self.post_message(self.Pressed(self, self.top + event.y))
