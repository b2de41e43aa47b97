"""Where the names on a drawing go: near their things, on as little ink as can be, never on each
other. Knows no metres and no screen: boxes in whatever unit the drawing has, ``y`` down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from math import inf
from typing import Final, NamedTuple

INK_COSTS: Final = 4.0  # a box full of ink, in rings away from the thing
SHORT_COSTS: Final = 1.0  # what it costs to say less
_RINGS: Final = (1.0, 2.0, 3.5)
# right, left, below, above, then the corners; a name reads best straight beside its thing
_WAYS: Final = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))


class Box(NamedTuple):
    """A rectangle by its top left corner."""

    x: float
    y: float
    wide: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether two boxes share any of their inside."""
        return (
            self.x < other.x + other.wide
            and other.x < self.x + self.wide
            and self.y < other.y + other.high
            and other.y < self.y + self.high
        )

    def within(self, other: Box) -> bool:
        """Whether this box lies wholly in another."""
        return (
            self.x >= other.x
            and self.y >= other.y
            and self.x + self.wide <= other.x + other.wide
            and self.y + self.high <= other.y + other.high
        )


class LabelText(NamedTuple):
    """A text to be placed, longer forms first, at a point; low ranks are placed first."""

    texts: tuple[str, ...]
    x: float
    y: float
    rank: int
    tone: str = ""


class PlacedLabel(NamedTuple):
    """A text in its place."""

    text: str
    box: Box
    tone: str


class TextMetrics(NamedTuple):
    """The size of a text (a margin on each side included), and the step that rings grow by."""

    size: Callable[[str], tuple[float, float]]
    step: tuple[float, float]
    snap: bool = False


def place_labels(
    names: Iterable[LabelText], room: Box, letters: TextMetrics, ink: Callable[[Box], float], taken: Iterable[Box] = ()
) -> tuple[PlacedLabel, ...]:
    """Every name that finds a free place; the shorter form where the longer finds none.

    ``ink`` is how much of the drawing a box would cover, 0 to 1; ``taken`` boxes stay free.
    """
    used = list(taken)
    placed = []
    for name in sorted(names, key=lambda name: (name.rank, name.y, name.x)):
        best: tuple[float, str, Box] | None = None
        for n, text in enumerate(dict.fromkeys(name.texts)):
            found = _best(_boxes(name, text, letters), room, used, ink)
            if found is not None and (best is None or found[0] + n * SHORT_COSTS < best[0]):
                best = (found[0] + n * SHORT_COSTS, text, found[1])
        if best is not None:
            used.append(best[2])
            placed.append(PlacedLabel(best[1], best[2], name.tone))
    return tuple(placed)


def _best(
    boxes: Iterator[tuple[float, Box]], room: Box, used: list[Box], ink: Callable[[Box], float]
) -> tuple[float, Box] | None:
    """The cheapest free box and its cost; the cheap ones come first, so the search ends early."""
    least, best = inf, None
    for cost, box in boxes:
        if cost >= least:
            break
        if not box.within(room) or any(box.meets(other) for other in used):
            continue
        whole = cost + INK_COSTS * ink(box)
        if whole < least:
            least, best = whole, box
    return None if best is None else (least, best)


def _boxes(name: LabelText, text: str, letters: TextMetrics) -> Iterator[tuple[float, Box]]:
    """The places round a point, each with what it costs to be there."""
    wide, high = letters.size(text)
    for ring in _RINGS:
        for way, (right, down) in enumerate(_WAYS):
            x = name.x - wide / 2 + right * (wide / 2 + ring * letters.step[0])
            y = name.y - high / 2 + down * (high / 2 + ring * letters.step[1])
            if letters.snap:
                x, y = float(round(x)), float(round(y))
            yield ring - 1 + 0.05 * way, Box(x, y, wide, high)
