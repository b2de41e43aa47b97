"""Where face, lens, heads and panels are in a setup, what points where, and what the face sees.

Metres, the axes of ``runbook.model.geometry``; directions are unit vectors, angles in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, cos, degrees, hypot, radians, sin

from runbook.model.geometry import Point, along, bearing_deg, minus, stand_at, tilt_deg, towards
from runbook.model.kit import Kit
from runbook.model.panels import hung_stance, stance_of, wings_of
from runbook.model.setup import Light, Setup


def dot(a: Point, b: Point) -> float:
    """Return the scalar product of two vectors."""
    return a.x * b.x + a.y * b.y + a.z * b.z


def cosine_between(apex: Point, one: Point, other: Point) -> float:
    """Return the cosine of the angle at ``apex`` between two points."""
    return off_axis_cosine(apex, towards(apex, one), other)


def off_axis_cosine(origin: Point, axis: Point, point: Point) -> float:
    """Return the cosine of the angle between a beam's axis and the way from its origin to a point."""
    return max(-1.0, min(1.0, dot(axis, towards(origin, point))))


def degrees_of(cosine: float) -> float:
    """Return the angle of a cosine."""
    return degrees(acos(max(-1.0, min(1.0, cosine))))


@dataclass(frozen=True, slots=True)
class Plane:
    """A flat thing in the room: its middle, its level width, its height and its front's normal."""

    middle: Point
    across: Point
    up: Point
    normal: Point

    def local(self, point: Point) -> Point:
        """Return a point as metres across, up and in front of the middle."""
        way = minus(point, self.middle)
        return Point(dot(way, self.across), dot(way, self.up), dot(way, self.normal))

    def on_one_side(self, one: Point, other: Point) -> bool:
        """Return whether two points are on the same side."""
        return (self.local(one).z > 0) == (self.local(other).z > 0)

    def at(self, across_m: float, up_m: float) -> Point:
        """Return a point on the plane."""
        return along(along(self.middle, self.across, across_m), self.up, up_m)


def plane(middle: Point, normal: Point) -> Plane:
    """Return the plane with this unit normal; never rolled, so its width stays level."""
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
    """Return where everything in a setup is. Raises ValueError when a place is not real.

    The background's point is straight behind the face, at the height of the face.
    """
    face_m, view, behind = setup.subject.face_height_m, setup.view, setup.background
    return Scene(
        face=Point(0.0, 0.0, face_m),
        lens=stand_at("right", 0.0, view.distance_m, view.height_m, face_m),
        background=Point(0.0, -behind.distance_m, face_m) if behind else None,
        heads={light.head: light.point(face_m) for light in setup.lights},
        panels={place.panel: place.point(face_m) for place in setup.panels},
    )


def aim_point(where: Scene, light: Light) -> Point:
    """Return what a head's beam is centred on: the face, the background behind it, or a panel's middle.

    Raises ValueError when it is aimed at something the setup does not have.
    """
    target = {"background": where.background, **where.panels, "face": where.face}.get(light.aim)
    if target is None:
        raise ValueError(
            f"head {light.head} is aimed at {light.aim!r}, which is not in this setup; "
            "aim at face, at background with a [background] given, or at a panel placed here"
        )
    return target


def beam_axis(where: Scene, light: Light) -> Point:
    """Return the direction of a head's beam: to what it is aimed at, turned about the vertical where it is feathered.

    Raises ValueError as ``aim_point``, and where the side it is feathered to is not told apart.
    """
    start, end = where.heads[light.head], aim_point(where, light)
    axis, turn = towards(start, end), radians(light.feather_turn_deg(start, end))
    return Point(axis.x * cos(turn) + axis.y * sin(turn), axis.y * cos(turn) - axis.x * sin(turn), axis.z)


@dataclass(frozen=True, slots=True)
class Surface:
    """A flat rectangle: its front sends back a share of its light in all directions, ``passes`` goes straight on.

    ``scatters`` is the share that leaves its other side in all directions; what is ``two_sided`` does all this to light
    from either side. ``of`` is the panel that it is a wing of, or the cloth.
    """

    plane: Plane
    width_m: float
    height_m: float
    reflectance: float
    passes: float = 0.0
    of: str = ""
    scatters: float = 0.0
    two_sided: bool = False

    def crossed(self, one: Point, other: Point) -> bool:
        """Return whether the straight line between two points crosses it."""
        if self.plane.on_one_side(one, other):
            return False
        at = self._met(one, other)
        return abs(at.x) < self.width_m / 2 and abs(at.y) < self.height_m / 2

    def nearest_to(self, one: Point, other: Point) -> Point:
        """Return its point nearest to where the straight line between two points on its two sides meets its plane."""
        at, halves = self._met(one, other), (self.width_m / 2, self.height_m / 2)
        return self.plane.at(*(max(-half, min(half, off)) for half, off in zip(halves, at, strict=False)))

    def _met(self, one: Point, other: Point) -> Point:
        start, end = self.plane.local(one), self.plane.local(other)
        return along(start, minus(end, start), start.z / (start.z - end.z))


def surfaces_of(kit: Kit, setup: Setup) -> tuple[Surface, ...]:
    """Return every flat thing of a setup. Raises as ``stance_of``."""
    surfaces = []
    for place in setup.panels:
        panel = kit.panel[place.panel]
        reflects = panel.reflectance * (1 - panel.open_share)
        surfaces += [
            Surface(
                plane(wing.middle, wing.normal), panel.width_m, panel.height_m, reflects, panel.open_share, panel.id
            )
            for wing in wings_of(panel, stance_of(panel, place, setup))
        ]
    for hung in setup.hung_cloths:
        cloth = kit.cloth[hung.cloth]
        (sheet,) = wings_of(cloth, hung_stance(cloth, hung, setup))
        straight, scattered = cloth.passes * (1 - cloth.scatter), cloth.passes * cloth.scatter
        width_m, height_m = cloth.width_m or 0.0, cloth.height_m or 0.0
        on = plane(sheet.middle, sheet.normal)
        surfaces.append(
            Surface(on, width_m, height_m, cloth.reflectance, straight, cloth.id, scattered, two_sided=True)
        )
    return tuple(surfaces)


def direction_from_face(face: Point, point: Point, facing_deg: float) -> tuple[float, float]:
    """Return how far a thing is turned from where the face points (0 to 180), and how far above the level."""
    turn = (bearing_deg(face, point) - facing_deg + 180) % 360 - 180
    return abs(turn), tilt_deg(face, point)
