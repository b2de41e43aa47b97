"""A floor plan on a canvas: which pen draws what, and which colour repeats it."""

from __future__ import annotations

from typing import Final

from rich.text import Text

from runbook.drawing.floorplan import FloorPlan
from runbook.drawing.floorshapes import Ghost, Outline, Place, Role
from runbook.drawing.lettering import Name
from runbook.model.units import M_PER_INCH, Units
from runbook.screens.canvas import Canvas, Pen, Window
from runbook.screens.glyphs import Glyphs

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
        Name(
            (glyphs.shown(label.text), glyphs.shown(label.short)), *label.at, label.rank, f"name {label.ghost}".strip()
        )
        for label in drawn.labels
    )
    return canvas


def _tip(one: Place, tip: Place, other: Place) -> str:
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
