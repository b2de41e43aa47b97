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

Array = NDArray[np.floating[Any]]
Places = NDArray[np.intp]  # in a list

_CLEAR, _MIXED, _BLOCKED = 0, 1, 2
# of an additive recurrence that fills four dimensions evenly: powers of the root of x^5 = x + 1
_STEPS: Final = 1.1673039782614187 ** -np.arange(1.0, 5.0)
_LINES_TO_A_POINT: Final = 2048
_LEAST_M: Final = 1e-6  # places are told apart as finely as seven digits do
_NOWHERE: Final[Array] = np.zeros((2, 1, 1), np.float32)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Flat rectangles: their middles, and the ways from there to the middles of two sides.

    Each is a row of x, one of y and one of z.
    """

    middles: Array
    across: Array
    up: Array

    def seen_from(self, middle: Array, frame: Array) -> Pieces:
        """Return the same pieces by the axes of a surface, from its middle; the rows of a frame are its axes."""
        ways = self.middles - middle[:, None], self.across, self.up
        return Pieces(*((frame @ way).astype(np.float32) for way in ways))

    @property
    def box(self) -> Array:
        """The least and the most that each reaches along the axes."""
        reach = np.abs(self.across) + np.abs(self.up)
        return np.stack((self.middles - reach, self.middles + reach))

    def at(self, axis: int, only: Places, lines: Sequence[Array]) -> Array:
        """Return where points of some pieces are along an axis, given by numbers from -1 to 1, those across and up."""
        start, across, up = (each[axis, only][:, None] for each in (self.middles, self.across, self.up))
        at: Array = across * lines[0]
        at += up * lines[1]
        at += start
        return at


def joined(*parts: Pieces) -> Pieces:
    """Return all the pieces of several as one."""
    middles, across, up = (
        np.concatenate([getattr(part, side) for part in parts], axis=1) for side in ("middles", "across", "up")
    )
    return Pieces(middles, across, up)


def piece(on: Plane, width_m: float, height_m: float) -> Pieces:
    """Return a flat rectangle as one piece."""
    middle, across, up = (np.array(each)[:, None] for each in (on.middle, on.across, on.up))
    return Pieces(middle, across * width_m / 2, up * height_m / 2)


def points(*at: Point) -> Pieces:
    """Return points as pieces."""
    nothing = np.zeros((3, len(at)))
    return Pieces(np.array(at).T, nothing, nothing)


def front_of(beam: Beam) -> Pieces:
    """Return the front of a head; of a bare one a point."""
    source = beam.source
    if source.shape == "bare" or not source.width_m:
        return points(beam.origin)
    height = source.width_m if source.shape == "round" else source.height_m
    return piece(plane(beam.origin, beam.axis), source.width_m, height)


@lru_cache(maxsize=64)
def evenly(count: int) -> Array:
    """Return points that fill four dimensions evenly, each from 0 to 1; a row a dimension."""
    return np.asarray((0.5 + np.arange(1, count + 1) * _STEPS[:, None]) % 1, np.float32)


def on_fronts(lines: Array) -> Array:
    """Return where lines start on a rectangular and on a round front, across and up: from -1 to 1.

    They are given by two rows of numbers between 0 and 1.
    """
    out, turn = np.sqrt(lines[0]), 2 * pi * lines[1]
    return np.stack((2 * lines - 1, np.stack((out * np.cos(turn), out * np.sin(turn)))))


def mirrored(lines: Array, signs: Any) -> Array:
    """Return lines with the numbers across mirrored where a sign is minus: a mirrored set is lit alike."""
    return np.stack((lines[..., 0, :, :] * signs, lines[..., 1, :, :]), axis=-3)


def front_kind(source: Source) -> int:
    """Return which of ``on_fronts`` is that of a source."""
    return int(source.shape == "round")


@lru_cache(maxsize=1)
def _on_fronts_to_a_point() -> Array:
    half = on_fronts(evenly(_LINES_TO_A_POINT // 2)[:2, None])
    return np.concatenate((half, mirrored(half, -1)), axis=-1)


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines from each of some starts to each of some ends.

    ``starts_at`` says, across and up, by kind of start, end and line where on its piece a line starts, ``ends_at`` by
    end and line where it ends; a single row serves for all ends. ``kinds`` are those of the starts, ``own`` is the
    surface that each end is part of.
    """

    starts: Pieces
    ends: Pieces
    kinds: Places
    starts_at: Array
    ends_at: Array
    own: Places

    @classmethod
    def to_points(cls, starts: Pieces, starts_at: Array, places: Array, kinds: Sequence[int] = (0,)) -> Lines:
        """Return the lines to some points, a row of x, one of y and one of z, that are on none of the surfaces."""
        nothing = np.zeros_like(places)
        ends, none = Pieces(places, nothing, nothing), np.full(places.shape[1], -1)
        return cls(starts, ends, np.array(kinds), starts_at, _NOWHERE, none)


class Shade:
    """The surfaces of a set, as what may stand in the way of a line."""

    def __init__(self, surfaces: Sequence[Surface]) -> None:
        self.surfaces = surfaces

    def seen_shares(self, beams: Sequence[Beam], *ends: Point) -> Array:
        """Return the share of the light of each head's front that reaches each point."""
        if not (self.surfaces and beams):
            return np.ones((len(beams), len(ends)))
        fronts, kinds = joined(*map(front_of, beams)), [front_kind(beam.source) for beam in beams]
        lines = Lines.to_points(fronts, _on_fronts_to_a_point(), np.array(ends).T, kinds)
        shares: Array = self.shares(lines, self.exempt(beams)).mean(axis=2)
        return shares

    def exempt(self, beams: Sequence[Beam]) -> NDArray[np.bool_]:
        """Return which surfaces do nothing to which beams: a row a beam."""
        return np.array([[surface.of in beam.by_hand for surface in self.surfaces] for beam in beams], dtype=bool)

    def shares(self, lines: Lines, exempt: NDArray[np.bool_], needed: Any = True) -> Array:
        """Return the share of light that all surfaces let through, by start, end and line; only where it is ``needed``.

        A surface that is ``exempt`` for a start does not count for it.
        """
        share: Array = np.ones(
            (lines.starts.middles.shape[1], lines.ends.middles.shape[1], lines.starts_at.shape[-1]), np.float32
        )
        by_pair = share.reshape(-1, share.shape[2])
        for s, surface in enumerate(self.surfaces):
            on, half = surface.plane, (surface.width_m / 2, surface.height_m / 2)
            middle, frame = np.array(on.middle), np.array((on.across, on.up, on.normal))
            starts, ends = (each.seen_from(middle, frame) for each in (lines.starts, lines.ends))
            start, end = np.nonzero(~exempt[:, s, None] & (lines.own != s) & needed)
            states, pair = _crossing(starts.box[..., start], ends.box[..., end], half), start * share.shape[1] + end
            by_pair[pair[states == _BLOCKED]] *= np.float32(surface.passes)
            mixed = np.flatnonzero(states == _MIXED)
            if len(mixed):
                hits = _hits(starts, ends, (start[mixed], end[mixed]), lines, half)
                by_pair[pair[mixed]] *= np.where(hits, np.float32(surface.passes), np.float32(1))
        return share


def _crossing(start: Array, end: Array, half: tuple[float, float]) -> NDArray[np.int8]:
    """Return whether the lines between two boxes miss a rectangle round the origin, hit it, or may do either."""
    low, high = np.minimum(start[0], end[0]), np.maximum(start[1], end[1])
    maybe = (low[2] < -_LEAST_M) & (high[2] > _LEAST_M)
    for axis in (0, 1):
        maybe &= (low[axis] < half[axis]) & (high[axis] > -half[axis])
    states: NDArray[np.int8] = maybe.astype(np.int8)  # clear, or mixed
    start, end = start[..., maybe], end[..., maybe]
    deep, other = start[:, 2], end[:, 2]
    crossed = ((deep[0] > 0) & (other[1] < 0)) | ((deep[1] < 0) & (other[0] > 0))
    # how far along its way a line is at the plane: from the least to the most, where all lines cross it
    with np.errstate(divide="ignore", invalid="ignore"):
        near, far = np.where(crossed, deep / (deep - other), np.array([[0.0], [1.0]]))
    inside, beside = crossed, np.zeros_like(crossed)
    for axis in (0, 1):
        low, high = start[0, axis], start[1, axis]
        to_low, to_high = end[0, axis] - low, end[1, axis] - high
        least, most = low + np.minimum(near * to_low, far * to_low), high + np.maximum(near * to_high, far * to_high)
        beside |= (least >= half[axis]) | (most <= -half[axis])
        inside &= (least > -half[axis]) & (most < half[axis])
    states[maybe] = np.where(beside, _CLEAR, np.where(inside, _BLOCKED, _MIXED))
    return states


def _hits(
    starts: Pieces, ends: Pieces, pairs: tuple[Places, Places], lines: Lines, half: tuple[float, float]
) -> NDArray[np.bool_]:
    """Return which lines between pairs of pieces cross a rectangle, in whose frame they are given."""
    start, end = pairs
    starts_at, ends_at = lines.starts_at, lines.ends_at
    kinds, one_row = lines.kinds[start], np.zeros_like(end)
    from_at = [starts_at[kinds, axis, end if starts_at.shape[2] > 1 else one_row] for axis in (0, 1)]
    to_at = [each[end if len(each) > 1 else one_row] for each in ends_at]
    deep, other = starts.at(2, start, from_at), ends.at(2, end, to_at)
    with np.errstate(divide="ignore", invalid="ignore"):
        gone = deep / (deep - other)
        hits = (gone > 0) & (gone < 1)
        for axis in (0, 1):
            one = starts.at(axis, start, from_at)
            across = ends.at(axis, end, to_at) - one
            across *= gone
            across += one
            hits &= np.abs(across) < half[axis]
    return np.asarray(hits)
