"""Where the labels of a drawing go: near their things, on as little ink as possible, never overlapping.

Knows no metres and no screen: boxes in whatever unit the drawing has, ``y`` down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import inf
from typing import Final

INK_COST: Final = 4.0  # of a box full of ink, in rings away from the thing
SHORT_COST: Final = 1.0  # of a shorter text
_RINGS: Final = (1.0, 2.0, 3.5)
# right, left, below, above, then the corners: a label reads best straight beside its thing
_DIRECTIONS: Final = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its top left corner."""

    x: float
    y: float
    wide: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether two boxes overlap."""
        overlap_x = self.x < other.x + other.wide and other.x < self.x + self.wide
        return overlap_x and self.y < other.y + other.high and other.y < self.y + self.high

    def within(self, other: Box) -> bool:
        """Whether this box lies entirely in another."""
        in_x = other.x <= self.x and self.x + self.wide <= other.x + other.wide
        return in_x and other.y <= self.y and self.y + self.high <= other.y + other.high


@dataclass(frozen=True, slots=True)
class Label:
    """A text to be placed, longer forms first, at a point; low ranks are placed first."""

    texts: tuple[str, ...]
    x: float
    y: float
    rank: int
    tone: str = ""


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A text in its place."""

    text: str
    box: Box
    tone: str


@dataclass(frozen=True, slots=True)
class TextMetrics:
    """The size of a text (with its margins), and the step by which rings grow."""

    size: Callable[[str], tuple[float, float]]
    step: tuple[float, float]
    snap: bool = False


def place_labels(
    labels: Iterable[Label], room: Box, metrics: TextMetrics, ink: Callable[[Box], float], taken: Iterable[Box] = ()
) -> tuple[PlacedLabel, ...]:
    """Place every label that finds a free place, shorter where the longer form finds none.

    ``ink`` is the share of a box that the drawing covers, 0 to 1; ``taken`` boxes stay free.
    """
    used = list(taken)
    placed = []
    for label in sorted(labels, key=lambda label: (label.rank, label.y, label.x)):
        best: tuple[float, str, Box] | None = None
        for n, text in enumerate(dict.fromkeys(label.texts)):
            cost, box = _cheapest(_candidates(label, text, metrics), room, used, ink)
            if box is not None and (best is None or cost + n * SHORT_COST < best[0]):
                best = (cost + n * SHORT_COST, text, box)
        if best is not None:
            used.append(best[2])
            placed.append(PlacedLabel(best[1], best[2], label.tone))
    return tuple(placed)


def _cheapest(
    candidates: Iterator[tuple[float, Box]], room: Box, used: list[Box], ink: Callable[[Box], float]
) -> tuple[float, Box | None]:
    """The cheapest free box and its cost; candidates come cheapest first, so the search ends early."""
    least, best = inf, None
    for cost, box in candidates:
        if cost >= least:
            break
        if box.within(room) and not any(box.meets(other) for other in used):
            total = cost + INK_COST * ink(box)
            if total < least:
                least, best = total, box
    return least, best


def _candidates(label: Label, text: str, metrics: TextMetrics) -> Iterator[tuple[float, Box]]:
    """The places round a point, each with its cost, cheapest first."""
    wide, high = metrics.size(text)
    for ring in _RINGS:
        for n, (right, down) in enumerate(_DIRECTIONS):
            x = label.x - wide / 2 + right * (wide / 2 + ring * metrics.step[0])
            y = label.y - high / 2 + down * (high / 2 + ring * metrics.step[1])
            if metrics.snap:
                x, y = float(round(x)), float(round(y))
            yield ring - 1 + 0.05 * n, Box(x, y, wide, high)
