"""Where face, lens, heads and panels are in a setup, what points where, and what the face sees.

Metres, the axes of ``runbook.model.geometry``; directions are unit vectors, angles in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, degrees, hypot, sqrt

from runbook.model.geometry import Point, bearing_deg, stand_at, tilt_deg
from runbook.model.setup import Light, PanelPlace, Setup


def minus(a: Point, b: Point) -> Point:
    """The way from ``b`` to ``a``."""
    return Point(a.x - b.x, a.y - b.y, a.z - b.z)


def dot(a: Point, b: Point) -> float:
    return a.x * b.x + a.y * b.y + a.z * b.z


def distance(a: Point, b: Point) -> float:
    """Metres between two points."""
    return sqrt((a.x - b.x) ** 2 + (a.y - b.y) ** 2 + (a.z - b.z) ** 2)


def towards(start: Point, end: Point) -> Point:
    """The direction from one point to another; to the camera when they are the same point."""
    length = distance(start, end)
    if length == 0:
        return Point(0.0, 1.0, 0.0)
    way = minus(end, start)
    return Point(way.x / length, way.y / length, way.z / length)


def cosine_between(apex: Point, one: Point, other: Point) -> float:
    """Cosine of the angle at ``apex`` between two points."""
    return max(-1.0, min(1.0, dot(towards(apex, one), towards(apex, other))))


def off_axis_cosine(origin: Point, axis: Point, point: Point) -> float:
    """Cosine of the angle between a beam's axis and the way from its origin to a point."""
    return max(-1.0, min(1.0, dot(axis, towards(origin, point))))


def degrees_of(cosine: float) -> float:
    """The angle of a cosine, degrees."""
    return degrees(acos(max(-1.0, min(1.0, cosine))))


@dataclass(frozen=True, slots=True)
class Plane:
    """A flat thing in the room: its middle, its level width, its height and its front's normal."""

    middle: Point
    across: Point
    up: Point
    normal: Point

    def local(self, point: Point) -> Point:
        """A point as metres across, up and in front of the middle."""
        way = minus(point, self.middle)
        return Point(dot(way, self.across), dot(way, self.up), dot(way, self.normal))

    def turned(self, direction: Point) -> Point:
        """A direction in the same three axes."""
        return Point(dot(direction, self.across), dot(direction, self.up), dot(direction, self.normal))

    def at(self, across_m: float, up_m: float) -> Point:
        """A point on the plane."""
        m, a, u = self.middle, self.across, self.up
        return Point(
            m.x + a.x * across_m + u.x * up_m, m.y + a.y * across_m + u.y * up_m, m.z + a.z * across_m + u.z * up_m
        )


def plane(middle: Point, normal: Point) -> Plane:
    """The plane with this unit normal; never rolled, so its width stays level."""
    level = hypot(normal.x, normal.y)
    across = Point(-normal.y / level, normal.x / level, 0.0) if level > 1e-9 else Point(1.0, 0.0, 0.0)
    up = Point(
        normal.y * across.z - normal.z * across.y,
        normal.z * across.x - normal.x * across.z,
        normal.x * across.y - normal.y * across.x,
    )
    return Plane(middle, across, up, normal)


@dataclass(frozen=True, slots=True)
class Scene:
    """The points of a setup: heads and panels by id, at the middle of modifier and surface."""

    face: Point
    lens: Point
    background: Point | None
    heads: dict[str, Point]
    panels: dict[str, Point]


def scene(setup: Setup) -> Scene:
    """Where everything in a setup is. Raises ValueError when a place is not real.

    The background's point is straight behind the face, at the height of the face: its distance is
    a tape's too, pulled level.
    """
    face_m, view = setup.subject.face_height_m, setup.view
    behind = setup.background
    return Scene(
        face=Point(0.0, 0.0, face_m),
        lens=stand_at("right", 0.0, view.distance_m, view.height_m, face_m),
        background=Point(0.0, -behind.distance_m, face_m) if behind else None,
        heads={light.head: light.point(face_m) for light in setup.lights},
        panels={place.panel: place.point(face_m) for place in setup.panels},
    )


def aim_point(where: Scene, light: Light) -> Point:
    """What a head's beam is centred on: the face, the background behind it, or a panel's middle.

    Raises ValueError when it is aimed at something the setup does not have.
    """
    if light.aim == "face":
        return where.face
    if light.aim == "background" and where.background is not None:
        return where.background
    if light.aim in where.panels:
        return where.panels[light.aim]
    raise ValueError(
        f"head {light.head} is aimed at {light.aim!r}, which this setup has not; "
        "aim at face, at background with a [background] given, or at a panel placed here"
    )


def panel_plane(where: Scene, place: PanelPlace) -> Plane:
    """The surface of a placed panel: its normal points at what it faces, its width stays level."""
    middle = where.panels[place.panel]
    target = where.face if place.face_to == "face" else where.heads[place.face_to]
    return plane(middle, towards(middle, target))


def facing_bearing_deg(setup: Setup, where: Scene) -> float:
    """Where the face points over the floor: 0 at the camera, plus to camera-right."""
    subject = setup.subject
    if subject.looks_at is not None:
        return bearing_deg(where.face, where.heads[subject.looks_at])
    return subject.facing_deg if subject.facing_side == "right" else -subject.facing_deg


@dataclass(frozen=True, slots=True)
class FaceDirection:
    """A direction seen from the face: degrees turned from where it points, and above the level."""

    turned_deg: float
    above_deg: float


def direction_from_face(face: Point, point: Point, facing_deg: float) -> FaceDirection:
    """Where a thing is for a face that points ``facing_deg`` off the camera; turned is 0 to 180."""
    turn = (bearing_deg(face, point) - facing_deg + 180) % 360 - 180
    return FaceDirection(abs(turn), tilt_deg(face, point))
