"""A canvas of a terminal's cells: lines in braille dots, or in plain signs, with names on top.

A cell is taken as twice as high as it is wide, so that a braille dot (2 x 4 to a cell) is square
and what is round stays round. Pure Python; knows nothing of what it draws.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from runbook.drawing.label_layout import Box, Label, PlacedLabel, TextMetrics, place_labels

# the bit of each dot in a braille sign, by row and column (Unicode block 2800)
_DOT: Final = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BLANK: Final = 0x2800
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: so many dots on, so many off; thick ones two dots wide.

    ``sign`` is what a plain terminal shows; without one, ``- | / \\`` by the line's slope. ``tone``
    says what the line is of, for whoever gives it a colour; of two that meet in a cell the one with
    the higher ``rank`` shows.
    """

    tone: str
    on: int = 1
    off: int = 0
    thick: bool = False
    sign: str = ""
    rank: int = 0


@dataclass(frozen=True, slots=True)
class Window:
    """The part of the world to be shown, ``y`` down."""

    left: float
    top: float
    right: float
    bottom: float


class Canvas:
    """Cells to draw on, with the world fitted into them, its aspect true."""

    def __init__(self, columns: int, rows: int, window: Window, *, ascii_only: bool) -> None:
        self.columns, self.rows, self.ascii = max(columns, 1), max(rows, 1), ascii_only
        self.dots_wide = self.columns if ascii_only else self.columns * 2
        self.dots_high = self.rows if ascii_only else self.rows * 4
        tall = 0.5 if ascii_only else 1.0  # dots down to a dot across
        # a canvas of one dot still has a scale
        across, down = max(self.dots_wide - 1, 0.5), max(self.dots_high - 1, 0.5)
        wide_m, deep_m = max(window.right - window.left, 1e-6), max(window.bottom - window.top, 1e-6)
        self.per_m = min(across / wide_m, down / (deep_m * tall))
        self.per_m_down = self.per_m * tall
        self._left = (window.left + window.right) / 2 - (self.dots_wide - 1) / 2 / self.per_m
        self._top = (window.top + window.bottom) / 2 - (self.dots_high - 1) / 2 / self.per_m_down
        self._bits: dict[tuple[int, int], int] = {}
        self._inked: dict[tuple[int, int], tuple[int, str, str]] = {}  # the rank, tone and plain sign of a cell
        self._names: tuple[PlacedLabel, ...] = ()

    @property
    def cells_per_m(self) -> float:
        """The columns to a metre."""
        return self.per_m if self.ascii else self.per_m / 2

    def dot(self, x: float, y: float) -> Point:
        """Return a point of the world in dots from the top left one."""
        return (x - self._left) * self.per_m, (y - self._top) * self.per_m_down

    def cell(self, x: float, y: float) -> Point:
        """Return a point of the world in cells from the top left corner."""
        across, down = self.dot(x, y)
        return (across + 0.5, down + 0.5) if self.ascii else (across / 2 + 0.25, down / 4 + 0.125)

    def world(self, column: float, row: float) -> Point:
        """Return the point of the world at a point in cells: what ``cell`` turns round."""
        across, down = (column - 0.5, row - 0.5) if self.ascii else ((column - 0.25) * 2, (row - 0.125) * 4)
        return across / self.per_m + self._left, down / self.per_m_down + self._top

    # -- lines -------------------------------------------------------------------------------------

    def line(self, points: Sequence[Point], pen: Pen, *, closed: bool = False) -> None:
        """Draw a line through points of the world; what is outside the canvas is left out."""
        dots = [self.dot(*point) for point in points]
        run = 0  # a dash goes on round a corner
        for start, end in zip(dots, [*dots[1:], *(dots[:1] if closed else [])], strict=False):
            dx, dy = end[0] - start[0], end[1] - start[1]
            sign = pen.sign or _slope_sign(dx, dy)
            for x, y in dots_between(start, end):
                if run % (pen.on + pen.off) < pen.on:
                    self._mark(x, y, sign, pen)
                    if pen.thick and not self.ascii:  # it grows across itself
                        self._mark(*((x, y + 1) if abs(dx) >= abs(dy) else (x + 1, y)), sign, pen)
                run += 1

    def point(self, at: Point, pen: Pen) -> None:
        """Draw one dot at a point of the world, or the pen's sign."""
        x, y = self.dot(*at)
        self._mark(round(x), round(y), pen.sign or ".", pen)

    def _mark(self, x: int, y: int, sign: str, pen: Pen) -> None:
        if not (0 <= x < self.dots_wide and 0 <= y < self.dots_high):
            return
        cell = (x, y) if self.ascii else (x // 2, y // 4)
        if cell not in self._inked or pen.rank >= self._inked[cell][0]:
            self._inked[cell] = (pen.rank, pen.tone, sign)
        self._bits[cell] = self._bits.get(cell, 0) | _DOT[y % 4][x % 2]

    # -- names -------------------------------------------------------------------------------------

    def name(self, names: Iterable[Label]) -> tuple[PlacedLabel, ...]:
        """Write names beside points of the world, none over another, a space between two.

        Return those that found a place, boxes in cells.
        """
        here = [replace(name, x=x, y=y) for name in names for x, y in (self.cell(name.x, name.y),)]
        room = Box(-1, 0, self.columns + 2, self.rows)
        letters = TextMetrics(lambda text: (len(text) + 2, 1), (1.0, 1.0), snap=True)
        self._names += place_labels(here, room, letters, self._ink, [placed.box for placed in self._names])
        return self._names

    def _ink(self, box: Box) -> float:
        row, first, last = int(box.y), int(box.x) + 1, int(box.x + box.wide) - 1
        ranks = [self._inked[x, row][0] for x in range(first, last) if (x, row) in self._inked]
        # what stands weighs more than a beam that only passes
        return sum(1.0 if rank >= 2 else 0.3 for rank in ranks) / max(last - first, 1)

    def scale_bar(self, unit_m: float, text: str, tone: str) -> None:
        """Write a bar of so many metres in the bottom left corner, with what it measures; names keep clear of it."""
        wide = round(self.cells_per_m * unit_m)
        if wide >= 3 and wide + len(text) + 1 <= self.columns:
            left, middle, right = "|-|" if self.ascii else "├─┤"
            bar = f"{left}{middle * (wide - 2)}{right} {text}"
            self._names += (PlacedLabel(bar, Box(-1, self.rows - 1, len(bar) + 2, 1), tone),)

    # -- the result --------------------------------------------------------------------------------

    def runs(self) -> list[list[tuple[str, str]]]:
        """Return rows of texts, each with its tone; every row is as wide as the canvas."""
        grid = [[(" ", "")] * self.columns for _ in range(self.rows)]
        for (column, row), (_, tone, sign) in self._inked.items():
            grid[row][column] = (sign if self.ascii else chr(_BLANK + self._bits[column, row]), tone)
        for placed in self._names:
            for n, sign in enumerate(placed.text, int(placed.box.x) + 1):
                if 0 <= n < self.columns and 0 <= int(placed.box.y) < self.rows:
                    grid[int(placed.box.y)][n] = (sign, placed.tone)
        return [
            [("".join(sign for sign, _ in group), tone) for tone, group in groupby(row, key=lambda cell: cell[1])]
            for row in grid
        ]

    def text(self) -> list[str]:
        """Return the rows without their tones."""
        return ["".join(part for part, _ in row) for row in self.runs()]


def _slope_sign(dx: float, dy: float) -> str:
    """Return the sign for a line in cells, which are twice as high as wide: a slash leans 63 degrees."""
    if abs(dy) < 0.3 * abs(dx):  # nearer to the level than to a slash
        return "-"
    if abs(dy) > 2.1 * abs(dx):  # nearer to upright
        return "|"
    return "\\" if (dx > 0) == (dy > 0) else "/"


def dots_between(start: Point, end: Point) -> Iterator[tuple[int, int]]:
    """Yield the dots of a straight line without a gap, both ends included."""
    (x, y), dx, dy = start, end[0] - start[0], end[1] - start[1]
    steps = max(abs(round(end[0]) - round(x)), abs(round(end[1]) - round(y)))
    yield from ((round(x + dx * n / (steps or 1)), round(y + dy * n / (steps or 1))) for n in range(steps + 1))
