"""What the camera sees: depth of field, picture angle, what is in frame, what flares.

Focal lengths and blur in mm, distances in m, angles in degrees. Depth-of-field formulas: US Navy
NAVEDTRA 14209 (1993), p. 40, and US Army SS0507, both seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, cos, degrees, hypot, inf, radians, sin
from statistics import fmean
from typing import Final, Literal

from runbook.light.scene import Plane, dot, plane
from runbook.model.geometry import Point, along, minus, towards

_RIM: Final = tuple((cos(radians(turn)), sin(radians(turn))) for turn in range(0, 360, 10))
# Of the picture, our own: a smaller share at its edge is a hair that any crop takes off; a thing seen edge-on inside it
# is told however thin.
LEAST_SHARE: Final = 0.001
_WELL_INSIDE: Final = 0.99  # of the way from the middle to the edge
_MIDDLE: Final = 1 / 3
_HAIR: Final = 1e-9
BLUR_PARTS: Final = 1500.0  # the blur circle is the sensor's diagonal over this: common practice


def blur_circle_mm(sensor_mm: tuple[float, float]) -> float:
    """Return the largest spot still taken for a point: the sensor's diagonal over 1500."""
    return hypot(*sensor_mm) / BLUR_PARTS


def hyperfocal_m(focal_mm: float, f: float, blur_mm: float) -> float:
    """Return the focus from which all beyond is sharp: ``H = f²/(N·c) + f``."""
    return (focal_mm**2 / (f * blur_mm) + focal_mm) / 1000


@dataclass(frozen=True, slots=True)
class DepthOfField:
    """The nearest and farthest sharp distance from the lens; ``far_m`` may be infinite."""

    near_m: float
    far_m: float

    @property
    def depth_m(self) -> float:
        """From near to far; infinite from the hyperfocal distance on."""
        return self.far_m - self.near_m


def depth_of_field(focal_mm: float, f: float, distance_m: float, blur_mm: float) -> DepthOfField:
    """Return the sharp range with the focus at a distance.

    ``near = s(H-f)/(H+s-2f)``, ``far = s(H-f)/(H-s)``, without end from ``s = H``.
    """
    focal_m, far_from = focal_mm / 1000, hyperfocal_m(focal_mm, f, blur_mm)
    top = distance_m * (far_from - focal_m)
    near = top / (far_from + distance_m - 2 * focal_m)
    return DepthOfField(near, top / (far_from - distance_m) if distance_m < far_from else inf)


def picture_angle_deg(focal_mm: float, side_mm: float) -> float:
    """Return the angle a sensor side sees at infinity: ``2 atan(side / 2f)``."""
    return degrees(2 * atan(side_mm / (2 * focal_mm)))


def size_deg(size_m: float, distance_m: float) -> float:
    """Return how large a source looks: ``2 atan(size / 2d)``."""
    return degrees(2 * atan(size_m / (2 * distance_m)))


def shadow_edge_m(size_m: float, light_to_edge_m: float, edge_to_wall_m: float) -> float:
    """Return the width of a shadow's soft edge: similar triangles, as geometric unsharpness ``f·b/a``."""
    return size_m * edge_to_wall_m / light_to_edge_m


@dataclass(frozen=True, slots=True)
class Picture:
    """The camera's view, centred on the face; its half width and height as tangents."""

    lens: Point
    face: Point
    half_wide: float
    half_high: float


def picture(lens: Point, face: Point, focal_mm: float, sensor_mm: tuple[float, float], portrait: bool) -> Picture:
    """Return the picture of a camera that centres the face."""
    short, long = sorted(sensor_mm)
    wide, high = (short, long) if portrait else (long, short)
    return Picture(lens, face, wide / (2 * focal_mm), high / (2 * focal_mm))


@dataclass(frozen=True, slots=True)
class InShot:
    """What a thing covers of the picture: which share of it, and where."""

    share: float
    where: Literal["left", "right", "top", "bottom", "middle"]


def in_shot(view: Picture, outlines: Sequence[Sequence[Point]], background: Point | None = None) -> InShot | None:
    """Return how a thing of one or two flat convex outlines cuts into the picture; None where it does not.

    What is behind the background is not seen; what hides behind the subject is not left out.
    """
    seen = [shape for outline in outlines if (shape := _in_picture(view, outline, background))]
    areas = [max(_area(shape), _HAIR) for shape in seen]
    middles = [tuple(fmean(point[axis] for point in shape) for axis in (0, 1)) for shape in seen]
    share = sum(areas) / 4
    if len(seen) == 2 and min(areas) > _HAIR:
        share -= _area(_shared(*seen)) / 4
    if share < LEAST_SHARE and not any(max(map(abs, middle)) < _WELL_INSIDE for middle in middles):
        return None
    x, y = (
        sum(area * middle[axis] for area, middle in zip(areas, middles, strict=True)) / sum(areas) for axis in (0, 1)
    )
    if max(abs(x), abs(y)) < _MIDDLE:
        return InShot(share, "middle")
    if abs(x) >= abs(y) - _HAIR:  # of two as far out, always the side
        return InShot(share, "left" if x < 0 else "right")
    return InShot(share, "bottom" if y < 0 else "top")


def _in_picture(view: Picture, outline: Sequence[Point], background: Point | None) -> list[Point]:
    """Return the part of an outline inside the picture, from -1 to 1 across and up.

    Clips by the background and by the four planes through the lens and the picture's sides (Sutherland
    and Hodgman).
    """
    shape = list(outline)
    if background is not None:
        shape = [
            along(p, background, 1.0) for p in _clipped([minus(p, background) for p in shape], Point(0.0, 1.0, 0.0))
        ]
    camera = plane(view.lens, towards(view.lens, view.face))
    shape = [camera.local(point) for point in shape]
    for sign in (-1.0, 1.0):
        shape = _clipped(shape, Point(sign, 0.0, view.half_wide))
        shape = _clipped(shape, Point(0.0, sign, view.half_high))
    # what passes through the lens itself has no place in the picture
    return [Point(p.x / p.z / view.half_wide, p.y / p.z / view.half_high, 1.0) for p in shape if p.z > 1e-9]


def _area(shape: Sequence[Point]) -> float:
    """Return the area of a flat outline, seen along z."""
    pairs = zip(shape, [*shape[1:], *shape[:1]], strict=True)
    return abs(sum(one.x * other.y - other.x * one.y for one, other in pairs)) / 2


def _shared(one: Sequence[Point], other: Sequence[Point]) -> Sequence[Point]:
    """Return what two convex outlines in the picture have in common."""
    turn = 1.0 if sum(a.x * b.y - b.x * a.y for a, b in zip(other, [*other[1:], other[0]], strict=True)) > 0 else -1.0
    for a, b in zip(other, [*other[1:], other[0]], strict=True):
        one = _clipped(one, Point(turn * (a.y - b.y), turn * (b.x - a.x), turn * (a.x * b.y - a.y * b.x)))
    return one


def _clipped(points: Sequence[Point], inward: Point) -> list[Point]:
    """Return the part of a convex outline on the inward side of a plane through the lens."""
    kept = []
    for before, point in zip([*points[-1:], *points[:-1]], points, strict=True):
        room_before, room = dot(before, inward), dot(point, inward)
        if (room >= 0) != (room_before >= 0):
            kept.append(along(before, minus(point, before), room_before / (room_before - room)))
        if room >= 0:
            kept.append(point)
    return kept


def in_front_of_lens(view: Picture, point: Point) -> bool:
    """Return whether a point is on the subject's side of the lens's plane."""
    return dot(minus(point, view.lens), towards(view.lens, view.face)) > 0


def rectangle_outline(surface: Plane, width_m: float, height_m: float) -> tuple[Point, ...]:
    """Return the corners of a flat rectangle."""
    a, u = width_m / 2, height_m / 2
    return (surface.at(-a, -u), surface.at(a, -u), surface.at(a, u), surface.at(-a, u))


def round_outline(surface: Plane, radius_m: float) -> tuple[Point, ...]:
    """Return points on the rim of a disc, every ten degrees: within half a percent of its radius."""
    return tuple(surface.at(radius_m * a, radius_m * u) for a, u in _RIM)
