"""Where the labels of a drawing go: near their things, on as little ink as possible, never overlapping.

Knows no metres and no screen: boxes in whatever unit the drawing has, ``y`` down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import product
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
    """A text to be placed, longer forms first, at a point; low ranks are placed first. ``item`` is what it names."""

    texts: tuple[str, ...]
    x: float
    y: float
    rank: int
    tone: str = ""
    item: str = ""


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
        least, best = inf, None
        # cheapest first, so the search ends early
        for cost, text, box in sorted(_candidates(label, metrics), key=lambda candidate: candidate[0]):
            if cost >= least:
                break
            if box.within(room) and not any(box.meets(other) for other in used):
                total = cost + INK_COST * ink(box)
                if total < least:
                    least, best = total, PlacedLabel(text, box, label.tone)
        if best is not None:
            used.append(best.box)
            placed.append(best)
    return tuple(placed)


def _candidates(label: Label, metrics: TextMetrics) -> Iterator[tuple[float, str, Box]]:
    """Yield the places round a point for each form of a text, each with its cost."""
    for (shorter, text), ring in product(enumerate(dict.fromkeys(label.texts)), _RINGS):
        wide, high = metrics.size(text)
        for n, (right, down) in enumerate(_DIRECTIONS):
            x = label.x - wide / 2 + right * (wide / 2 + ring * metrics.step[0])
            y = label.y - high / 2 + down * (high / 2 + ring * metrics.step[1])
            if metrics.snap:
                x, y = float(round(x)), float(round(y))
            yield shorter * SHORT_COST + ring - 1 + 0.05 * n, text, Box(x, y, wide, high)
