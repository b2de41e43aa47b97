"""The floor screen: the set from above, to scale, and what moves from where to where."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from runbook.day.floor_shown import Shown, at_hand, floor_shown, floors
from runbook.drawing.floor_rows import floor_rows
from runbook.drawing.floorplan import FloorPlan
from runbook.model.units import Units
from runbook.screens.base import DayScreen
from runbook.screens.floor_paint import painted, painted_text
from runbook.screens.floor_table import CARDS, TABLE, listed
from runbook.screens.glyphs import Glyphs
from runbook.screens.keys import FLOOR
from runbook.screens.letters import wrapped
from runbook.screens.paint import cut, lines, rule
from runbook.screens.words import Words

_LEGEND_LINES = 2
_LEAST = 36  # columns a drawing needs at the least for a table to stand beside it
_AROUND = 4 + _LEGEND_LINES  # lines of the screen that are not the drawing's


class FloorDrawing(Widget):
    """A floor plan, fitted into whatever room there is."""

    DEFAULT_CSS = "FloorDrawing { width: 1fr; height: 100%; }"

    def __init__(self, glyphs: Glyphs, units: Units) -> None:
        super().__init__(id="drawing")
        self.glyphs = glyphs
        self.units: Units = units
        self.drawn: FloorPlan | None = None

    def show(self, drawn: FloorPlan) -> None:
        """Show another floor."""
        if drawn != self.drawn:
            self.drawn = drawn
            self.refresh()

    def render(self) -> Text:
        width, height = self.size.width, self.size.height
        if self.drawn is None or not width or not height:
            return Text("")
        return painted_text(painted(self.drawn, width, height, self.glyphs, self.units))


class FloorScreen(DayScreen):
    """Where does it stand, and where does it go."""

    KEYS = FLOOR
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left_square_bracket,left", "look(-1)", "the setup before", show=False),
        Binding("right_square_bracket,right", "look(1)", "the setup after", show=False),
        Binding("home", "here", "the setup at work", show=False),
        Binding("d", "back", "back", show=False),
        Binding("escape", "back", "back", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.looking: str | None = None
        self.away = False

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        with Horizontal(id="middle"):
            yield FloorDrawing(self.glyphs, self.session.plan.day.units)
            yield Words(id="table")
        yield Words(id="now")
        yield Words(id="legend")
        yield Words(id="said")
        yield Words(id="keys")

    @property
    def setup_id(self) -> str | None:
        """The floor looked at; the one at work unless a person looks away."""
        return self.looking if self.away else at_hand(self.session)

    def show_truth(self) -> None:
        """Draw the floor from the session."""
        super().show_truth()
        shown, width = floor_shown(self.session, self.setup_id), self.size.width
        title = f"floor: {shown.title}, {shown.word}"
        self.query_one("#title", Static).update(Text(rule(title, width, self.glyphs), style="dim", no_wrap=True))
        self.query_one(FloorDrawing).show(shown.drawn)
        self._show_table(shown)
        self.query_one("#legend", Static).update(self._legend(shown))
        self.query_one("#now", Static).update(
            Text(self.glyphs.shown(f"{shown.title}: {self._said(shown)}"), style="bold")
        )

    def _said(self, shown: Shown) -> str:
        return shown.drawn.said or "everything stays where it is"

    def _legend(self, shown: Shown) -> Text:
        """What moves, in words; and what the two kinds of broken line mean, where there is room."""
        said, width = self._said(shown), self.size.width
        if shown.drawn.said:
            leaves, comes = (",", "+") if self.glyphs.ascii else ("···", "--")
            said = f"{said} ({leaves} leaves; {comes} comes)"
        rows = wrapped(self.glyphs.shown(said), max(width, 1))
        if len(rows) > _LEGEND_LINES:
            rest = " ".join(rows[_LEGEND_LINES - 1 :])
            rows = [*rows[: _LEGEND_LINES - 1], rest]
        return lines(*((cut(row, width, self.glyphs), "bold") for row in rows))

    def _show_table(self, shown: Shown) -> None:
        table, wide = self.query_one("#table", Static), self.size.width
        room = TABLE if wide >= TABLE + _LEAST else CARDS if wide >= CARDS + _LEAST else 0
        table.display = bool(room) and shown.setup is not None
        if shown.setup is None or not room:
            return
        table.styles.width = room + 1
        height = max(self.size.height - _AROUND, 1)
        rows = floor_rows(self.session.plan, shown.setup)
        table.update(lines(*listed(rows, shown.drawn.moves, room, height, self.glyphs)))

    def action_look(self, by: int) -> None:
        """Look at the setup before or after, without beginning it."""
        session, known = self.session, floors(self.session)
        at = known.index(self.setup_id) + by
        if not 0 <= at < len(known):
            self.day.say("that is the first floor" if by < 0 else "after the wrap nothing stands")
            return
        self.looking, self.away = known[at], known[at] != at_hand(session)
        self.day.say("" if not self.away else "only looking; home goes back to the setup at work")

    def action_here(self) -> None:
        """Back to the floor at work."""
        self.away = False
        self.day.say("")

    def action_back(self) -> None:
        """Back to the set."""
        self.day.action_show("set")
