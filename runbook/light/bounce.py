"""What flat matt surfaces send on to the face: one bounce, by patches.

Each patch is lit by each head as the face would be, times the cosine of incidence, and sends
``ρ·E·cos(patch)·dA / (π·r²)`` on to a meter turned to it: Lambert's matt surface, Siegel and
Howell, *Thermal Radiation Heat Transfer*, from memory. The patches are the nodes of Gauss's rule,
12 x 12 at least; a cell that is too large for what falls on it, or for a face near it, is halved.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import pi, radians, tan
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runbook.light.beam import Beam
from runbook.light.scene import Plane
from runbook.light.stops import DARK, stops_of
from runbook.model.geometry import Point

Array = NDArray[np.float64]

_CELLS: Final = 3  # to a side, of 4 x 4 nodes each: 12 x 12 patches
_NODES: Final = 4
_LEAST_M: Final = 0.01  # nothing in a studio needs finer cells than its own thickness
_EDGE_M: Final = 0.03
_SHARP: Final = 1.0  # a smaller exponent ends a beam so sharply at 90 degrees that it shows
_NARROW_DEG: Final = 100.0  # wider beams change no faster over a surface than the distance does


@dataclass(frozen=True, slots=True)
class Surface:
    """A flat rectangle whose front sends back a share of its light in all directions."""

    plane: Plane
    width_m: float
    height_m: float
    reflectance: float


@dataclass(frozen=True, slots=True)
class Patches:
    """Points of a surface, a row of x, y and z each, and the area that each stands for."""

    points: Array
    areas: Array


def bounced_stops(
    surface: Surface, face: Point, beams: Sequence[Beam], meter: Point | None = None
) -> tuple[float, ...]:
    """Return the stops that a surface sends to the face from each beam, the meter turned to each patch.

    With a direction for the ``meter``, it is flat and faces that way. ``DARK`` when head or face is behind the surface,
    the beam misses it, or it reflects nothing.
    """
    if surface.reflectance <= 0 or surface.plane.local(face).z <= 0:
        return (DARK,) * len(beams)
    patches = cut(surface, face, beams)
    sent = surface.reflectance * shares_to(surface, patches, face)
    if meter is not None:
        sent = sent * np.clip(-_ways(patches.points, face)[0] @ np.array(meter), 0.0, None)
    return tuple(stops_of(float(light_on(surface, patches, beam) @ sent)) for beam in beams)


def light_on(surface: Surface, patches: Patches, beam: Beam) -> Array:
    """Return what each patch receives from a head, as the square of an f-number."""
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


def cut(surface: Surface, face: Point, beams: Iterable[Beam]) -> Patches:
    """Cut a surface into patches fine enough for the face and for every beam that lights its front."""
    lit = [beam for beam in beams if beam.stops != DARK and surface.plane.local(beam.origin).z > 0]
    size = np.array((surface.width_m, surface.height_m)) / (2 * _CELLS)
    steps = range(1 - _CELLS, _CELLS, 2)
    # a row is a cell: its middle across and up, and its half sides
    cells: Array = np.array([(across * size[0], up * size[1], *size) for across in steps for up in steps])
    fine: list[Array] = []
    while len(cells):
        reach = np.hypot(cells[:, 2], cells[:, 3])
        coarse = reach > np.maximum(_most_reach(_in_room(surface.plane, cells[:, :2]), reach, face, lit), _LEAST_M)
        fine.append(cells[~coarse])
        cells = _halves(cells[coarse])
    return _gauss_points(surface.plane, np.concatenate(fine))


def _most_reach(middles: Array, reach: Array, face: Point, beams: Iterable[Beam]) -> Array:
    """Return how far a cell with this middle may reach: half the way to the face and to every head.

    And no farther than a narrow beam is wide there, or than its way from it; where a wide beam's
    sharp end runs through, 90 degrees off its axis, no farther than its way from that.
    """
    most = np.linalg.norm(middles - np.array(face), axis=1) / 2
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
    offsets = np.stack(np.meshgrid(nodes, nodes, indexing="ij"), axis=-1).reshape(1, -1, 2)
    points = (cells[:, None, :2] + offsets * cells[:, None, 2:]).reshape(-1, 2)
    areas = np.prod(cells[:, 2:], axis=1)[:, None] * np.outer(weights, weights).reshape(1, -1)
    return Patches(_in_room(plane, points), areas.ravel())


def _in_room(plane: Plane, points: Any) -> Array:
    """Return points of a plane, metres across and up, as points of the room."""
    return np.asarray(np.array(plane.middle) + points @ np.array((plane.across, plane.up)))
