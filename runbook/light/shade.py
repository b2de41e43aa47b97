"""What flat things keep from each other: the share of straight lines between two of them that others let through.

Everything is a flat piece: the front of a head, a patch of a surface, a point. Where the lines between two pieces
cross a third's plane is boxed in; only where that box is partly on it are lines tried one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runbook.light.beam import Beam, Source
from runbook.light.scene import Plane, Surface, plane
from runbook.model.geometry import Point

Array = NDArray[np.float64]
Places = NDArray[np.intp]  # in a list

_CLEAR, _MIXED, _BLOCKED = 0, 1, 2
# of an additive recurrence that fills four dimensions evenly: powers of the root of x^5 = x + 1
_STEPS: Final = 1.1673039782614187 ** -np.arange(1.0, 5.0)
_LINES_TO_A_POINT: Final = 4096
_LEAST_M: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Pieces:
    """Flat rectangles: their middles, a row of x, y and z each, and the ways from there to the middles of two sides."""

    middles: Array
    across: Array
    up: Array

    def at(self, lines: Array, only: Places, middle: Array, frame: Array) -> tuple[Array, Array, Array]:
        """Return a point for each pair of numbers from -1 to 1, by axis of a frame; ``only`` some of the pieces.

        A single piece, or a single row of lines, serves for all.
        """
        if len(lines) > 1:
            lines = lines[only]
        pieces = (each[only] if len(each) > 1 else each for each in (self.middles - middle, self.across, self.up))
        start, across, up = ((each @ frame).T[..., None] for each in pieces)
        x, y, z = (start[n] + across[n] * lines[..., 0] + up[n] * lines[..., 1] for n in range(3))
        return x, y, z


def piece(on: Plane, width_m: float, height_m: float) -> Pieces:
    """Return a flat rectangle as one piece."""
    across, up = np.array([on.across]) * width_m / 2, np.array([on.up]) * height_m / 2
    return Pieces(np.array([on.middle]), across, up)


def front_of(beam: Beam) -> Pieces:
    """Return the front of a head; of a bare one a point."""
    width, height = _size(beam.source)
    return piece(plane(beam.origin, beam.axis), width, height)


def _size(source: Source) -> tuple[float, float]:
    if source.shape == "bare" or not source.width_m:
        return 0.0, 0.0
    return source.width_m, source.width_m if source.shape == "round" else source.height_m


def on_front(source: Source, lines: Array) -> Array:
    """Return where on a front lines start, from numbers between 0 and 1: from -1 to 1 across and up."""
    if source.shape != "round":
        return 2 * lines - 1
    out, turn = np.sqrt(lines[..., 0]), 2 * pi * lines[..., 1]
    return np.stack((out * np.cos(turn), out * np.sin(turn)), axis=-1)


@lru_cache(maxsize=64)
def evenly(count: int) -> Array:
    """Return points that fill four dimensions evenly, each from 0 to 1."""
    return np.asarray((0.5 + np.arange(1, count + 1)[:, None] * _STEPS) % 1)


@dataclass(frozen=True, slots=True)
class Between:
    """The lines from each piece to each, as many of one as of the other, or all from or to a single one.

    ``starts_at`` and ``ends_at`` say where on its pieces a line starts and ends: by piece and line.
    """

    starts: Pieces
    ends: Pieces
    starts_at: Array
    ends_at: Array


class Shade:
    """The surfaces of a set, as what may stand in the way of a line."""

    def __init__(self, surfaces: Sequence[Surface]) -> None:
        self.surfaces = surfaces
        self._frames: Array = np.array([(s.plane.across, s.plane.up, s.plane.normal) for s in surfaces]).reshape(
            -1, 3, 3
        )
        self._middles: Array = np.array([s.plane.middle for s in surfaces]).reshape(-1, 3)
        self._halves: Array = np.array([(s.width_m / 2, s.height_m / 2) for s in surfaces]).reshape(-1, 2)

    def seen_share(self, beam: Beam, point: Point) -> float:
        """Return the share of the light of a head's front that reaches a point."""
        front = front_of(beam)
        if not (ways := self.in_the_way(front, point_at(point))):
            return 1.0
        half = on_front(beam.source, evenly(_LINES_TO_A_POINT // 2)[None, :, :2])
        lines = np.concatenate((half, half * (-1.0, 1.0)), axis=1)  # mirrored: a mirrored set is lit alike
        return float(self.share(ways, Between(front, point_at(point), lines, np.zeros((1, 1, 2)))).mean())

    def in_the_way(self, start: Pieces, end: Pieces, *but: int) -> list[int]:
        """Return the surfaces, but for some, that may stand between two pieces."""
        if not self.surfaces:
            return []
        frames = np.swapaxes(self._frames, 1, 2)
        from_box, to_box = (_box(each, self._middles[:, None], frames) for each in (start, end))
        states = _crossing(from_box, to_box, self._halves[:, None])[:, 0]
        return [n for n in np.flatnonzero(states).tolist() if n not in but]

    def share(self, surfaces: Sequence[int], lines: Between, needed: Any = True) -> Array:
        """Return the share of light that some surfaces let through, by piece and line; only where it is ``needed``."""
        count = max(len(lines.starts.middles), len(lines.ends.middles))
        share: Array = np.ones((count, max(lines.starts_at.shape[1], lines.ends_at.shape[1])))
        for n in surfaces:
            frame, passes = self._frames[n].T, self.surfaces[n].passes
            from_box, to_box = (_box(each, self._middles[n], frame) for each in (lines.starts, lines.ends))
            states = np.broadcast_to(_crossing(from_box, to_box, self._halves[n]), count)
            share[states == _BLOCKED] *= passes
            mixed = np.flatnonzero((states == _MIXED) & needed)
            if len(mixed):
                start = lines.starts.at(lines.starts_at, mixed, self._middles[n], frame)
                end = lines.ends.at(lines.ends_at, mixed, self._middles[n], frame)
                share[mixed] *= np.where(_hits(start, end, self._halves[n]), passes, 1.0)
        return share


def point_at(at: Point) -> Pieces:
    """Return a point as a piece."""
    nothing = np.zeros((1, 3))
    return Pieces(np.array([at]), nothing, nothing)


def _box(pieces: Pieces, middle: Array, frame: Array) -> Array:
    """Return the least and the most that pieces reach along the axes of a surface, from its middle."""
    middles = (pieces.middles - middle) @ frame
    reach = np.abs(pieces.across @ frame) + np.abs(pieces.up @ frame)
    return np.stack((middles - reach, middles + reach))


def _crossing(start: Array, end: Array, half: Array) -> Places:
    """Return whether the lines between two boxes miss a rectangle round the origin, hit it, or may do either."""
    deep, other = start[..., 2], end[..., 2]
    front, behind = (deep[0] > 0) & (other[1] < 0), (deep[1] < 0) & (other[0] > 0)
    crossed = front | behind
    # how far along its way a line is at the plane: from the least to the most, where all lines cross it
    with np.errstate(divide="ignore", invalid="ignore"):
        gone = (deep / (deep - other))[:, None, ..., None]
    ways = start[..., :2] + np.where(
        crossed[..., None], gone, np.array((0.0, 1.0)).reshape(2, *[1] * (gone.ndim - 1))
    ) * (end[..., :2] - start[..., :2])
    least, most = ways[:, 0].min(axis=0), ways[:, 1].max(axis=0)
    beside = ((least >= half) | (most <= -half)).any(axis=-1)
    inside = crossed & ((least > -half) & (most < half)).all(axis=-1)
    same_side = (np.minimum(deep[0], other[0]) >= -_LEAST_M) | (np.maximum(deep[1], other[1]) <= _LEAST_M)
    return np.where(beside | same_side, _CLEAR, np.where(inside, _BLOCKED, _MIXED))


def _hits(start: Sequence[Array], end: Sequence[Array], half: Array) -> NDArray[np.bool_]:
    """Return which lines cross a rectangle, in its own frame; their ends by axis."""
    with np.errstate(divide="ignore", invalid="ignore"):
        gone = start[2] / (start[2] - end[2])
        hits = (gone > 0) & (gone < 1)
        for axis in (0, 1):
            hits &= np.abs(start[axis] + gone * (end[axis] - start[axis])) < half[axis]
    return np.asarray(hits)
