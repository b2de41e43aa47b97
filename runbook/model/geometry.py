"""Where things stand: from a tape measure at the face to a spot on the floor.

Metres. The origin is on the floor under the face; ``y`` runs to the camera, ``x`` to camera-right,
``z`` up. Every distance is a tape distance, straight from the face.
"""

from __future__ import annotations

from math import atan2, cos, degrees, dist, hypot, radians, sin, sqrt
from typing import Final, Literal, NamedTuple

Side = Literal["left", "right"]
BODY_M: Final = 0.20  # a head from its mount's front to its back: the kit does not say


class Point(NamedTuple):
    """A point in the room, metres."""

    x: float
    y: float
    z: float


def ground_radius(distance_m: float, height_m: float, face_height_m: float) -> float:
    """Metres over the floor from under the face to a thing at this tape distance and height.

    Raises ValueError when the tape is too short to reach that height.
    """
    square = distance_m**2 - (height_m - face_height_m) ** 2
    if square < 0:
        least = abs(height_m - face_height_m)
        raise ValueError(
            f"{distance_m:g} m of tape from a face at {face_height_m:g} m cannot reach "
            f"{height_m:g} m up; at least {least:.2f} m is needed at that height"
        )
    return sqrt(square)


def stand_at(side: Side, angle_deg: float, distance_m: float, height_m: float, face_height_m: float) -> Point:
    """The point of a placement: ``side`` as the camera sees it, 0 degrees at the camera.

    Raises ValueError when the place is not real.
    """
    r = ground_radius(distance_m, height_m, face_height_m)
    sign = 1.0 if side == "right" else -1.0
    turn = radians(angle_deg)
    return Point(sign * r * sin(turn), r * cos(turn), height_m)


def column_at(front: Point, bearing_deg: float, depth_m: float) -> Point:
    """The point over a stand's column: under the middle of its head's body.

    That is behind the front of a modifier so deep, along where it points; both taken as level, as
    the plan does not say where a head hinges.
    """
    turn, back = radians(bearing_deg), depth_m + BODY_M / 2
    return Point(front.x - back * sin(turn), front.y - back * cos(turn), front.z)


def bearing_deg(start: Point, end: Point) -> float:
    """Compass-like direction over the floor from one point to another.

    0 is towards the camera, 90 camera-right, -90 camera-left, 180 away from the camera.
    """
    return degrees(atan2(end.x - start.x, end.y - start.y))


def tilt_deg(start: Point, end: Point) -> float:
    """Degrees above (plus) or below the level from one point to another."""
    return degrees(atan2(end.z - start.z, hypot(end.x - start.x, end.y - start.y)))


def minus(a: Point, b: Point) -> Point:
    """Return the way from ``b`` to ``a``."""
    return Point(a.x - b.x, a.y - b.y, a.z - b.z)


def along(start: Point, way: Point, share: float) -> Point:
    """Return the point so many times a vector away from another."""
    return Point(start.x + way.x * share, start.y + way.y * share, start.z + way.z * share)


def towards(start: Point, end: Point) -> Point:
    """Return the direction from one point to another; to the camera when they are the same point."""
    length = dist(start, end)
    return along(Point(0.0, 0.0, 0.0), minus(end, start), 1 / length) if length else Point(0.0, 1.0, 0.0)
