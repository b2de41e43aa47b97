"""What the flat things of a set do to its light: each shades what is behind it, and sends some on, one bounce.

All of them are one list of rectangles: wings of panels, flags, cut-outs. Each patch of one is lit by each head as
the face would be, times the cosine of incidence and the share of the head's front that it sees, and sends
``ρ·E·cos(patch)·dA / (π·r²)`` on: Lambert's matt surface, Siegel and Howell, *Thermal Radiation Heat Transfer*, from
memory. The patches are the nodes of Gauss's rule, 12 x 12 at least; a cell that is too large for what falls on it,
or for a point near it, is halved. Shade is tried along lines, each from its own point of the front to its own point
of the patch.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import pi, radians, tan
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runbook.light.beam import Beam
from runbook.light.scene import Plane, Surface
from runbook.light.shade import Between, Pieces, Shade, evenly, front_of, on_front, piece, point_at
from runbook.light.stops import DARK
from runbook.model.geometry import Point

Array = NDArray[np.float64]

_CELLS: Final = 3  # to a side, of 4 x 4 nodes each: 12 x 12 patches
_NODES: Final = 4
_LEAST_M: Final = 0.01  # nothing in a studio needs finer cells than its own thickness
_EDGE_M: Final = 0.03
_SHARP: Final = 1.0  # a smaller exponent ends a beam so sharply at 90 degrees that it shows
_NARROW_DEG: Final = 100.0  # wider beams change no faster over a surface than the distance does
_LINES: Final = 32  # from a front to a patch that sees part of it


@dataclass(frozen=True, slots=True)
class Meter:
    """A point where light is read, turned to each source and patch, or flat with this ``normal``."""

    at: Point
    normal: Point | None = None


@dataclass(frozen=True, slots=True)
class Patches:
    """Points of a surface, a row of x, y and z each, and the area that each stands for.

    ``spots`` are those areas: the middle across and up of each on its surface, and half its sides.
    """

    points: Array
    areas: Array
    spots: Array

    def pieces(self, on: Plane) -> Pieces:
        """Return the areas as pieces."""
        frame: Array = np.array((on.across, on.up))
        sides = (self.spots[:, axis + 2, None] * frame[axis] for axis in (0, 1))
        return Pieces(_in_room(on, self.spots[:, :2]), *sides)


# -- what arrives at a meter -----------------------------------------------------------------------


def light_at(beams: Sequence[Beam], surfaces: Sequence[Surface], *meters: Meter) -> Array:
    """Return the light at some meters, as squared f-numbers: by meter and beam; straight, then off each surface."""
    shade = Shade(surfaces)
    light = np.zeros((len(meters), len(beams), 1 + len(surfaces)))
    for m, meter in enumerate(meters):
        for row, beam in enumerate(beams):
            if (stops := beam.reading(meter.at)) != DARK:
                met = 2.0**stops * _met(meter, np.array([beam.origin]))[0]
                light[m, row, 0] = met * shade.seen_share(beam, meter.at) if met else 0.0
    for n, surface in enumerate(surfaces):
        reached = [m for m, meter in enumerate(meters) if surface.plane.local(meter.at).z > 0]
        if surface.reflectance > 0 and reached:
            light[reached, :, 1 + n] = _off(n, shade, beams, [meters[m] for m in reached])
    return light


def _met(meter: Meter, sources: Array) -> Array:
    """Return the cosines with which a meter meets some sources."""
    if meter.normal is None:
        return np.ones(len(sources))
    ways, _ = _ways(sources, meter.at)
    return np.asarray(np.clip(-ways @ np.array(meter.normal), 0.0, None))


def _off(n: int, shade: Shade, beams: Sequence[Beam], meters: Sequence[Meter]) -> Array:
    """Return what a surface sends of each beam to each meter."""
    surface = shade.surfaces[n]
    patches = cut(surface, [meter.at for meter in meters], beams)
    lines, mirror = _lines(patches)
    whole = piece(surface.plane, surface.width_m, surface.height_m)
    pieces, ends_at = patches.pieces(surface.plane), (2 * lines[..., 2:] - 1) * mirror
    sent = [surface.reflectance * shares_to(surface, patches, m.at) * _met(m, patches.points) for m in meters]
    onward = []
    for meter in meters:
        ways = shade.in_the_way(whole, point_at(meter.at), n)
        onward.append(shade.share(ways, Between(pieces, point_at(meter.at), ends_at, np.zeros((1, 1, 2)))))
    off = np.zeros((len(meters), len(beams)))
    for row, received in enumerate(_received(n, shade, beams, patches)):
        for m, to_meter in enumerate(onward):
            off[m, row] = np.mean(received * to_meter, axis=1) @ sent[m]
    return off


def light_leaving(n: int, shade: Shade, beams: Sequence[Beam], point: Point) -> tuple[Patches, Array]:
    """Return a surface cut finely enough for a point, and the light that leaves each patch, of all beams."""
    patches = cut(shade.surfaces[n], [point], beams)
    falls = sum(received.mean(axis=1) for received in _received(n, shade, beams, patches))
    return patches, shade.surfaces[n].reflectance * (np.zeros(len(patches.areas)) + falls)


def _received(n: int, shade: Shade, beams: Sequence[Beam], patches: Patches) -> Iterator[Array]:
    """Yield what each beam gives a surface, by patch and line of ``_lines``, or one value for all lines."""
    surface, (lines, mirror) = shade.surfaces[n], _lines(patches)
    whole, pieces = piece(surface.plane, surface.width_m, surface.height_m), patches.pieces(surface.plane)
    for beam in beams:
        falls, front, seen = light_on(surface, patches, beam), front_of(beam), np.ones((1, 1))
        if falls.any() and (ways := shade.in_the_way(front, whole, n)):
            lit = Between(
                front, pieces, on_front(beam.source, lines[..., :2]) * mirror, (2 * lines[..., 2:] - 1) * mirror
            )
            seen = shade.share(ways, lit, falls > 0)
        yield falls[:, None] * seen


def _lines(patches: Patches) -> tuple[Array, Array]:
    """Return numbers between 0 and 1 for the lines to each patch, and by what to turn them on its side of its surface.

    Patches on either side of the middle have the same lines mirrored: a set and its mirror image are lit alike.
    """
    across, up = patches.spots[:, 0], patches.spots[:, 1]
    _, places = np.unique(np.column_stack((np.abs(across), up)).round(7), axis=0, return_inverse=True)
    lines = evenly((int(places.max()) + 1) * _LINES).reshape(-1, _LINES, 4)[places.ravel()]
    sides = np.where(across < 0, -1.0, 1.0)
    return lines, np.column_stack((sides, np.ones_like(sides)))[:, None]


def light_on(surface: Surface, patches: Patches, beam: Beam) -> Array:
    """Return what each patch receives from a head with nothing in the way, as the square of an f-number."""
    way, far = _ways(patches.points, beam.origin)
    incidence = np.clip(way @ np.array(surface.plane.normal), 0.0, None)
    light: Array = 2.0**beam.stops * incidence * beam.source.share(far, np.arctan)
    if beam.exponent is not None:
        cosine = -(way @ np.array(beam.axis))
        light *= np.where(cosine > 0, np.abs(cosine) ** beam.exponent, 0.0)
    return light


def shares_to(surface: Surface, patches: Patches, point: Point) -> Array:
    """Return the share of each patch's light that reaches a point, the meter there turned to the patch."""
    way, far = _ways(patches.points, point)
    shares: Array = np.clip(way @ np.array(surface.plane.normal), 0.0, None) * patches.areas / (pi * far**2)
    return shares


def _ways(starts: Array, end: Point) -> tuple[Array, Array]:
    """Return the unit vectors from some points to another, and the distances."""
    way = np.array(end) - starts
    far: Array = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    return way / far[:, None], far


# -- patches ---------------------------------------------------------------------------------------


def cut(surface: Surface, meters: Sequence[Point], beams: Iterable[Beam]) -> Patches:
    """Cut a surface into patches fine enough for some meters and for every beam that lights its front."""
    lit = [beam for beam in beams if beam.stops != DARK and surface.plane.local(beam.origin).z > 0]
    size = np.array((surface.width_m, surface.height_m)) / (2 * _CELLS)
    steps = range(1 - _CELLS, _CELLS, 2)
    # a row is a cell: its middle across and up, and its half sides
    cells: Array = np.array([(across * size[0], up * size[1], *size) for across in steps for up in steps])
    fine: list[Array] = []
    while len(cells):
        reach = np.hypot(cells[:, 2], cells[:, 3])
        coarse = reach > np.maximum(_most_reach(_in_room(surface.plane, cells[:, :2]), reach, meters, lit), _LEAST_M)
        fine.append(cells[~coarse])
        cells = _halves(cells[coarse])
    return _gauss_points(surface.plane, np.concatenate(fine))


def _most_reach(middles: Array, reach: Array, meters: Sequence[Point], beams: Iterable[Beam]) -> Array:
    """Return how far a cell with this middle may reach: half the way to every meter and head.

    And no farther than a narrow beam is wide there, or than its way from it; where a wide beam's
    sharp end runs through, 90 degrees off its axis, no farther than its way from that.
    """
    most = np.min([np.linalg.norm(middles - np.array(meter), axis=1) for meter in meters], axis=0) / 2
    for beam in beams:
        way = middles - np.array(beam.origin)
        far = np.linalg.norm(way, axis=1)
        most = np.minimum(most, far / 2)
        along = way @ np.array(beam.axis)
        if beam.exponent is not None and beam.spread_deg < _NARROW_DEG:
            wide = np.maximum(along + reach, 0.0) * tan(radians(beam.spread_deg / 2))
            beside = np.sqrt(np.maximum(far**2 - along**2, 0.0))
            most = np.minimum(most, np.maximum(wide, beside - reach - wide))
        elif beam.exponent is not None and beam.exponent < _SHARP:
            most = np.minimum(most, np.maximum(np.abs(along), _EDGE_M))
    return np.asarray(most)


def _halves(cells: Array) -> Array:
    """Return both halves of each cell, cut across its longer side."""
    across = cells[:, 2] >= cells[:, 3]
    step = cells[:, 2:] / 2 * np.column_stack((across, ~across))
    return np.concatenate([np.hstack((cells[:, :2] + side * step, cells[:, 2:] - step)) for side in (-1, 1)])


def _gauss_points(plane: Plane, cells: Array) -> Patches:
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    middles = np.cumsum(weights) - weights / 2 - 1  # each node stands for as much of its cell as it weighs

    def pairs(values: Array) -> Array:
        return np.stack(np.meshgrid(values, values, indexing="ij"), axis=-1).reshape(1, -1, 2)

    of_cell, halves = cells[:, None, :2], cells[:, None, 2:]
    points = (of_cell + pairs(nodes) * halves).reshape(-1, 2)
    spots = np.concatenate((of_cell + pairs(middles) * halves, pairs(weights) * halves / 2), axis=-1).reshape(-1, 4)
    return Patches(_in_room(plane, points), 4 * np.prod(spots[:, 2:], axis=1), spots)


def _in_room(plane: Plane, points: Any) -> Array:
    """Return points of a plane, metres across and up, as points of the room."""
    return np.asarray(np.array(plane.middle) + points @ np.array((plane.across, plane.up)))
