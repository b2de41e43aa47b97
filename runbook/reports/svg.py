"""A setup's floor plan as an SVG page: to scale, in black and light greys, for a printer.

Everything is in millimetres of paper; nothing is fetched: no font, no link, no script.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape
from itertools import chain, count
from math import hypot
from typing import Final

from runbook.changeover.checklist import CAUTIONS
from runbook.drawing.floor_drawing import FloorPlan, FloorRows, floor_plan, floor_rows
from runbook.drawing.floor_shapes import Ghost, Outline, Role
from runbook.drawing.label_layout import Box, LabelText, TextMetrics, place_labels
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import M_PER_INCH

# round scales, the largest that fits is used; the paper is A4 with a margin
_SCALES: Final = (10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 500, 1000)
_WIDE_MM: Final = 190.0
_EDGE_MM: Final = 5.0
_DRAWING_MM: Final = 165.0  # how high the drawing may be, so that the figures fit under it
_MARGIN_MM: Final = 10.0  # round the things drawn, for their names
_TEXT_MM: Final = 3.2
# a sans-serif letter is about this wide, in letter heights; generous, so that names never touch
_LETTER: Final = 0.62
_GRID_MM: Final = 1.5


@dataclass(frozen=True, slots=True)
class Ink:
    """How a thing's lines are drawn, in mm; ``dash`` as SVG has it."""

    stroke: str
    wide: float
    fill: str = "none"
    dash: str = ""
    weight: float = 1.0  # how much a name avoids it


_INKS: Final[dict[Role, Ink]] = {
    "beam": Ink("#999", 0.25, weight=0.1),
    "picture": Ink("#888", 0.25, dash="2 1.2", weight=0.3),
    "background": Ink("#aaa", 1.4),
    "stand": Ink("#aaa", 0.3, weight=0.3),
    "arm": Ink("#666", 0.6),
    "cloth": Ink("#666", 0.5, dash="3 0.8 0.8 0.8"),
    "gobo": Ink("#000", 0.9),
    "panel": Ink("#000", 1.3),
    "flag": Ink("#000", 1.3),
    "modifier": Ink("#000", 0.4, "#ddd"),
    "head": Ink("#000", 0.4, "#000"),
    "camera": Ink("#000", 0.4, "#ddd"),
    "subject": Ink("#000", 0.4, "#fff"),
    "face": Ink("#000", 0.5),
    "move": Ink("#000", 0.5),
}
_ORDER: Final = {role: n for n, role in enumerate(_INKS)}
_GHOSTS: Final[dict[Ghost, str]] = {"from": "0.3 1.1", "to": "1.6 0.9"}


def setup_floor_svg(plan: Plan, setup: Setup) -> str:
    """A setup's floor as planned, as a page: the drawing, its figures and the cautions.

    Raises ValueError when a place is not real.
    """
    day, rows = plan.day, floor_rows(plan, setup)
    sheet = _Sheet(floor_plan(plan, setup))
    unit_m, unit = _bar_unit(plan)
    title = setup.title or setup.id
    top = 14.0
    below = top + sheet.high + 6
    figures_end = below + 9 + 4.4 * (2 * len(rows.heads) + len(rows.panels) + 3)
    tall = figures_end + 5 + 3.6 * len(CAUTIONS)
    bar_wide = unit_m * sheet.mm_per_m
    lines = [
        _text(0, 5, title, 5.0, "bold"),
        _text(0, 10.5, f"{day.name}, {day.date:%Y-%m-%d}: {setup.id}, the floor from above", 3.2),
        *sheet.lines(top),
        _bar(below, bar_wide),
        _text(bar_wide + 2, below, f"{unit}; 1:{sheet.scale} when this page is printed at its own size", 3.0),
        _text(_WIDE_MM, below, "camera-left is at the left", 3.0, anchor="end"),
        *_figures(rows, below + 9),
        *(_text(0, figures_end + 5 + 3.6 * n, caution, 2.6, fill="#444") for n, caution in enumerate(CAUTIONS)),
    ]
    edges = (_WIDE_MM + 2 * _EDGE_MM, tall + 2 * _EDGE_MM)
    frame = _frame(edges, -_EDGE_MM, f"{title}: the floor from above", lines)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{frame}\n'


def floor_drawing_svg(plan: Plan, setup: Setup, wide_mm: float, deep_mm: float) -> str:
    """A setup's floor by itself, for a page with the figures: the drawing and a scale bar.

    As wide as asked, and at most as deep as asked plus the bar. Raises ValueError when a place is
    not real.
    """
    sheet = _Sheet(floor_plan(plan, setup), wide_mm, deep_mm)
    unit_m, unit = _bar_unit(plan)
    bar_wide = unit_m * sheet.mm_per_m
    lines = [
        *sheet.lines(0),
        _bar(sheet.high + 4, bar_wide),
        _text(bar_wide + 2, sheet.high + 4, f"{unit}, 1:{sheet.scale}", 3.0),
    ]
    title = f"{setup.title or setup.id}: the floor from above, camera-left at the left"
    return _frame((wide_mm, sheet.high + 6), 0, title, lines)


def _frame(size: tuple[float, float], start: float, title: str, lines: Iterable[str]) -> str:
    """An SVG picture on white, ``start`` the coordinate of its left and upper edge."""
    wide, tall, edge = _n(size[0]), _n(size[1]), _n(start)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{tall}mm" '
            f'viewBox="{edge} {edge} {wide} {tall}" font-family="sans-serif" fill="#000" role="img">',
            f"<title>{_safe(title)}</title>",
            f'<rect x="{edge}" y="{edge}" width="{wide}" height="{tall}" fill="#fff"/>',
            *lines,
            "</svg>",
        ]
    )


def _bar_unit(plan: Plan) -> tuple[float, str]:
    """The length of the scale bar in metres, and its name."""
    return (1.0, "1 m") if plan.day.units == "metric" else (36 * M_PER_INCH, "3 ft")


def _larger_scales() -> Iterator[int]:
    """Scales for floors that no studio has: a mistyped distance still fits on the page."""
    return (_SCALES[-1] * part * 10**power for power in count() for part in (2, 5, 10))


class _Sheet:
    """A floor plan fitted on paper at a round scale."""

    def __init__(self, drawn: FloorPlan, wide_mm: float = _WIDE_MM, deep_mm: float = _DRAWING_MM) -> None:
        self.drawn = drawn
        self.wide = wide_mm
        extent, edge = drawn.extent, 2 * _MARGIN_MM
        self.scale = next(
            scale
            for scale in chain(_SCALES, _larger_scales())
            if extent.wide_m * 1000 / scale + edge <= wide_mm and extent.deep_m * 1000 / scale + edge <= deep_mm
        )
        self.mm_per_m = 1000 / self.scale
        self.high = extent.deep_m * self.mm_per_m + edge
        middle = (extent.left + extent.right) / 2
        self._left = middle - wide_mm / 2 / self.mm_per_m
        self._top = extent.far - _MARGIN_MM / self.mm_per_m

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        """A point of the floor in mm of the drawing."""
        return (point[0] - self._left) * self.mm_per_m, (point[1] - self._top) * self.mm_per_m

    def lines(self, top: float) -> Iterator[str]:
        """The drawing; a picture in a picture, so that what runs out of it is cut off."""
        wide, high = _n(self.wide), _n(self.high)
        yield f'<svg y="{_n(top)}" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">'
        beams = (line for line in self.drawn.outlines if line.role == "beam")
        yield from (self._lit(line) for line in beams if len(line.points) == 3)
        for line in sorted(self.drawn.outlines, key=lambda line: _ORDER[line.role]):
            yield self._line(line)
            if line.role == "panel" and not line.ghost:  # white inside: it bounces
                yield self._line(line, Ink("#fff", 0.7))
        yield from self._names()
        yield "</svg>"

    def _lit(self, line: Outline) -> str:
        """What a beam lights, as far as what it is aimed at."""
        (x0, y0), (x, y), (x1, y1) = map(self.at, line.points)
        reach = _n(hypot(x1 - x, y1 - y))
        return (
            f'<path class="lit" d="M{_n(x)} {_n(y)}L{_n(x0)} {_n(y0)}'
            f'A{reach} {reach} 0 0 0 {_n(x1)} {_n(y1)}Z" fill="#000" fill-opacity="0.06"/>'
        )

    def _line(self, line: Outline, ink: Ink | None = None) -> str:
        ink = ink or _INKS[line.role]
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in map(self.at, line.points))
        dash = _GHOSTS.get(line.ghost, ink.dash) if line.role != "move" else ""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        fill = "none" if line.ghost else ink.fill
        shape = "polygon" if line.closed else "polyline"
        return (
            f'<{shape} class="{line.role}" points="{points}" fill="{fill}" stroke="{ink.stroke}" '
            f'stroke-width="{_n(ink.wide)}" stroke-linejoin="round"{dashed}/>'
        )

    def _names(self) -> Iterator[str]:
        inked = self._inked()

        def ink(box: Box) -> float:
            cells = [
                inked.get((x, y), 0.0)
                for x in range(int(box.x / _GRID_MM), int((box.x + box.wide) / _GRID_MM) + 1)
                for y in range(int(box.y / _GRID_MM), int((box.y + box.high) / _GRID_MM) + 1)
            ]
            return sum(cells) / len(cells)

        names = (LabelText((label.text, label.short), *self.at(label.at), label.rank) for label in self.drawn.labels)
        letters = TextMetrics(lambda text: (_wide(text, _TEXT_MM) + 1.5, _TEXT_MM * 1.4), (4.0, 3.0))
        for placed in place_labels(names, Box(0, 0, self.wide, self.high), letters, ink):
            x, y = placed.box.x + 0.75, placed.box.y + _TEXT_MM * 1.05
            yield _text(x, y, placed.text, _TEXT_MM, "bold", halo=True)

    def _inked(self) -> dict[tuple[int, int], float]:
        """What is drawn where, on a coarse grid."""
        inked: dict[tuple[int, int], float] = {}
        for line in self.drawn.outlines:
            points = [self.at(point) for point in line.points]
            ends = [*points[1:], *(points[:1] if line.closed else [])]
            for start, end in zip(points, ends, strict=False):
                for cell in _walked(*_clipped(start, end, (self.wide, self.high))):
                    inked[cell] = max(inked.get(cell, 0.0), _INKS[line.role].weight)
        return inked


def _clipped(
    start: tuple[float, float], end: tuple[float, float], size: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The part of a line on a page of that size (Liang and Barsky, 1984), or its start twice."""
    enters, leaves = 0.0, 1.0
    for at, to, most in zip(start, end, size, strict=True):
        way = to - at
        if way:
            one, other = sorted(((0.0 - at) / way, (most - at) / way))
            enters, leaves = max(enters, one), min(leaves, other)
        elif not 0.0 <= at <= most:
            return start, start
    if enters > leaves:
        return start, start
    (x, y), (x1, y1) = start, end
    ways = x1 - x, y1 - y
    return ((x + enters * ways[0], y + enters * ways[1]), (x + leaves * ways[0], y + leaves * ways[1]))


def _walked(start: tuple[float, float], end: tuple[float, float]) -> Iterator[tuple[int, int]]:
    (x0, y0), (x1, y1) = start, end
    steps = max(int(hypot(x1 - x0, y1 - y0) / _GRID_MM * 1.5), 1)
    for n in range(steps + 1):
        part = n / steps
        x, y = x0 + (x1 - x0) * part, y0 + (y1 - y0) * part
        yield int(x / _GRID_MM), int(y / _GRID_MM)


def _bar(y: float, wide: float) -> str:
    return (
        f'<path class="scale" d="M0 {_n(y - 2)}V{_n(y)}H{_n(wide)}V{_n(y - 2)}" fill="none" '
        'stroke="#000" stroke-width="0.4"/>'
    )


_COLUMNS: Final = (0.0, 10.0, 30.0, 52.0, 66.0, 80.0, 102.0, 124.0, 144.0)
_HEADS: Final = ("head", "power", "role", "side", "angle", "distance", "height", "stand")


def _figures(rows: FloorRows, y: float) -> Iterator[str]:
    """The heads, the panels and the camera in figures, one line under another."""
    yield from _cells(_HEADS, y, "", "#444")
    for row in rows.heads:
        yield from _cells(row[:8], y + 4.4, "bold", "#000")
        yield _text(_COLUMNS[1], y + 8.8, row.fitted, 3.0, fill="#444")
        y += 8.8
    others = [*rows.panels, ("camera", f"{rows.camera_place}, {rows.camera_set}")]
    for name, said in others:
        y += 4.4
        yield _text(0, y, name, 3.0, "bold")
        yield _text(_COLUMNS[2], y, said, 3.0)


def _cells(cells: Iterable[str], y: float, weight: str, fill: str) -> Iterator[str]:
    for x, cell in zip(_COLUMNS, cells, strict=False):
        yield _text(x, y, cell, 3.0, weight, fill=fill)


def _wide(text: str, size: float) -> float:
    return len(text) * size * _LETTER


def _text(
    x: float,
    y: float,
    text: str,
    size: float,
    weight: str = "",
    *,
    fill: str = "",
    anchor: str = "",
    halo: bool = False,
) -> str:
    """A line of text; one too long for the page is drawn narrower, so that it stays on it."""
    more = f' font-weight="{weight}"' if weight else ""
    more += f' fill="{fill}"' if fill else ""
    more += f' text-anchor="{anchor}"' if anchor else ""
    if halo:
        more += ' paint-order="stroke" stroke="#fff" stroke-width="0.9" stroke-linejoin="round"'
    if not anchor and x + _wide(text, size) > _WIDE_MM:
        more += f' textLength="{_n(_WIDE_MM - x)}" lengthAdjust="spacingAndGlyphs"'
    return f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}"{more}>{_safe(text)}</text>'


def _safe(text: str) -> str:
    """A person's text on one line, as XML may hold it."""
    return escape("".join(char if char.isprintable() else " " for char in text))


def _n(number: float) -> str:
    """A number without needless digits; a hundredth of a millimetre is enough."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
