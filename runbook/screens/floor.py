"""The floor screen: the set from above, to scale, and what moves from where to where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar, Final

from rich.text import Text
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from runbook.day.day_view import FloorView
from runbook.drawing.floor_drawing import FloorPlan, FloorRows, Move, floor_rows
from runbook.drawing.floor_shapes import FloorPoint, Ghost, Outline, Role
from runbook.model.units import M_PER_INCH, Units
from runbook.screens.base import DayScreen
from runbook.screens.canvas import Canvas, Pen, Window
from runbook.screens.keys import key
from runbook.screens.lists import Drawing
from runbook.screens.text import Glyphs, Line

_PENS: Final[dict[Role, Pen]] = {
    "picture": Pen("bright_black", 1, 3, sign=".", rank=0),
    "beam": Pen("yellow", 1, 1, sign="", rank=1),
    "background": Pen("bright_black", sign="=", rank=2),
    "stand": Pen("bright_black", 1, 1, rank=0),
    "arm": Pen("bright_black", 3, 1, rank=2),
    "cloth": Pen("magenta", 2, 1, sign="~", rank=2),
    "hung": Pen("magenta", 2, 1, sign="~", rank=4),
    "gobo": Pen("bright_yellow", thick=True, sign="%", rank=3),
    "panel": Pen("bold white", thick=True, sign="#", rank=4),
    "flag": Pen("bold white", thick=True, sign="#", rank=4),
    "modifier": Pen("bright_yellow", sign="#", rank=4),
    "head": Pen("bright_yellow", thick=True, sign="@", rank=5),
    "camera": Pen("cyan", sign="M", rank=4),
    "subject": Pen("bold white", sign="o", rank=6),
    "face": Pen("bold white", sign="", rank=5),
    "move": Pen("bold magenta", rank=3),
}
# what leaves is dots far apart, what arrives is dashes
_GHOSTS: Final[dict[Ghost, Pen]] = {"from": Pen("dim", 1, 2, sign=","), "to": Pen("magenta", 2, 1, sign="+")}
# under so many columns to a metre a stand's legs are only clutter
_LEGS_FROM: Final = 11.0
_MARGIN_M: Final = 0.15
_SCALE: Final = {"metric": (1.0, "1 m"), "imperial": (36 * M_PER_INCH, "3 ft")}
_LABELS: Final = {"": "bold", "from": "dim", "to": "bold magenta"}
CARDS: Final = 35  # columns of a card, and of the table
TABLE: Final = 62
_WIDTHS: Final = (2, 9, 10, 5, 5, 9, 9, 6)
_HEADS: Final = ("", "power", "role", "side", "angle", "distance", "height", "stand")
_LEGEND_LINES: Final = 2
_LEAST: Final = 36  # columns a drawing needs at the least for a table to stand beside it
_AROUND: Final = 4 + _LEGEND_LINES  # lines of the screen that are not the drawing's


def floor_canvas(drawn: FloorPlan, columns: int, rows: int, glyphs: Glyphs, units: Units) -> Canvas:
    """Return a floor plan fitted into so many cells."""
    extent, more = drawn.extent, _MARGIN_M
    right, near = extent.x + extent.wide, extent.y + extent.high
    window = Window(extent.x - more, extent.y - more, right + more, near + more)
    canvas = Canvas(columns, rows, window, ascii_only=glyphs.ascii)
    legs = canvas.cells_per_m >= _LEGS_FROM
    for line in sorted(drawn.outlines, key=lambda line: _PENS[line.role].rank):
        if glyphs.ascii and line.role in ("face", "move") and len(line.points) == 3:
            canvas.point(line.points[1], replace(_pen(line), sign=_tip(*line.points)))
        elif line.role != "stand" or (legs and not line.ghost):
            canvas.line(line.points, _pen(line), closed=line.closed)
    canvas.scale_bar(*_SCALE[units], "bright_black")
    canvas.name(
        replace(label, texts=tuple(map(glyphs.shown, label.texts)), tone=_LABELS[label.tone]) for label in drawn.labels
    )
    return canvas


def _tip(one: FloorPoint, tip: FloorPoint, other: FloorPoint) -> str:
    """Return the ASCII sign for an arrow's end: two barbs and the tip between them."""
    x, y = tip.x - (one.x + other.x) / 2, tip.y - (one.y + other.y) / 2
    if abs(x) > abs(y):
        return ">" if x > 0 else "<"
    return "v" if y > 0 else "^"


def _pen(line: Outline) -> Pen:
    pen = _PENS[line.role]
    if not line.ghost or line.role in ("beam", "picture", "move"):
        return pen
    return replace(_GHOSTS[line.ghost], thick=pen.thick and line.ghost == "to", rank=pen.rank - 1)


def floor_text(canvas: Canvas) -> Text:
    """Return the canvas with its colours."""
    rows = (Text.assemble(*row) for row in canvas.runs())
    return Text("\n", no_wrap=True, end="").join(rows)


def table_lines(rows: FloorRows, moves: tuple[Move, ...], width: int, height: int, glyphs: Glyphs) -> list[Line]:
    """Return heads, panels and camera, each with how it moves; cut to the height there is."""

    def row_text(cells: tuple[str, ...]) -> str:
        return " ".join(glyphs.fit(cell, wide) for cell, wide in zip(cells, _WIDTHS, strict=True))

    how = {(move.kind, move.item): f", {move.how}" for move in moves if move.how != "stays"}
    wide = width >= TABLE
    lines: list[Line] = [(row_text(_HEADS), "dim")] if wide else []
    for row in rows.heads:
        head, power, role, side, angle, away, high, _ = row.cells
        moving = how.get(("head", head), "")
        if wide:
            lines += [(row_text(row.cells), "bold"), (f"   {row.fitted}{moving}", "")]
        else:
            lines.append((f"{head:<2} {power:<9} {role}{moving}", "bold"))
            lines.append((f"   {side} {angle}, {away}, {high} up", ""))
    rest = {item: text for (_, item), text in how.items()}
    lines += [(f"{item}  {where}{rest.get(item, '')}", "") for item, where in rows.panels]
    lines += [(f"camera  {rows.camera_place}", "bold"), (f"   {rows.camera_set}", "")]
    if len(lines) > height:
        more = len(lines) - height + 1
        lines = [*lines[: max(height - 1, 0)], (f"and {more} more lines in a taller window", "dim")]
    return lines


class FloorScreen(DayScreen):
    """Where does it stand, and where does it go."""

    KEYS_TITLE = "Floor"
    FOOTER = ("look(1)", "here", "undo", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("left_square_bracket,left", "look(-1)", "setup before", "the setup before (or left)", shown="["),
        key("right_square_bracket,right", "look(1)", "setup after", "the setup after (or right)", shown="]"),
        key("home", "here", "current", "the current setup"),
        key("d", "app.show('set')", "back", "back to the set"),
        key("escape", "app.show('set')", "back", "back to the set", shown="esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.looking: str | None = None
        self.away = False

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("title")
        yield Horizontal(Drawing(self._drawing, "drawing"), self.lines("table"), id="middle")
        yield Static(id="now")
        yield self.lines("legend")

    @property
    def view(self) -> FloorView:
        """The floor shown: the current one, unless a person looks at another."""
        return self.session.view.floor_view(self.looking if self.away else self.session.view.current_floor)

    def repaint(self) -> None:
        """Draw the floor from the session."""
        super().repaint()
        view = self.view
        self.show_title(f"floor: {view.title}, {view.word}")
        self.query_one(Drawing).refresh()
        self._show_table(view)
        moves = view.drawn.moves_text or "nothing moves"
        arriving, leaving = ("+", ",") if self.glyphs.ascii else ("---", "···")
        key = f" (arriving {arriving}  leaving {leaving})" if view.drawn.moves_text else ""
        lines = self.glyphs.wrap(moves + key, width=self.size.width, most=_LEGEND_LINES)
        self.show_lines("legend", *((line, "bold") for line in lines))
        self.query_one("#now", Static).update(Text(self.glyphs.shown(f"{view.title}: {moves}"), style="bold"))

    def _drawing(self, width: int, height: int) -> Text:
        if not (width and height):
            return Text()
        return floor_text(floor_canvas(self.view.drawn, width, height, self.glyphs, self.session.plan.day.units))

    def _show_table(self, view: FloorView) -> None:
        table, wide = self.query_one("#table"), self.size.width
        room = TABLE if wide >= TABLE + _LEAST else CARDS if wide >= CARDS + _LEAST else 0
        table.display = bool(room) and view.setup is not None
        if view.setup is not None and room:
            table.styles.width = room + 1
            rows, height = floor_rows(self.session.plan, view.setup), max(self.size.height - _AROUND, 1)
            self.show_lines("table", *table_lines(rows, view.drawn.moves, room, height, self.glyphs))

    def action_look(self, by: int) -> None:
        """Look at the setup before or after, without beginning it."""
        current, known = self.session.view.current_floor, self.session.view.floor_ids
        at = known.index(self.looking if self.away else current) + by
        if not 0 <= at < len(known):
            self.day.show_message("this is the first floor" if by < 0 else "after the wrap nothing is left")
            return
        self.looking, self.away = known[at], known[at] != current
        self.day.show_message("only looking; home goes back to the current setup" if self.away else "")

    def action_here(self) -> None:
        """Go back to the current floor."""
        self.away = False
        self.day.show_message("")
