"""The set from above, to scale, and what moves from where to where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final, cast

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from runbook.drawing.floor_drawing import FloorPlan
from runbook.drawing.floor_shapes import FloorPoint, Ghost, Outline, Role
from runbook.model.units import M_PER_INCH, Units
from runbook.screens.canvas import Canvas, Pen, Window
from runbook.screens.text import Glyphs
from runbook.screens.themes import tone_styles

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

# the tones are those of the themes
_PENS: Final[dict[Role, Pen]] = {
    "picture": Pen("faint", 1, 3, sign=".", rank=0),
    "beam": Pen("light", 1, 1, sign="", rank=1),
    "background": Pen("faint", sign="=", rank=2),
    "stand": Pen("faint", 1, 1, rank=0),
    "arm": Pen("faint", 3, 1, rank=2),
    "cloth": Pen("cloth", 2, 1, sign="~", rank=2),
    "hung": Pen("cloth", 2, 1, sign="~", rank=4),
    "gobo": Pen("light", thick=True, sign="%", rank=3),
    "panel": Pen("thing", thick=True, sign="#", rank=4),
    "flag": Pen("thing", thick=True, sign="#", rank=4),
    "modifier": Pen("light", sign="#", rank=4),
    "head": Pen("light", thick=True, sign="@", rank=5),
    "camera": Pen("camera", sign="M", rank=4),
    "subject": Pen("thing", sign="o", rank=6),
    "face": Pen("thing", sign="", rank=5),
    "move": Pen("move", rank=3),
}
# what leaves is dots far apart, what arrives is dashes
_GHOSTS: Final[dict[Ghost, Pen]] = {"from": Pen("faint", 1, 2, sign=","), "to": Pen("move", 2, 1, sign="+")}
# under so many columns to a metre a stand's legs are only clutter
_LEGS_FROM: Final = 11.0
_MARGIN_M: Final = 0.15
_SCALE: Final = {"metric": (1.0, "1 m"), "imperial": (36 * M_PER_INCH, "3 ft")}
_LABELS: Final = {"": "plain", "from": "faint", "to": "move"}
_MARKED_RANK: Final = 7  # above everything


def floor_canvas(
    drawn: FloorPlan, room: Size, glyphs: Glyphs, units: Units, marked: frozenset[str] = frozenset()
) -> Canvas:
    """Return a floor plan fitted into a room in cells, the things ``marked`` in the tone of that name."""
    extent, more = drawn.extent, _MARGIN_M
    right, near = extent.x + extent.wide, extent.y + extent.high
    window = Window(extent.x - more, extent.y - more, right + more, near + more)
    canvas = Canvas(room.width, room.height, window, ascii_only=glyphs.ascii)
    legs = canvas.cells_per_m >= _LEGS_FROM
    pens = {line: _pen(line, marked) for line in drawn.outlines}
    for line, pen in sorted(pens.items(), key=lambda pair: pair[1].rank):
        if glyphs.ascii and line.role in ("face", "move") and len(line.points) == 3:
            canvas.point(line.points[1], replace(pen, sign=_tip(*line.points)))
        elif line.role != "stand" or (legs and not line.ghost):
            canvas.line(line.points, pen, closed=line.closed)
    canvas.scale_bar(*_SCALE[units], "faint")
    canvas.name(
        replace(
            label,
            texts=tuple(map(glyphs.shown, label.texts)),
            tone="marked" if label.item in marked else _LABELS[label.tone],
        )
        for label in drawn.labels
    )
    return canvas


def _tip(one: FloorPoint, tip: FloorPoint, other: FloorPoint) -> str:
    """Return the ASCII sign for an arrow's end: two barbs and the tip between them."""
    x, y = tip.x - (one.x + other.x) / 2, tip.y - (one.y + other.y) / 2
    if abs(x) > abs(y):
        return ">" if x > 0 else "<"
    return "v" if y > 0 else "^"


def _pen(line: Outline, marked: frozenset[str]) -> Pen:
    pen = _PENS[line.role]
    if line.ghost and line.role not in ("beam", "picture", "move"):
        pen = replace(_GHOSTS[line.ghost], thick=pen.thick and line.ghost == "to", rank=pen.rank - 1)
    if line.item in marked and line.role not in ("beam", "picture", "stand"):
        return replace(pen, tone="marked", rank=_MARKED_RANK)
    return pen


def floor_strips(canvas: Canvas, styles: Mapping[str, Style]) -> list[Strip]:
    """Return the rows of the canvas with its colours: a style for each tone."""
    return [Strip([Segment(text, styles.get(tone)) for text, tone in row], canvas.columns) for row in canvas.runs()]


class FloorPane(Widget):
    """A floor drawn as large as there is room."""

    def __init__(self, widget_id: str = "floor") -> None:
        super().__init__(id=widget_id)
        self.drawn: FloorPlan | None = None
        self.canvas: Canvas | None = None  # what was drawn last
        self.marked: frozenset[str] = frozenset()
        self._strips: list[Strip] = []  # none: to be drawn

    def show(self, drawn: FloorPlan | None, marked: frozenset[str] = frozenset()) -> None:
        """Show a floor, with some things marked by label; or none."""
        if drawn is not self.drawn or marked != self.marked:
            self.drawn, self.marked = drawn, marked
            self._draw_again()

    def on_mount(self) -> None:
        """Draw again in the colours of another theme."""
        self.app.theme_changed_signal.subscribe(self, lambda _: self._draw_again())

    def on_resize(self) -> None:
        """Draw again as large as there is room."""
        self._draw_again()

    def _draw_again(self) -> None:
        self._strips = []
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Return a line of the drawing."""
        if not self._strips and self.drawn is not None:
            app = cast("RunbookApp", self.app)
            self.canvas = floor_canvas(self.drawn, self.size, app.glyphs, app.session.plan.day.units, self.marked)
            self._strips = floor_strips(self.canvas, tone_styles(app.theme_variables, colour=not app.no_color))
        line = self._strips[y] if y < len(self._strips) else Strip([])
        return line.adjust_cell_length(self.size.width).apply_style(self.rich_style)
