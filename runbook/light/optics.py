"""What the camera sees: depth of field, picture angle, what is in frame, what flares.

Focal lengths and blur in mm, distances in m, angles in degrees. Depth-of-field formulas: US Navy
NAVEDTRA 14209 (1993), p. 40, and US Army SS0507, both seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, cos, degrees, hypot, inf, radians, sin
from typing import Final

from runbook.light.scene import Plane, along, dot, minus, plane, towards
from runbook.model.geometry import Point

_RIM: Final = tuple((cos(radians(turn)), sin(radians(turn))) for turn in range(0, 360, 10))
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


def in_frame(view: Picture, outline: Sequence[Point]) -> bool:
    """Return whether any part of a flat convex outline is inside the picture.

    Clips the outline by the four planes through the lens and the picture's sides (Sutherland and
    Hodgman). What hides behind the subject or the background is not left out.
    """
    towards_lens = plane(view.lens, towards(view.lens, view.face))
    inside = [towards_lens.local(point) for point in outline]
    for sign in (-1.0, 1.0):
        inside = _clipped(inside, Point(sign, 0.0, view.half_wide))
        inside = _clipped(inside, Point(0.0, sign, view.half_high))
    return bool(inside)


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
