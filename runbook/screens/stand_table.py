"""Stands and panels as a table: a line for each, worst first, its state right after its name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from runbook.day.stand_facts import STAND_COLUMNS
from runbook.day.stand_view import StandLine
from runbook.model.units import Units
from runbook.screens.text import Glyphs, cut, fit, lines

Row = StandLine
_WIND: Final = STAND_COLUMNS.index("gust limit") - 1  # among the figures after the name


class StandTable(Widget):
    """A line for each stand, worst first, under their heads; a cursor, and a window that follows.

    Figures line up as far as the width goes; what does not fit is cut at the right, so a stand's
    state comes right after its name, and in a wind the gust it stands right after that.
    """

    def __init__(self, glyphs: Glyphs, units: Units) -> None:
        super().__init__(id="stands")
        self.glyphs = glyphs
        self.units: Units = units
        self.stands: tuple[Row, ...] = ()
        self.cursor = 0
        self.here = self.windy = False

    def show(self, stands: tuple[Row, ...], *, here: bool, windy: bool) -> None:
        """Show these stands; ``here`` when the keys move this list's cursor, ``windy`` where there
        is a wind to mind."""
        self.stands, self.here, self.windy = stands, here, windy
        self.cursor = min(self.cursor, max(len(stands) - 1, 0))
        self.refresh()

    @property
    def standing(self) -> Row | None:
        """The stand under the cursor; the worst while the cursor is elsewhere."""
        if not self.stands:
            return None
        return self.stands[self.cursor if self.here else 0]

    @property
    def top(self) -> int:
        """The first stand the window shows."""
        room = max(self.size.height - 1, 1)
        return max(min(self.cursor - room // 2, len(self.stands) - room), 0) if self.here else 0

    def render(self) -> Text:
        width, height = self.size.width, self.size.height
        if not self.stands:
            return Text(cut("No stand is up or planned.", width, self.glyphs), style="dim")
        head = ("", STAND_COLUMNS[0], "is", *self._ordered(STAND_COLUMNS[1:-1]))
        rows = [head, *(self._cells(n, each) for n, each in enumerate(self.stands))]
        cells = [[self.glyphs.shown(cell) for cell in row] for row in rows]
        widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
        shown = []
        for n in (0, *range(self.top + 1, min(self.top + height, len(rows)))):
            line = "  ".join(fit(cell, wide, self.glyphs) for cell, wide in zip(cells[n], widths, strict=True))
            shown.append((cut(line[1:], width, self.glyphs), self._style(n - 1)))
        return lines(*shown)

    def _cells(self, n: int, each: Row) -> tuple[str, ...]:
        sign = self.glyphs.here if self.here and n == self.cursor else " "
        stand, *figures = each.figures(self.units)
        return (f" {sign}", stand, each.state, *self._ordered(figures))

    def _ordered(self, cells: Sequence[str]) -> Sequence[str]:
        """The cells after the state, that of the wind first where it counts."""
        if not self.windy:
            return cells
        return (cells[_WIND], *cells[:_WIND], *cells[_WIND + 1 :])

    def _style(self, n: int) -> str:
        if n < 0:
            return "dim"
        each = self.stands[n]
        if self.here and n == self.cursor:
            return "reverse bold"
        return "" if each.fine else "bold yellow"

    class Pressed(Message):
        """A stand was clicked."""

        def __init__(self, at: int) -> None:
            self.at = at
            super().__init__()

    def on_click(self, event: events.Click) -> None:
        """Put the cursor on the stand that was clicked."""
        at = self.top + event.y - 1
        if 0 <= at < len(self.stands):
            self.post_message(self.Pressed(at))
