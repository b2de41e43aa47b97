"""The floor screen: the set from above, to scale, and what moves from where to where."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Final

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from runbook.day.floor_view import FloorView, current_floor, floor_ids, floor_view
from runbook.drawing.floor_drawing import FloorPlan, FloorRows, HeadRow, Move, floor_rows
from runbook.drawing.floor_shapes import FloorPoint, Ghost, Outline, Role
from runbook.drawing.label_layout import LabelText
from runbook.model.units import M_PER_INCH, Units
from runbook.screens.base import DayScreen
from runbook.screens.big_text import wrapped
from runbook.screens.canvas import Canvas, Pen, Window
from runbook.screens.keys import FLOOR
from runbook.screens.text import Glyphs, Words, cut, fit, lines, rule

_PENS: Final[dict[Role, Pen]] = {
    "picture": Pen("picture", 1, 3, sign=".", rank=0),
    "beam": Pen("beam", 1, 1, sign="", rank=1),
    "background": Pen("background", sign="=", rank=2),
    "stand": Pen("stand", 1, 1, rank=0),
    "arm": Pen("stand", 3, 1, rank=2),
    "cloth": Pen("cloth", 2, 1, sign="~", rank=2),
    "gobo": Pen("modifier", thick=True, sign="%", rank=3),
    "panel": Pen("panel", thick=True, sign="#", rank=4),
    "flag": Pen("panel", thick=True, sign="#", rank=4),
    "modifier": Pen("modifier", sign="#", rank=4),
    "head": Pen("head", thick=True, sign="@", rank=5),
    "camera": Pen("camera", sign="M", rank=4),
    "subject": Pen("subject", sign="o", rank=6),
    "face": Pen("subject", sign="", rank=5),
    "move": Pen("move", rank=3),
}
# what leaves is dots far apart, what comes is dashes
_GHOSTS: Final[dict[Ghost, tuple[int, int, str]]] = {"from": (1, 2, ","), "to": (2, 1, "+")}
# under so many columns to a metre a stand's legs are only clutter
_LEGS_FROM: Final = 11.0
_ARROWS: Final = ("face", "move")
_MARGIN_M: Final = 0.15
_FOOT: Final = 12 * M_PER_INCH

_STYLES: Final = {
    "picture": "bright_black",
    "beam": "yellow",
    "background": "bright_black",
    "stand": "bright_black",
    "cloth": "magenta",
    "modifier": "bright_yellow",
    "head": "bright_yellow",
    "panel": "bold white",
    "camera": "cyan",
    "subject": "bold white",
    "move": "bold magenta",
    "name": "bold",
    "name from": "dim",
    "name to": "bold magenta",
    "from": "dim",
    "to": "magenta",
    "scale": "bright_black",
}


def painted(drawn: FloorPlan, columns: int, rows: int, glyphs: Glyphs, units: Units) -> Canvas:
    """A floor plan fitted into so many cells."""
    extent, more = drawn.extent, _MARGIN_M
    window = Window(extent.left - more, extent.far - more, extent.right + more, extent.near + more)
    canvas = Canvas(columns, rows, window, ascii_only=glyphs.ascii)
    legs = canvas.cells_per_m >= _LEGS_FROM
    for line in sorted(drawn.outlines, key=lambda line: _PENS[line.role].rank):
        if glyphs.ascii and line.role in _ARROWS and len(line.points) == 3:
            canvas.point(line.points[1], _pen(line)._replace(sign=_tip(*line.points)))
        elif line.role != "stand" or (legs and not line.ghost):
            canvas.line(line.points, _pen(line), closed=line.closed)
    unit_m, said = (1.0, "1 m") if units == "metric" else (3 * _FOOT, "3 ft")
    canvas.scale_bar(unit_m, said, "scale")
    canvas.name(
        LabelText(
            (glyphs.shown(label.text), glyphs.shown(label.short)), *label.at, label.rank, f"name {label.ghost}".strip()
        )
        for label in drawn.labels
    )
    return canvas


def _tip(one: FloorPoint, tip: FloorPoint, other: FloorPoint) -> str:
    """The plain sign for an arrow's end: two barbs and the tip between them."""
    x, y = tip.x - (one.x + other.x) / 2, tip.y - (one.y + other.y) / 2
    if abs(x) > abs(y):
        return ">" if x > 0 else "<"
    return "v" if y > 0 else "^"


def _pen(line: Outline) -> Pen:
    pen = _PENS[line.role]
    if not line.ghost or line.role in ("beam", "picture", "move"):
        return pen
    on, off, sign = _GHOSTS[line.ghost]
    thick = pen.thick and line.ghost == "to"
    return pen._replace(tone=line.ghost, on=on, off=off, thick=thick, sign=sign, rank=pen.rank - 1)


def painted_text(canvas: Canvas) -> Text:
    """The canvas with its colours."""
    text = Text(no_wrap=True, end="")
    for n, row in enumerate(canvas.runs()):
        if n:
            text.append("\n")
        for part, tone in row:
            text.append(part, _STYLES.get(tone, ""))
    return text


Line = tuple[str, str]  # a text and its style
CARDS: Final = 35  # columns of a card, and of the table
TABLE: Final = 62
_WIDTHS: Final = (2, 9, 10, 5, 5, 9, 9, 6)
_HEADS: Final = ("", "power", "role", "side", "angle", "distance", "height", "stand")


def listed(rows: FloorRows, moves: tuple[Move, ...], width: int, height: int, glyphs: Glyphs) -> list[Line]:
    """Heads, panels and camera, each with what becomes of it; cut to the room there is."""
    becomes = {(move.kind, move.item): f", {move.how}" for move in moves if move.how != "stays"}
    heads = [(row, becomes.get(("head", row.head), "")) for row in rows.heads]
    lines = list(_table(heads, glyphs) if width >= TABLE else _cards(heads))
    for panel, where in rows.panels:
        lines.append((f"{panel}  {where}{becomes.get(('panel', panel), '')}", ""))
    lines.append((f"camera  {rows.camera_place}", "bold"))
    lines.append((f"   {rows.camera_set}", ""))
    if len(lines) > height:
        more = len(lines) - height + 1
        lines = [*lines[: max(height - 1, 0)], (f"and {more} lines more in a taller window", "dim")]
    return [(cut(text, width, glyphs), style) for text, style in lines]


def _cards(heads: list[tuple[HeadRow, str]]) -> Iterator[Line]:
    for row, becomes in heads:
        yield f"{row.head:<2} {row.power:<9} {row.role}{becomes}", "bold"
        yield f"   {row.side} {row.angle}, {row.distance}, {row.height} up", ""


def _table(heads: list[tuple[HeadRow, str]], glyphs: Glyphs) -> Iterator[Line]:
    yield _row(_HEADS, glyphs), "dim"
    for row, becomes in heads:
        yield _row(row[:8], glyphs), "bold"
        yield f"   {row.fitted}{becomes}", ""


def _row(cells: tuple[str, ...], glyphs: Glyphs) -> str:
    return " ".join(fit(cell, wide, glyphs) for cell, wide in zip(cells, _WIDTHS, strict=True))


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
        yield Words(id="message")
        yield Words(id="keys")

    @property
    def setup_id(self) -> str | None:
        """The floor looked at; the one at work unless a person looks away."""
        return self.looking if self.away else current_floor(self.session.view)

    def repaint(self) -> None:
        """Draw the floor from the session."""
        super().repaint()
        shown, width = floor_view(self.session.view, self.setup_id), self.size.width
        title = f"floor: {shown.title}, {shown.word}"
        self.query_one("#title", Static).update(Text(rule(title, width, self.glyphs), style="dim", no_wrap=True))
        self.query_one(FloorDrawing).show(shown.drawn)
        self._show_table(shown)
        self.query_one("#legend", Static).update(self._legend(shown))
        self.query_one("#now", Static).update(
            Text(self.glyphs.shown(f"{shown.title}: {self._said(shown)}"), style="bold")
        )

    def _said(self, shown: FloorView) -> str:
        return shown.drawn.moves_text or "everything stays where it is"

    def _legend(self, shown: FloorView) -> Text:
        """What moves, in words; and what the two kinds of broken line mean, where there is room."""
        said, width = self._said(shown), self.size.width
        if shown.drawn.moves_text:
            leaves, comes = (",", "+") if self.glyphs.ascii else ("···", "--")
            said = f"{said} ({leaves} leaving; {comes} arriving)"
        rows = wrapped(self.glyphs.shown(said), max(width, 1))
        if len(rows) > _LEGEND_LINES:
            rest = " ".join(rows[_LEGEND_LINES - 1 :])
            rows = [*rows[: _LEGEND_LINES - 1], rest]
        return lines(*((cut(row, width, self.glyphs), "bold") for row in rows))

    def _show_table(self, shown: FloorView) -> None:
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
        session, known = self.session, floor_ids(self.session.view)
        at = known.index(self.setup_id) + by
        if not 0 <= at < len(known):
            self.day.show_message("that is the first floor" if by < 0 else "after the wrap nothing stands")
            return
        self.looking, self.away = known[at], known[at] != current_floor(session.view)
        self.day.show_message("" if not self.away else "only looking; home goes back to the setup at work")

    def action_here(self) -> None:
        """Back to the floor at work."""
        self.away = False
        self.day.show_message("")

    def action_back(self) -> None:
        """Back to the set."""
        self.day.action_show("set")
