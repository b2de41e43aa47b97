"""A setup's floor plan as SVG: to scale, in black and light greys, for a printer.

Everything is in millimetres of paper; nothing is fetched: no font, no link, no script.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import dist
from typing import Final

from runbook.changeover.checklist import CAUTIONS
from runbook.drawing.floor_drawing import FloorPlan, floor_plan
from runbook.drawing.floor_shapes import Ghost, Outline, Role
from runbook.drawing.label_layout import Box, TextMetrics, place_labels
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import M_PER_INCH
from runbook.reports.document import html_text

Spot = tuple[float, float]

_WIDE_MM: Final = 190.0  # the paper is A4 with a margin
_EDGE_MM: Final = 5.0
_DEEP_MM: Final = 230.0  # how high the drawing may be, so that the cautions fit under it
_BAR_MM: Final = 5.0
_TEXT_MM: Final = 3.2
# a sans-serif letter is about this wide, in letter heights; generous, so that names never touch
_LETTER: Final = 0.62


@dataclass(frozen=True, slots=True)
class Ink:
    """How a thing's lines are drawn, in mm; ``dash`` as SVG has it."""

    stroke: str
    wide: float
    fill: str = "none"
    dash: str = ""
    weight: float = 1.0  # how much a name avoids it


_INKS: Final[dict[Role, Ink]] = {  # from the lowest layer up
    "beam": Ink("#999", 0.25, "#eee", weight=0.1),
    "picture": Ink("#888", 0.25, dash="2 1.2", weight=0.3),
    "background": Ink("#aaa", 1.4),
    "stand": Ink("#aaa", 0.3, weight=0.3),
    "arm": Ink("#666", 0.6),
    "hung": Ink("#666", 0.6, dash="3 0.8 0.8 0.8"),
    "cloth": Ink("#666", 0.5, dash="3 0.8 0.8 0.8"),
    "gobo": Ink("#000", 0.9),
    "panel": Ink("#888", 1.3),  # lighter than a flag: it bounces
    "flag": Ink("#000", 1.3),
    "modifier": Ink("#000", 0.4, "#ddd"),
    "head": Ink("#000", 0.4, "#000"),
    "camera": Ink("#000", 0.4, "#ddd"),
    "subject": Ink("#000", 0.4, "#fff"),
    "face": Ink("#000", 0.5),
    "move": Ink("#000", 0.5),
}
_ORDER: Final = {role: n for n, role in enumerate(_INKS)}
# a white edge keeps a name readable on the lines it crosses
_HALO: Final = {"paint-order": "stroke", "stroke": "#fff", "stroke-width": "0.9", "stroke-linejoin": "round"}
_GHOSTS: Final[dict[Ghost, str]] = {"from": "0.3 1.1", "to": "1.6 0.9"}


def setup_floor_svg(plan: Plan, setup: Setup) -> str:
    """Return a setup's floor as planned, as a page: the drawing with a scale bar, and the cautions.

    Raises ValueError when a place is not real.
    """
    day, sheet, top = plan.day, _Sheet(floor_plan(plan, setup), _WIDE_MM, _DEEP_MM, _TEXT_MM), 14.0
    title, below = setup.title or setup.id, top + sheet.high + 6
    lines = [
        _text(0, 5, title, 5.0, "bold"),
        _text(0, 10.5, f"{day.name}, {day.date:%Y-%m-%d}: {setup.id}, the floor from above", 3.2),
        *sheet.lines(top),
        *_bar(plan, sheet, below),
        _text(_WIDE_MM, below, "camera-left is at the left", 3.0, **{"text-anchor": "end"}),
        *(_text(0, below + 6 + 3.6 * n, caution, 2.6, fill="#444") for n, caution in enumerate(CAUTIONS)),
    ]
    size = (_WIDE_MM + 2 * _EDGE_MM, below + 6 + 3.6 * len(CAUTIONS) + 2 * _EDGE_MM)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n{_frame(size, -_EDGE_MM, f"{title}: the floor from above", lines)}\n'
    )


def floor_drawing_svg(plan: Plan, setup: Setup, wide_mm: float, deep_mm: float, text_mm: float) -> str:
    """Return a setup's floor by itself, as large as fits, for a page with the figures: the drawing and a scale bar.

    A page may draw it larger or smaller still. Raises ValueError when a place is not real.
    """
    sheet = _Sheet(floor_plan(plan, setup), wide_mm, deep_mm - _BAR_MM, text_mm)
    lines = [*sheet.lines(0), *_bar(plan, sheet, sheet.high + 0.7 * _BAR_MM)]
    title = f"{setup.title or setup.id}: the floor from above, camera-left at the left"
    return _frame((wide_mm, sheet.high + _BAR_MM), 0, title, lines)


def _frame(size: Spot, start: float, title: str, lines: Iterable[str]) -> str:
    """Return an SVG picture on white, ``start`` the coordinate of its left and upper edge."""
    wide, tall, edge = _n(size[0]), _n(size[1]), _n(start)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{tall}mm" '
        f'viewBox="{edge} {edge} {wide} {tall}" font-family="sans-serif" fill="#000" role="img">'
    )
    white = f'<rect x="{edge}" y="{edge}" width="{wide}" height="{tall}" fill="#fff"/>'
    return "\n".join([head, f"<title>{html_text(title)}</title>", white, *lines, "</svg>"])


class _Sheet:
    """A floor plan fitted on paper, as large as it gets."""

    def __init__(self, drawn: FloorPlan, wide_mm: float, deep_mm: float, text_mm: float) -> None:
        self.drawn, self.wide, self.text = drawn, wide_mm, text_mm
        extent, edge = drawn.extent, 5 * text_mm  # round the things drawn, for their names
        self.mm_per_m = min((wide_mm - edge) / extent.wide, (deep_mm - edge) / extent.high)
        self.high = extent.high * self.mm_per_m + edge
        self._left = extent.x + extent.wide / 2 - wide_mm / 2 / self.mm_per_m
        self._top = extent.y - edge / 2 / self.mm_per_m

    def at(self, point: Spot) -> Spot:
        """Return a point of the floor in mm of the drawing."""
        return (point[0] - self._left) * self.mm_per_m, (point[1] - self._top) * self.mm_per_m

    def lines(self, top: float) -> Iterator[str]:
        """Yield the drawing; a picture in a picture, so that what runs out of it is cut off."""
        wide, high = _n(self.wide), _n(self.high)
        yield f'<svg y="{_n(top)}" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">'
        yield from map(self._line, sorted(self.drawn.outlines, key=lambda line: _ORDER[line.role]))
        yield from self._names()
        yield "</svg>"

    def _line(self, line: Outline) -> str:
        ink = _INKS[line.role]
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in map(self.at, line.points))
        dash = _GHOSTS.get(line.ghost, ink.dash) if line.role != "move" else ""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return (
            f'<{"polygon" if line.closed else "polyline"} class="{line.role}" points="{points}" '
            f'fill="{"none" if line.ghost else ink.fill}" stroke="{ink.stroke}" '
            f'stroke-width="{_n(ink.wide)}" stroke-linejoin="round"{dashed}/>'
        )

    def _names(self) -> Iterator[str]:
        inked = [
            (_INKS[line.role].weight, start, end)
            for line in self.drawn.outlines
            for start, end in _sides([self.at(point) for point in line.points], line.closed)
        ]

        def ink(box: Box) -> float:
            """Return how much of a box is drawn on: the lengths of the lines in it over its height."""
            return min(1.0, sum(weight * _length_in(box, start, end) for weight, start, end in inked) / box.high)

        names = [replace(label, x=x, y=y) for label in self.drawn.labels for x, y in [self.at((label.x, label.y))]]
        size = self.text
        letters = TextMetrics(lambda text: (_wide(text, size) + 1.5, 1.4 * size), (1.25 * size, 0.94 * size))
        for placed in place_labels(names, Box(0, 0, self.wide, self.high), letters, ink):
            x, y = placed.box.x + 0.75, placed.box.y + self.text * 1.05
            yield _text(x, y, placed.text, self.text, "bold", **_HALO)


def _sides(points: list[Spot], closed: bool) -> Iterator[tuple[Spot, Spot]]:
    return zip(points, [*points[1:], *(points[:1] if closed else [])], strict=False)


def _length_in(box: Box, start: Spot, end: Spot) -> float:
    """Return the length of the part of a line in a box (Liang and Barsky, 1984)."""
    enters, leaves = 0.0, 1.0
    for at, to, low, size in ((start[0], end[0], box.x, box.wide), (start[1], end[1], box.y, box.high)):
        if at != to:
            one, other = sorted(((low - at) / (to - at), (low + size - at) / (to - at)))
            enters, leaves = max(enters, one), min(leaves, other)
        elif not low <= at <= low + size:
            return 0.0
    return max(0.0, leaves - enters) * dist(start, end)


def _bar(plan: Plan, sheet: _Sheet, y: float) -> Iterator[str]:
    """Yield the scale bar and its length."""
    metres, unit = (1.0, "1 m") if plan.day.units == "metric" else (36 * M_PER_INCH, "3 ft")
    wide, path = metres * sheet.mm_per_m, f"M0 {_n(y - 2)}V{_n(y)}H"
    yield f'<path class="scale" d="{path}{_n(wide)}V{_n(y - 2)}" fill="none" stroke="#000" stroke-width="0.4"/>'
    yield _text(wide + 2, y, unit, 0.94 * sheet.text)


def _wide(text: str, size: float) -> float:
    return len(text) * size * _LETTER


def _text(x: float, y: float, text: str, size: float, weight: str = "normal", **more: str) -> str:
    """Return a line of text; one too long for the page is drawn narrower, so that it stays on it."""
    given = {"x": _n(x), "y": _n(y), "font-size": _n(size), "font-weight": weight} | more
    if "text-anchor" not in more and x + _wide(text, size) > _WIDE_MM:
        given |= {"textLength": _n(_WIDE_MM - x), "lengthAdjust": "spacingAndGlyphs"}
    attributes = " ".join(f'{key}="{value}"' for key, value in given.items())
    return f"<text {attributes}>{html_text(text)}</text>"


def _n(number: float) -> str:
    """Return a number without needless digits; a hundredth of a millimetre is enough."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
