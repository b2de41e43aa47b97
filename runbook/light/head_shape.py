"""A plain head of ellipsoids: where rays meet it, its normals, and what it keeps in its own shadow.

Metres. The head's own axes: ``x`` to camera-right where it faces the camera, ``y`` forward, ``z`` up; the origin is
half-way up and half-way back. Sizes and places are near the means of men and women: breadth 151, length 195 and
cheekbones 138 mm from the US Army's ANSUR II data of 2012 (4082 men, 1986 women), seen; height 225 mm, nose, mouth,
chin and jaw from the headboard measures of ANSUR 1988 (report ADA225094, pp. 481-575), second-hand. The eyes are at
half the height. How far the parts run into each other is our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import cos, radians, sin
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]
Indices = NDArray[np.intp]

FACE_Y_M: Final = 0.096  # the nose root, ahead of the middle of the head: the place that a plan calls the face
FAR: Final = 1e9
_CASTS: Final = 0.97  # of a part's size, in the shadow that it throws on others: no black seams where two meet

Triple = tuple[float, float, float]
# middle, half-axes, how far the upper end leans back (degrees), over how many metres it runs into its neighbours
Part = tuple[Triple, Triple, float, float]
_MIDLINE: Final[tuple[Part, ...]] = (
    ((0.0, 0.0, 0.034), (0.0755, 0.0974, 0.078), 0.0, 0.012),  # skull
    ((0.0, 0.024, -0.034), (0.0670, 0.0620, 0.068), 0.0, 0.012),  # cheeks
    ((0.0, 0.029, -0.070), (0.0565, 0.0550, 0.0425), 0.0, 0.012),  # jaw
    ((0.0, 0.070, -0.090), (0.0260, 0.0230, 0.0210), 0.0, 0.014),  # chin
    ((0.0, 0.058, -0.060), (0.0440, 0.0385, 0.0380), 0.0, 0.012),  # mouth
    ((0.0, 0.0915, -0.0625), (0.0240, 0.0075, 0.0050), 0.0, 0.004),  # upper lip
    ((0.0, 0.0895, -0.0735), (0.0200, 0.0080, 0.0058), 0.0, 0.004),  # lower lip
    ((0.0, 0.062, 0.022), (0.0540, 0.0330, 0.0155), 0.0, 0.010),  # brow
    ((0.0, 0.0880, -0.0150), (0.0110, 0.0160, 0.0330), 26.0, 0.007),  # bridge of the nose
    ((0.0, 0.1010, -0.0340), (0.0130, 0.0155, 0.0115), 0.0, 0.006),  # tip of the nose
    ((0.0, -0.030, -0.170), (0.0550, 0.0550, 0.150), -12.0, 0.008),  # neck
)
_PAIRS: Final[tuple[Part, ...]] = (
    ((0.0105, 0.0925, -0.0380), (0.0080, 0.0110, 0.0085), 0.0, 0.004),  # nostril
    ((0.0310, 0.0630, 0.0000), (0.0165, 0.0160, 0.0125), 0.0, 0.004),  # eye
    ((0.0345, 0.0420, -0.0270), (0.0340, 0.0375, 0.0360), 0.0, 0.014),  # cheekbone
    ((0.0735, -0.0080, -0.0150), (0.0075, 0.0170, 0.0300), 12.0, 0.003),  # ear
)


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A union of ellipsoids: middles, the maps that make a unit sphere of each, and how softly each joins the rest."""

    middles: Array
    to_sphere: Array
    joins: Array

    def first_hits(self, start: NDArray[Any], ways: NDArray[Any]) -> tuple[NDArray[Any], Indices]:
        """Return how far along each way from one start the shape is met, and which ellipsoid; far and 0 where none."""
        nearest, which = np.full(len(ways), FAR), np.zeros(len(ways), np.intp)
        for n, (middle, matrix) in enumerate(zip(self.middles, self.to_sphere, strict=True)):
            from_middle, way = matrix @ (start - middle), ways @ matrix.T
            a, b = np.einsum("pi,pi->p", way, way), way @ from_middle
            inside = b * b - a * (from_middle @ from_middle - 1)
            met = np.flatnonzero(inside > 0)
            far = (-b[met] - np.sqrt(inside[met])) / a[met]
            nearer = far < nearest[met]
            nearest[met[nearer]], which[met[nearer]] = far[nearer], n
        return nearest, which

    def normals(self, points: Array) -> Array:
        """Return the unit normals at points of the surface; where two parts meet, one runs into the other."""
        normals = np.zeros_like(points)
        for middle, matrix, join in zip(self.middles, self.to_sphere, self.joins, strict=True):
            on_sphere = (points - middle) @ matrix.T
            out = np.sqrt(np.einsum("pi,pi->p", on_sphere, on_sphere))
            slope = on_sphere @ matrix / np.maximum(out, 1e-6)[:, None]
            steep = np.sqrt(np.einsum("pi,pi->p", slope, slope))
            off = np.maximum((out - 1) / steep, 0.0)
            normals += (np.exp(-off / join) / steep)[:, None] * slope
        return np.asarray(normals / np.linalg.norm(normals, axis=1, keepdims=True))

    def lit(self, points: Array, own: Indices, ends: Array) -> Mask:
        """Return which straight ways from points of the surface to some ends are free: a row a point.

        ``own`` is the ellipsoid of each point, which keeps no light from itself: it is convex, and the cosine ends it.
        """
        free = np.ones((len(points), len(ends)), np.bool_)
        for n, (middle, matrix) in enumerate(zip(self.middles, self.to_sphere, strict=True)):
            start, end = (points - middle) @ matrix.T, (ends - middle) @ matrix.T
            square = np.einsum("pi,pi->p", start, start)[:, None]
            along = start @ end.T
            way = along - square
            length = np.einsum("pi,pi->p", end, end)[None, :] - along - way
            hits = (way < 0) & (-way < length) & (way * way > length * (square - _CASTS**2))
            hits[own == n] = False
            free &= ~hits
        return free


def ellipsoids(*parts: Part) -> Shape:
    """Return a union of ellipsoids."""
    middles, axes, leans, joins = zip(*parts, strict=True)
    maps = []
    for half, lean in zip(axes, map(radians, leans), strict=True):
        back = np.array(((1, 0, 0), (0, cos(lean), sin(lean)), (0, -sin(lean), cos(lean))))
        maps.append(back / np.array(half)[:, None])
    return Shape(*(np.array(each, np.float32) for each in (middles, maps, joins)))


@lru_cache(maxsize=1)
def head_shape() -> Shape:
    """Return the plain head."""
    sides = [((side * x, y, z), half, lean, join) for (x, y, z), half, lean, join in _PAIRS for side in (-1, 1)]
    return ellipsoids(*_MIDLINE, *sides)
