"""A canvas of a terminal's cells: lines in braille dots, or in plain signs, with names on top.

A cell is taken as twice as high as it is wide, so that a braille dot (2 x 4 to a cell) is square
and what is round stays round. Pure Python; knows nothing of what it draws.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Final, NamedTuple

from runbook.drawing.label_layout import Box, Label, PlacedLabel, TextMetrics, place_labels

# the bit of each dot in a braille sign, by row and column (Unicode block 2800)
_DOT: Final = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BLANK: Final = 0x2800


class Pen(NamedTuple):
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


class Window(NamedTuple):
    """The part of the world to be shown: left, top, right, bottom, ``y`` down."""

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
        wide_m = max(window.right - window.left, 1e-6)
        deep_m = max(window.bottom - window.top, 1e-6)
        # a canvas of one dot still has a scale
        across, down = max(self.dots_wide - 1, 0.5), max(self.dots_high - 1, 0.5)
        self.per_m = min(across / wide_m, down / (deep_m * tall))
        self.per_m_down = self.per_m * tall
        self._left = (window.left + window.right) / 2 - (self.dots_wide - 1) / 2 / self.per_m
        self._top = (window.top + window.bottom) / 2 - (self.dots_high - 1) / 2 / self.per_m_down
        self._bits: dict[tuple[int, int], int] = {}
        self._signs: dict[tuple[int, int], str] = {}
        self._tones: dict[tuple[int, int], tuple[int, str]] = {}
        self._names: tuple[PlacedLabel, ...] = ()

    @property
    def cells_per_m(self) -> float:
        """Columns to a metre."""
        return self.per_m if self.ascii else self.per_m / 2

    def dot(self, x: float, y: float) -> tuple[float, float]:
        """A point of the world in dots from the top left one."""
        return (x - self._left) * self.per_m, (y - self._top) * self.per_m_down

    def cell(self, x: float, y: float) -> tuple[float, float]:
        """A point of the world in cells from the top left corner."""
        across, down = self.dot(x, y)
        return (across + 0.5, down + 0.5) if self.ascii else (across / 2 + 0.25, down / 4 + 0.125)

    # -- lines -------------------------------------------------------------------------------------

    def line(self, points: Sequence[tuple[float, float]], pen: Pen, *, closed: bool = False) -> None:
        """A line through points of the world; what is outside the canvas is left out."""
        dots = [self.dot(*point) for point in points]
        run = 0  # a dash goes on round a corner
        for start, end in zip(dots, [*dots[1:], *(dots[:1] if closed else [])], strict=False):
            run = self._stroke(start, end, pen, run)

    def point(self, at: tuple[float, float], pen: Pen) -> None:
        """One dot at a point of the world, or the pen's sign."""
        x, y = self.dot(*at)
        self._mark(round(x), round(y), pen.sign or ".", pen)

    def _stroke(self, start: tuple[float, float], end: tuple[float, float], pen: Pen, run: int) -> int:
        clipped = clip(start, end, self.dots_wide - 1, self.dots_high - 1)
        if clipped is None:
            return run
        (x0, y0), (x1, y1) = clipped
        sign = pen.sign or _slope_sign(x1 - x0, y1 - y0)
        # a thick line grows across itself
        dx, dy = (0, 1) if abs(x1 - x0) >= abs(y1 - y0) else (1, 0)
        for x, y in bresenham(round(x0), round(y0), round(x1), round(y1)):
            if run % (pen.on + pen.off) < pen.on:
                self._mark(x, y, sign, pen)
                if pen.thick and not self.ascii:
                    self._mark(x + dx, y + dy, sign, pen)
            run += 1
        return run

    def _mark(self, x: int, y: int, sign: str, pen: Pen) -> None:
        if not (0 <= x < self.dots_wide and 0 <= y < self.dots_high):
            return
        cell = (x, y) if self.ascii else (x // 2, y // 4)
        before = self._tones.get(cell)
        if before is None or pen.rank >= before[0]:
            self._tones[cell] = (pen.rank, pen.tone)
            self._signs[cell] = sign
        if not self.ascii:
            self._bits[cell] = self._bits.get(cell, 0) | _DOT[y % 4][x % 2]

    # -- names -------------------------------------------------------------------------------------

    def name(self, names: Iterable[Label]) -> tuple[PlacedLabel, ...]:
        """Write names beside points of the world, none over another, a space between two.

        Returns those that found a place, boxes in cells.
        """
        here = [replace(name, x=x, y=y) for name in names for x, y in (self.cell(name.x, name.y),)]
        room = Box(-1, 0, self.columns + 2, self.rows)
        letters = TextMetrics(lambda text: (len(text) + 2, 1), (1.0, 1.0), snap=True)
        taken = [placed.box for placed in self._names]
        self._names += place_labels(here, room, letters, self._ink, taken)
        return self._names

    def _ink(self, box: Box) -> float:
        row, first, last = int(box.y), int(box.x) + 1, int(box.x + box.wide) - 1
        ranks = [self._tones[x, row][0] for x in range(first, last) if (x, row) in self._tones]
        # what stands weighs more than a beam that only passes
        return sum(1.0 if rank >= 2 else 0.3 for rank in ranks) / max(last - first, 1)

    def write(self, column: int, row: int, text: str, tone: str) -> None:
        """Write a text at a cell, whatever is there; names keep clear of it."""
        box = Box(column - 1, row, len(text) + 2, 1)
        self._names += (PlacedLabel(text, box, tone),)

    def scale_bar(self, unit_m: float, said: str, tone: str) -> None:
        """A bar of so many metres in the bottom left corner, with what it measures."""
        wide = round(self.cells_per_m * unit_m)
        if wide < 3 or wide + len(said) + 1 > self.columns:
            return
        bar = f"|{'-' * (wide - 2)}|" if self.ascii else f"├{'─' * (wide - 2)}┤"
        self.write(0, self.rows - 1, f"{bar} {said}", tone)

    # -- the result --------------------------------------------------------------------------------

    def runs(self) -> list[list[tuple[str, str]]]:
        """Rows of texts, each with its tone; every row is as wide as the canvas."""
        signs, tones = self._signs, self._tones
        grid = [[(" ", "")] * self.columns for _ in range(self.rows)]
        for (column, row), (_, tone) in tones.items():
            sign = signs[column, row] if self.ascii else chr(_BLANK + self._bits[column, row])
            grid[row][column] = (sign, tone)
        for placed in self._names:
            row = int(placed.box.y)
            for n, sign in enumerate(placed.text, int(placed.box.x) + 1):
                if 0 <= n < self.columns and 0 <= row < self.rows:
                    grid[row][n] = (sign, placed.tone)
        return [
            [("".join(sign for sign, _ in group), tone) for tone, group in groupby(row, key=lambda cell: cell[1])]
            for row in grid
        ]

    def text(self) -> list[str]:
        """The rows without their tones."""
        return ["".join(part for part, _ in row) for row in self.runs()]


def _slope_sign(dx: float, dy: float) -> str:
    """The sign for a line in cells, which are twice as high as wide: a slash leans 63 degrees."""
    if abs(dy) < 0.3 * abs(dx):  # nearer to the level than to a slash
        return "-"
    if abs(dy) > 2.1 * abs(dx):  # nearer to upright
        return "|"
    return "\\" if (dx > 0) == (dy > 0) else "/"


def bresenham(x0: int, y0: int, x1: int, y1: int) -> Iterator[tuple[int, int]]:
    """The dots from one to another, both ends included (Bresenham 1965)."""
    dx, dy = abs(x1 - x0), -abs(y1 - y0)
    sx, sy = (1 if x1 > x0 else -1), (1 if y1 > y0 else -1)
    error = dx + dy
    while True:
        yield x0, y0
        if x0 == x1 and y0 == y1:
            return
        twice = 2 * error
        if twice >= dy:
            error += dy
            x0 += sx
        if twice <= dx:
            error += dx
            y0 += sy


def clip(
    start: tuple[float, float], end: tuple[float, float], right: float, bottom: float
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The part of a line inside ``0..right`` by ``0..bottom`` (Liang and Barsky 1984), or None."""
    (x0, y0), dx, dy = start, end[0] - start[0], end[1] - start[1]
    enters, leaves = 0.0, 1.0
    for along, room in ((-dx, x0), (dx, right - x0), (-dy, y0), (dy, bottom - y0)):
        if along == 0:
            if room < 0:
                return None
        elif along < 0:
            enters = max(enters, room / along)
        else:
            leaves = min(leaves, room / along)
    if enters > leaves:
        return None
    return (x0 + enters * dx, y0 + enters * dy), (x0 + leaves * dx, y0 + leaves * dy)
