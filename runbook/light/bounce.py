"""What the flat things of a set do to its light: each shades what is behind it, and sends some on, one bounce.

All of them are one list of rectangles: wings of panels, flags, cut-outs. Each patch of one is lit by each head as
the face would be, times the cosine of incidence and the share of the head's front that it sees, and sends
``ρ·E·cos(patch)·dA / (π·r²)`` on: Lambert's matt surface, Siegel and Howell, *Thermal Radiation Heat Transfer*, from
memory. The patches are the nodes of Gauss's rule, 12 x 12 at least; a cell that is too large for what falls on it,
or for a point near it, is halved. Shade is tried along lines, each from its own point of the front to its own point
of the patch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import pi, radians, tan
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runbook.light.beam import Beam
from runbook.light.scene import Plane, Surface
from runbook.light.shade import Lines, Pieces, Shade, evenly, front_kind, front_of, joined, mirrored, on_fronts, points
from runbook.light.stops import DARK
from runbook.model.geometry import Point

Array = NDArray[np.floating[Any]]

_CELLS: Final = 3  # to a side, of 4 x 4 nodes each: 12 x 12 patches
_NODES: Final = 4
_AT, _WEIGHTS = np.polynomial.legendre.leggauss(_NODES)  # of Gauss's rule, from -1 to 1
_LEAST_M: Final = 0.01  # nothing in a studio needs finer cells than its own thickness
_EDGE_M: Final = 0.03
_SHARP: Final = 1.0  # a smaller exponent ends a beam so sharply at 90 degrees that it shows
_NARROW_DEG: Final = 100.0  # wider beams change no faster over a surface than the distance does
_TO_METER: Final = 0.5  # how far a cell may reach, in ways to the next meter
_TO_HEAD: Final = 0.75  # and to the next head, which is no point
_LINES: Final = 16  # from a front to a patch that sees part of it


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


def pieces(on: Plane, spots: Array) -> Pieces:
    """Return areas of a surface as pieces."""
    frame: Array = np.array((on.across, on.up))
    sides = (frame[axis][:, None] * spots[:, axis + 2] for axis in (0, 1))
    return Pieces(_in_room(on, spots[:, :2]).T, *sides)


# -- what arrives at a meter -----------------------------------------------------------------------


def light_at(beams: Sequence[Beam], surfaces: Sequence[Surface], *meters: Meter) -> Array:
    """Return the light at some meters, as squared f-numbers: by meter and beam; straight, then from each surface.

    A surface sends what it reflects to the side the light came from, and what it scatters to the other.
    """
    shade, places = Shade(surfaces), [meter.at for meter in meters]
    light = np.zeros((len(meters), len(beams), 1 + len(surfaces)))
    straight = np.array([[2.0 ** beam.reading(at) for beam in beams] for at in places])
    origins = np.array([beam.origin for beam in beams])
    straight *= np.array([_met(meter, origins) for meter in meters])
    light[:, :, 0] = straight * shade.seen_shares(beams, *places).T
    sends = np.array([[sent_share(surface, beam, at) for surface in surfaces] for at in places for beam in beams])
    sends = sends.reshape(len(meters), len(beams), len(surfaces))
    sending = np.flatnonzero(sends.any(axis=(0, 1))).tolist()
    if sending:
        sends = sends[:, :, sending]
        light[:, :, 1:][..., sending] = sends * _from(sending, sends > 0, shade, beams, meters)
    return light


def sent_share(surface: Surface, beam: Beam, to: Point) -> float:
    """Return the share of the light of a head that a surface sends to the side where a point is."""
    if beam.stops == DARK or surface.of in beam.by_hand:
        return 0.0
    if not surface.plane.on_one_side(beam.origin, to):
        return surface.scatters
    return surface.reflectance if surface.two_sided or surface.plane.local(to).z > 0 else 0.0


def _met(meter: Meter, sources: Array) -> Array:
    """Return the cosines with which a meter meets some sources."""
    if meter.normal is None:
        return np.ones(len(sources))
    ways, _ = _ways(sources, meter.at)
    return np.asarray(np.clip(-ways @ np.array(meter.normal), 0.0, None))


@dataclass(frozen=True, slots=True)
class _Lit:
    """The patches of some surfaces, one after the other, and the light of some beams on them.

    ``falls`` is by beam and patch with nothing in the way, ``seen`` the share of it that arrives, by beam, patch and
    line; ``sent`` is by meter and patch the share of the patch's light that would reach the meter, ``onward`` the share
    of that which does. ``first`` are the places of each surface's first patch.
    """

    patches: list[Patches]
    first: NDArray[np.intp]
    falls: Array
    seen: Array
    sent: Array
    onward: Array


def _from(
    sending: Sequence[int], sends: NDArray[np.bool_], shade: Shade, beams: Sequence[Beam], meters: Sequence[Meter]
) -> Array:
    """Return what would come of each beam to each meter from surfaces that send all of it on, where they send any."""
    lit = _lit(sending, sends, shade, beams, meters)
    both = np.einsum("hnl,mnl->mhn", lit.seen, lit.onward) / lit.seen.shape[2]
    return np.asarray(np.add.reduceat(both * lit.falls * lit.sent[:, None], lit.first, axis=2))


def light_leaving(n: int, shade: Shade, beams: Sequence[Beam], point: Point) -> tuple[Patches, Array]:
    """Return a surface cut finely enough for a point, and what of all beams leaves each patch to the point's side."""
    sends = np.array([[sent_share(shade.surfaces[n], beam, point)] for beam in beams]).reshape(-1, 1)
    lit = _lit([n], sends[None] > 0, shade, beams, [Meter(point)])
    return lit.patches[0], np.asarray((sends * lit.falls * lit.seen.mean(axis=2)).sum(axis=0))


def _lit(
    sending: Sequence[int], sends: NDArray[np.bool_], shade: Shade, beams: Sequence[Beam], meters: Sequence[Meter]
) -> _Lit:
    """Return the patches of some surfaces and their light, where a surface sends any of a beam to a meter."""
    places = [meter.at for meter in meters]
    cuts = [(surface, cut(surface, places, beams)) for surface in (shade.surfaces[n] for n in sending)]
    counts = np.array([len(patches.areas) for _, patches in cuts])
    falls, sent = (
        np.concatenate(each, axis=1)
        for each in (
            [[light_on(*each, beam) for beam in beams] for each in cuts],
            [[shares_to(*each, meter.at) * _met(meter, each[1].points) for meter in meters] for each in cuts],
        )
    )
    falls *= np.repeat(sends.any(axis=0), counts, axis=1)
    sent *= np.repeat(sends.any(axis=1), counts, axis=1)
    spots, signs = (
        np.concatenate(each, axis=-2) for each in zip(*(_lines(patches) for _, patches in cuts), strict=True)
    )
    lines = Lines(
        starts=joined(*map(front_of, beams), points(*places)),
        ends=joined(*(pieces(surface.plane, patches.spots) for surface, patches in cuts)),
        kinds=np.array([*(front_kind(beam.source) for beam in beams), *(0 for _ in meters)]),
        starts_at=mirrored(on_fronts(spots[:2]), signs),
        ends_at=mirrored(2 * spots[2:] - 1, signs),
        own=np.repeat(sending, counts),
    )
    exempt = np.concatenate((shade.exempt(beams), np.zeros((len(meters), len(shade.surfaces)), dtype=bool)))
    seen = shade.shares(lines, exempt, needed=np.concatenate((falls, sent)) > 0)
    first, count = np.cumsum(counts) - counts, len(beams)
    return _Lit([patches for _, patches in cuts], first, falls, seen[:count], sent, seen[count:])


def _lines(patches: Patches) -> tuple[Array, Array]:
    """Return numbers between 0 and 1 for the lines to each patch, and on which side of its surface a patch is.

    Patches on either side of the middle have the same lines mirrored: a set and its mirror image are lit alike.
    """
    across, up = patches.spots[:, 0], patches.spots[:, 1]
    _, places = np.unique(np.column_stack((np.abs(across), up)).round(7), axis=0, return_inverse=True)
    lines = evenly((int(places.max()) + 1) * _LINES).reshape(4, -1, _LINES)[:, places.ravel()]
    return lines, np.where(across < 0, np.float32(-1), np.float32(1))[:, None]


def light_on(surface: Surface, patches: Patches, beam: Beam) -> Array:
    """Return what each patch receives from a head, on either side, with nothing in the way: squared f-numbers."""
    if beam.stops == DARK:
        return np.zeros(len(patches.areas))
    ways, far = _ways(patches.points, beam.origin)
    return np.asarray(np.abs(ways @ np.array(surface.plane.normal)) * readings(beam, ways, far))


def readings(beam: Beam, ways: Array, far: Array) -> Array:
    """Return ``Beam.reading`` of points, as squares of f-numbers, from the unit vectors and distances to its origin."""
    light: Array = 2.0**beam.stops * beam.source.share(far, np.arctan)
    if beam.exponent is None:
        return light
    cosine = -(ways @ np.array(beam.axis))
    return np.asarray(light * np.where(cosine > 0, np.abs(cosine) ** beam.exponent, 0.0))


def shares_to(surface: Surface, patches: Patches, point: Point) -> Array:
    """Return the share of the light of each patch's side that reaches a point, the meter there turned to the patch."""
    way, far = _ways(patches.points, point)
    shares: Array = np.abs(way @ np.array(surface.plane.normal)) * patches.areas / (pi * far**2)
    return shares


def _ways(starts: Array, end: Point) -> tuple[Array, Array]:
    """Return the unit vectors from some points to another, and the distances."""
    way = np.array(end) - starts
    far: Array = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    return way / far[:, None], far


# -- patches ---------------------------------------------------------------------------------------


def cut(surface: Surface, meters: Sequence[Point], beams: Iterable[Beam]) -> Patches:
    """Cut a surface into patches fine enough for some meters and for every beam that lights it."""
    lit = [
        beam for beam in beams if beam.stops != DARK and (surface.two_sided or surface.plane.local(beam.origin).z > 0)
    ]
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
    """Return how far a cell with this middle may reach: a share of the way to every meter and head.

    And no farther than a narrow beam is wide there, or than its way from it; where a wide beam's
    sharp end runs through, 90 degrees off its axis, no farther than its way from that.
    """
    most = np.min([np.linalg.norm(middles - np.array(meter), axis=1) for meter in meters], axis=0) * _TO_METER
    for beam in beams:
        way = middles - np.array(beam.origin)
        far = np.linalg.norm(way, axis=1)
        most = np.minimum(most, far * _TO_HEAD)
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
    middles = np.cumsum(_WEIGHTS) - _WEIGHTS / 2 - 1  # each node stands for as much of its cell as it weighs

    def pairs(values: Array) -> Array:
        return np.stack(np.meshgrid(values, values, indexing="ij"), axis=-1).reshape(1, -1, 2)

    of_cell, halves = cells[:, None, :2], cells[:, None, 2:]
    points = (of_cell + pairs(_AT) * halves).reshape(-1, 2)
    spots = np.concatenate((of_cell + pairs(middles) * halves, pairs(_WEIGHTS) * halves / 2), axis=-1).reshape(-1, 4)
    return Patches(_in_room(plane, points), 4 * np.prod(spots[:, 2:], axis=1), spots)


def _in_room(plane: Plane, points: Any) -> Array:
    """Return points of a plane, metres across and up, as points of the room."""
    return np.asarray(np.array(plane.middle) + points @ np.array((plane.across, plane.up)))
