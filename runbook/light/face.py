"""The face as the camera would see it: a plain grey head in the light of a setup.

Every source is cut into points. A head's points share out what ``runbook.light.beam`` gives where they shine, so that
a surface that faces the head receives what a meter there shows; a panel's are its patches of ``runbook.light.bounce``.
A pixel adds, by Lambert's cosine law, the points that neither the head itself nor a surface of the set hides, and the
room's own light, the same from everywhere. Where a meter shows the working aperture the head is mid grey:
``0.18 * E / E_metered``, then encoded as sRGB (IEC 61966-2-1, second-hand). There is no second bounce.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, dist, pi, radians, sin
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runbook.light.beam import Beam
from runbook.light.bounce import light_leaving, readings, sent_share
from runbook.light.head_shape import FACE_Y_M, FAR, Array, Shape, head_shape
from runbook.light.optics import size_deg
from runbook.light.prediction import MID_GREY, LitSetup
from runbook.light.scene import scene, surfaces_of
from runbook.light.shade import Lines, Pieces, Shade, evenly, front_kind, front_of, on_fronts, piece
from runbook.light.solve import heads_of
from runbook.light.stops import DARK
from runbook.model.geometry import Point

WIDE_M: Final = 0.25  # what the picture holds at the head
HIGH_M: Final = 0.30
_MIDDLE_Z_M: Final = -0.018  # of the picture, on the head's upright axis
_TILES: Final = 4  # a side, of a panel
_QUARTERS: Final = ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25))  # of a pixel
_POINTS: Final = (2, 8)  # of a quarter of a head's front, the least and the most
_POINT_DEG: Final = 5.0  # a quarter has one for so much of its size
_LEAST: Final = 1e-12
_EDGE_ON: Final = 0.05  # a front seen from its edge still has a middle


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """A picture of the head: greys from 0 to 255, a row of pixels each, and how much of each pixel is head.

    ``background`` is the grey of what is behind it; None where the plan does not tell.
    """

    greys: NDArray[np.uint8]
    cover: Array
    background: int | None


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """Points of light: where on a flat piece they are, from -1 to 1, a row across and one up.

    ``beam`` is of a head; without one ``sends`` is the light that each point sends on, facing it from a metre.
    """

    front: Pieces
    on_it: NDArray[np.float64]
    normal: Point
    beam: Beam | None = None
    sends: NDArray[np.float64] | None = None
    surface: int | None = None

    @property
    def points(self) -> NDArray[np.float64]:
        """The points, a row each."""
        points: NDArray[np.float64] = (
            self.front.middles + self.front.across * self.on_it[0] + self.front.up * self.on_it[1]
        ).T
        return points

    def quarter(self, n: int) -> Source:
        """Return every fourth point, from the n-th on, for all of the light."""
        if self.on_it.shape[1] == 1:
            return self
        return replace(self, on_it=self.on_it[:, n::4], sends=None if self.sends is None else 4 * self.sends[n::4])

    def strengths(self, points: Array) -> Array:
        """Return the light on surfaces at some points that face each of the source's, as squares of f-numbers."""
        ways = self.points.astype(np.float32)[None] - points[:, None]
        square = np.einsum("psi,psi->ps", ways, ways)
        leaves = -(ways @ np.array(self.normal, np.float32)) / np.sqrt(square)
        if self.sends is not None:
            return np.asarray(self.sends * np.maximum(leaves, 0) / square, np.float32)
        assert self.beam is not None
        shares = np.maximum(leaves, _EDGE_ON) / square
        middle = np.array(self.beam.origin, np.float32) - points
        far = np.linalg.norm(middle, axis=1)
        facing = np.einsum("psi,pi->ps", ways, middle) / (np.sqrt(square) * far[:, None])
        met = np.einsum("ps,ps->p", shares, facing)
        return np.asarray(shares * (readings(self.beam, middle / far[:, None], far) / met)[:, None], np.float32)


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a head is: its face, and how far it is turned to camera-right."""

    face: Point
    facing_deg: float

    @property
    def axes(self) -> NDArray[np.float64]:
        """The head's own axes in the room, a row each."""
        turn = radians(self.facing_deg)
        return np.array(((cos(turn), -sin(turn), 0.0), (sin(turn), cos(turn), 0.0), (0.0, 0.0, 1.0)))

    def middle(self) -> NDArray[np.float64]:
        """Return the middle of the head in the room."""
        return np.asarray(np.array(self.face) - FACE_Y_M * self.axes[1])

    def own(self, points: Any) -> Array:
        """Return points of the room in the head's own axes."""
        return np.asarray((points - self.middle()) @ self.axes.T, np.float32)

    def room(self, points: Array) -> Array:
        """Return points of the head in the room."""
        return np.asarray(points @ self.axes + self.middle(), np.float32)


def render_face(lit: LitSetup, columns: int, rows: int) -> Face:
    """Return the head in the light of a setup, in so many pixels. Raises ValueError when a place is not real."""
    setup, light = lit.setup, lit.light
    where, shade = scene(setup), Shade(surfaces_of(lit.kit, setup))
    pose, sources = Pose(where.face, setup.facing_deg), list(light_sources(lit, shade))
    falls, cover = np.zeros(columns * rows, np.float32), np.zeros(columns * rows, np.float32)
    for n, off in enumerate(_QUARTERS):  # each of a pixel's quarters sees its own quarter of the points of a source
        seen = seen_from(where.lens, pose, columns, rows, off=off)
        falls[seen.pixels] += light_on(seen, shade, [source.quarter(n) for source in sources]) / len(_QUARTERS)
        cover[seen.pixels] += 1 / len(_QUARTERS)
    ambient = 0.0 if light.ambient_stops is None else 2.0**light.ambient_stops
    metered = (falls / np.maximum(cover, _LEAST) + ambient) * 2.0**-light.aperture_stops
    greys = np.where(cover > 0, encoded(MID_GREY * metered), np.uint8(0))
    level = light.background_level_stops
    behind = None if level is None else int(encoded(MID_GREY * 2.0**level))
    return Face(greys.reshape(rows, columns), cover.reshape(rows, columns), behind)


def encoded(linear: Any) -> NDArray[np.uint8]:
    """Return linear light, 1 for white, as greys of sRGB."""
    light = np.clip(linear, 0.0, 1.0)
    return np.asarray(
        np.round(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)), np.uint8
    )


# -- what is seen ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The points of a head that the pixels of a picture show, in the head's own axes: a row each.

    ``part`` is which ellipsoid each is of, ``pixels`` its place in the picture.
    """

    shape: Shape
    pose: Pose
    points: Array
    normals: Array
    part: NDArray[np.intp]
    pixels: NDArray[np.intp]


def seen_from(
    lens: Point,
    pose: Pose,
    columns: int,
    rows: int,
    *,
    off: tuple[float, float] = (0.0, 0.0),
    shape: Shape | None = None,
) -> Seen:
    """Return what a lens sees of a head, so far off the middle of each of a picture's square pixels.

    The picture holds head and neck, whatever the lens.
    """
    shape = shape or head_shape()
    start, target = pose.own(np.array(lens)), np.array((0.0, 0.0, _MIDDLE_Z_M))
    ahead = (target - start) / (far := np.linalg.norm(target - start))
    right = np.cross((0.0, 0.0, 1.0), ahead)
    right /= np.linalg.norm(right)
    up, pitch = np.cross(ahead, right), max(HIGH_M / rows, WIDE_M / columns) / far
    across, down = (
        pitch * (np.arange(count) + 0.5 - count / 2 + by) for count, by in zip((columns, rows), off, strict=True)
    )
    ways = (ahead - down[:, None, None] * up + across[:, None] * right).reshape(-1, 3)
    away, part = shape.first_hits(start, ways)
    pixels = np.flatnonzero(away < FAR)
    points = np.asarray(start + ways[pixels] * away[pixels, None], np.float32)
    return Seen(shape, pose, points, shape.normals(points), part[pixels], pixels)


# -- what lights it --------------------------------------------------------------------------------


def light_on(seen: Seen, shade: Shade, sources: Iterable[Source]) -> Array:
    """Return the light that falls on each point seen, as the square of an f-number."""
    light, room = np.zeros(len(seen.points), np.float32), seen.pose.room(seen.points)
    for source in sources:
        ends = seen.pose.own(source.points)
        ways = ends[None] - seen.points[:, None]
        falls = np.einsum("psi,pi->ps", ways, seen.normals) / np.sqrt(np.einsum("psi,psi->ps", ways, ways))
        lit = np.flatnonzero((falls > 0).any(axis=1))
        arrives = np.maximum(falls[lit], 0) * source.strengths(room[lit])
        if not arrives.any():
            continue
        arrives *= seen.shape.lit(seen.points[lit], seen.part[lit], ends)
        own = np.arange(len(shade.surfaces))[None] == source.surface
        exempt = own if source.beam is None else shade.exempt([source.beam])
        lines = Lines.to_points(source.front, source.on_it[None, :, None], room[lit].T)
        light[lit] += (arrives * shade.shares(lines, exempt)[0]).sum(axis=1)
    return light


def light_sources(lit: LitSetup, shade: Shade) -> Iterator[Source]:
    """Yield what lights the face of a setup: the heads that fire, at their powers, and what surfaces send on."""
    face = lit.setup.face
    beams = [
        replace(head.beam, stops=head.beam.stops - float(one.power.below_full))
        for head, one in zip(heads_of(lit.kit, lit.setup, lit.measured), lit.light.heads, strict=True)
        if one.power.below_full is not None
    ]
    for beam in beams:
        if beam.stops != DARK:
            yield head_source(beam, face)
    for n, surface in enumerate(shade.surfaces):
        if any(sent_share(surface, beam, face) for beam in beams):
            yield from panel_source(n, shade, beams, face)


def head_source(beam: Beam, face: Point) -> Source:
    """Return a head's front as points: one for a bare head, else the more of them the larger it looks."""
    front = front_of(beam)
    if not front.across.any():
        return Source(front, np.zeros((2, 1)), beam.axis, beam)
    count = 2 * int(np.clip(size_deg(beam.source.largest_m, dist(beam.origin, face)) / _POINT_DEG, *_POINTS))
    half = on_fronts(evenly(count)[:2])[front_kind(beam.source)]
    # a quarter of them and another are each other's mirror image, as a pixel's quarters are
    on_it = np.stack((half, half * ((-1.0,), (1.0,))), axis=-1).reshape(2, -1)
    return Source(front, on_it, beam.axis, beam)


def panel_source(n: int, shade: Shade, beams: Sequence[Beam], face: Point) -> Iterator[Source]:
    """Yield a surface as a grid of points, each in the middle of the light that its part sends on, where any does."""
    surface = shade.surfaces[n]
    patches, leaves = light_leaving(n, shade, beams, face)
    sends = leaves * patches.areas / pi
    if not sends.any():
        return
    half = np.array((surface.width_m, surface.height_m)) / 2
    spots = patches.spots[:, :2] / half
    column, row = np.clip((spots + 1) * _TILES / 2, 0, _TILES - 1).astype(int).T
    of_tile = np.zeros((_TILES**2, len(sends)))
    # every fourth tile from the n-th on are those of one place in two by two
    tile = row // 2 * 2 * _TILES + column // 2 * _TILES + row % 2 * 2 + column % 2
    of_tile[tile, np.arange(len(sends))] = sends
    total = of_tile.sum(axis=1)
    front, normal = piece(surface.plane, surface.width_m, surface.height_m), surface.plane.normal
    if surface.plane.local(face).z < 0:
        normal = Point(-normal.x, -normal.y, -normal.z)
    on_it = (of_tile @ spots / np.maximum(total, _LEAST)[:, None]).T
    yield Source(front, on_it, normal, sends=total, surface=n)
