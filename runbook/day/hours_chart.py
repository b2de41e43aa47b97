"""The day as a chart: a bar of blocks for each row along a time axis, with the time it is and the wrap."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor
from typing import Final

from runbook.day.day_rows import Block, Kind, Row
from runbook.day.hours import Hours

# every kind is a letter or a block of its own, so that no colour is needed to tell them apart
SIGNS: Final = {
    "load-in": "l", "change": "▒", "wait": "w", "shoot": "█", "break": "b", "strike": "s", "pack": "p",
    "planned": "─", "now": "│", "wrap": "┊",
}  # fmt: skip
PLAIN: Final = SIGNS | {"change": "=", "shoot": "#", "planned": "-", "now": "|", "wrap": ":"}
_ORDER: Final[tuple[Kind, ...]] = ("change", "shoot", "wait", "break", "load-in", "strike", "pack")
_HOUR_S: Final = 3600.0
_GRID_S: Final = 900.0  # the axis begins and ends on a quarter of an hour


@dataclass(frozen=True, slots=True)
class Chart:
    """The bars of a day, ``width`` cells wide, from ``start_s`` on."""

    hours: Hours
    width: int
    start_s: float
    cell_s: float
    signs: Mapping[str, str]

    def cell(self, at_s: float) -> int:
        """Return the cell that a time falls in; it may be outside."""
        return floor((at_s - self.start_s) / self.cell_s)

    @property
    def axis(self) -> str:
        """The hours along the top, each above where it begins."""
        text, hour_s = "", -(-self.start_s // _HOUR_S) * _HOUR_S
        while (cell := self.cell(hour_s)) + 2 <= self.width:
            if not text or cell > len(text):
                text = text.ljust(cell) + self.hours.clock.short(hour_s)[:2]
            hour_s += _HOUR_S
        return text

    @property
    def legend(self) -> tuple[str, ...]:
        """What each sign means."""
        day = self.hours.day
        kinds = {block.kind for row in day.all for block in row.blocks}
        parts = [f"{self.signs[kind]} {kind}" for kind in _ORDER if kind in kinds]
        if self.hours.begun:
            parts += [f"{self.signs['planned']} as planned", f"{self.signs['now']} now"]
        return (*parts, f"{self.signs['wrap']} wrap {self.hours.clock.short(self.hours.wrap_s)}")

    def bar(self, row: Row, *, over_plan: bool = True) -> str:
        """Return the bar of a row as it goes; where it is not, but was planned, that shows ``over_plan``."""
        cells = self._marks()
        if over_plan and self.hours.begun and row.plan is not None:
            self._paint(cells, row.plan.blocks, self.signs["planned"])
        self._paint(cells, row.blocks)
        if row.state == "now":
            self._mark(cells, self.hours.now_s, "now")
        return "".join(cells)

    def plan_bar(self, row: Row) -> str:
        """Return the bar of a row as planned."""
        cells = self._marks()
        self._paint(cells, row.plan.blocks if row.plan else (), self.signs["planned"])
        return "".join(cells)

    def _marks(self) -> list[str]:
        cells = [" "] * self.width
        self._mark(cells, self.hours.wrap_s, "wrap")
        if self.hours.begun:
            self._mark(cells, self.hours.now_s, "now")
        return cells

    def _mark(self, cells: list[str], at_s: float, name: str) -> None:
        cell = min(self.cell(at_s), self.width - 1)
        if cell >= 0:
            cells[cell] = self.signs[name]

    def _paint(self, cells: list[str], blocks: Iterable[Block], sign: str = "") -> None:
        """Paint the cells of blocks, each at least one, or only work as ``sign``."""
        painted = 0
        for block in blocks:
            if sign and block.kind == "wait":
                continue
            first, last = (floor((at - self.start_s) / self.cell_s + 0.5) for at in (block.start_s, block.end_s))
            first = min(max(first, painted), self.width - 1)
            painted = min(max(last, first + 1), self.width)
            for n in range(first, painted):
                cells[n] = sign or self.signs[block.kind]


def chart_of(hours: Hours, width: int, signs: Mapping[str, str]) -> Chart:
    """Return the chart of a day, from its start to its wrap or its end, whichever is later."""
    start_s = hours.day.start_s // _GRID_S * _GRID_S
    end_s = -(-max(hours.wrap_s, hours.finish.p50, hours.day.end_s) // _GRID_S) * _GRID_S
    width = max(width, 1)
    return Chart(hours, width, start_s, max(end_s - start_s, _GRID_S) / width, signs)
