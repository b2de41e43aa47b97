"""The outline of each thing on the floor from straight above, to scale.

Metres, ``x`` to camera-right and ``y`` to the camera, so that a drawing with ``y`` down has the
camera at the bottom and camera-left at the left. Widths and depths are the kit's; camera, face and
the heads' bodies are symbols of a readable size.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, dist, radians, sin, tan
from typing import Final, Literal, NamedTuple

from runbook.changeover.floor import Floor, HeadAt
from runbook.changeover.room import column_of
from runbook.light.beam import field_spread_deg
from runbook.light.optics import picture_angle_deg
from runbook.model.geometry import BODY_M, Point, bearing_deg, column_at, ground_radius
from runbook.model.kit import Kit
from runbook.model.panels import foot_line

Role = Literal[
    "subject", "face", "camera", "picture", "head", "beam", "modifier", "gobo", "panel", "flag",
    "cloth", "hung", "stand", "arm", "background", "move",
]  # fmt: skip
Ghost = Literal["", "from", "to"]

FAR_M: Final = 2.5  # where a beam ends that is not aimed at anything on this floor
# The plan gives a background's distance and no width: 2.7 m, a common roll, or what the lens sees.
BACKGROUND_M: Final = 2.7
_BODY_M: Final = (0.14, BODY_M)  # a head from above: width, length
_EVEN_FROM_DEG: Final = 180.0  # from here on a light has no two edges to draw


class FloorPoint(NamedTuple):
    """A point on the floor."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Outline:
    """A line of a drawing: what it is of, whether that stands, leaves (from) or arrives (to), and its label."""

    role: Role
    points: tuple[FloorPoint, ...]
    closed: bool = False
    ghost: Ghost = ""
    item: str = ""


def point_along(at: FloorPoint, bearing: float, forward_m: float, right_m: float = 0.0) -> FloorPoint:
    """The point so far along a bearing, and so far to the right of it."""
    turn = radians(bearing)
    s, c = sin(turn), cos(turn)
    return FloorPoint(at.x + s * forward_m - c * right_m, at.y + c * forward_m + s * right_m)


def bearing_between(start: FloorPoint, end: FloorPoint) -> float:
    """The direction over the floor from one point to another: 0 is to the camera."""
    return bearing_deg(Point(*start, 0.0), Point(*end, 0.0))


FACE: Final = FloorPoint(0.0, 0.0)


# -- heads ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class HeadShape:
    """A head on its stand as the floor has it: the front of its modifier, and where it points."""

    front: FloorPoint
    bearing: float
    modifier: str
    accessories: tuple[str, ...]
    at: HeadAt


def head_shape(floor: Floor, head: str) -> HeadShape | None:
    """Where a head is; None when it is in somebody's hands."""
    at = floor.heads[head]
    stand = floor.stands.get(at.stand) if at.stand is not None else None
    if stand is None:
        return None
    front = FloorPoint(stand.spot.x, stand.spot.y)
    modifier = floor.modifier_on(head)
    fitted = floor.fitted_on("modifier", modifier) if modifier else floor.fitted_on("head", head)
    bearing = bearing_between(front, FACE) if at.aim is None else float(at.aim.bearing_deg)
    return HeadShape(front, bearing, modifier or "bare", fitted, at)


def _spread_deg(kit: Kit, shape: HeadShape) -> float:
    return field_spread_deg(kit, shape.modifier, shape.accessories)


def head_outlines(floor: Floor, kit: Kit, head: str) -> Iterator[Outline]:
    """A head's body, its modifier to its width and depth, and its beam to the field angle.

    A head that is off, or not dialled yet, has no beam.
    """
    shape = head_shape(floor, head)
    if shape is None:
        return
    front, bearing, modifier = shape.front, shape.bearing, kit.modifier[shape.modifier]
    back, (wide, long) = modifier.depth_m, _BODY_M
    yield Outline("head", _box(front, bearing, (-back - long, -back), (wide, wide)), closed=True)
    if modifier.width_m:
        ends = (max(wide, modifier.width_m * 0.3), modifier.width_m)
        yield Outline("modifier", _box(front, bearing, (-back, 0.0), ends), closed=True)
    if shape.at.power is not None and shape.at.power.fires:
        yield from _beam(floor, kit, shape)
    yield from _in_the_beam(floor, kit, head, shape)


def _across(at: FloorPoint, bearing: float, forward_m: float, wide_m: float) -> tuple[FloorPoint, FloorPoint]:
    """The ends of a line across a bearing, from left to right."""
    return point_along(at, bearing, forward_m, -wide_m / 2), point_along(at, bearing, forward_m, wide_m / 2)


def _box(
    at: FloorPoint, bearing: float, along: tuple[float, float], wide: tuple[float, float]
) -> tuple[FloorPoint, ...]:
    back_left, back_right = _across(at, bearing, along[0], wide[0])
    return (back_left, *_across(at, bearing, along[1], wide[1]), back_right)


def _reach_m(floor: Floor, shape: HeadShape) -> float:
    """Return how far a beam is drawn: to what it is aimed at."""
    target = shape.at.aim.target if shape.at.aim else ""
    if target in floor.panels:
        return dist(shape.front, panel_place(floor, target))
    if target == "face" or (target == "background" and _behind_m(floor)):
        return dist(shape.front, FACE if target == "face" else background_place(floor))
    return FAR_M


def _beam(floor: Floor, kit: Kit, shape: HeadShape) -> Iterator[Outline]:
    spread, reach = _spread_deg(kit, shape), _reach_m(floor, shape)
    if spread >= _EVEN_FROM_DEG:  # light all round: short rays
        for turn in range(0, 360, 45):
            yield Outline("beam", (point_along(shape.front, turn, 0.15), point_along(shape.front, turn, 0.4)))
        return
    one, other = (point_along(shape.front, shape.bearing + side * spread / 2, reach) for side in (-1, 1))
    yield Outline("beam", (one, shape.front, other))


def _in_the_beam(floor: Floor, kit: Kit, head: str, shape: HeadShape) -> Iterator[Outline]:
    """A gobo at its distance; a cloth halfway, as the plan does not say where it hangs."""
    wide = 2 * tan(radians(min(_spread_deg(kit, shape), 120.0) / 2))
    for accessory in shape.accessories:
        distance = kit.accessory[accessory].distance_m
        if distance is not None:
            yield Outline("gobo", _across(shape.front, shape.bearing, distance, distance * wide))
    if any(head in beams for beams in floor.cloths.values()):
        distance = _reach_m(floor, shape) / 2
        yield Outline("cloth", _across(shape.front, shape.bearing, distance, distance * wide))


# -- stands --------------------------------------------------------------------------------------


def _shape_on(floor: Floor, stand: str) -> HeadShape | None:
    head = floor.head_on(stand)
    return head_shape(floor, head) if head is not None else None


def stand_column(floor: Floor, kit: Kit, stand: str) -> FloorPoint:
    """Where a stand's load is: under its head's body, behind the depth of the modifier."""
    shape = _shape_on(floor, stand)
    if shape is None:
        column = column_of(floor, stand, kit)
        return FloorPoint(column.x, column.y)
    over = column_at(Point(*shape.front, 0.0), shape.bearing, kit.modifier[shape.modifier].depth_m)
    return FloorPoint(over.x, over.y)


def stand_outlines(floor: Floor, kit: Kit, stand: str) -> Iterator[Outline]:
    """A stand's legs to their length, one along its load; a boom's arm, and its base at the arm's pivot."""
    what, load, shape = kit.stand[stand], stand_column(floor, kit, stand), _shape_on(floor, stand)
    at, leg = stand_base(floor, kit, stand), shape.bearing if shape else bearing_between(load, FACE)
    if at != load:
        way = bearing_between(load, at)
        yield Outline("arm", (load, point_along(at, way, what.arm_back_m or 0.0)))
        leg = way + 180
    for n in range(what.legs):
        yield Outline("stand", (at, point_along(at, leg + 360 * n / what.legs, what.foot_radius_m)))


def stand_base(floor: Floor, kit: Kit, stand: str) -> FloorPoint:
    """The middle of a stand's legs: under its load, or at a boom's pivot.

    The plan does not know from where a boom's arm comes in: it is drawn from behind its head, turned
    as far as it takes to keep the base out of the picture and off the camera.
    """
    what, load = kit.stand[stand], stand_column(floor, kit, stand)
    if not (what.is_boom and what.arm_m):
        return load
    away, side = bearing_between(FACE, load), 1 if (load.x >= 0) == (load.y >= 0) else -1
    turns = (sign * turn for turn in range(0, 181, 15) for sign in (side, -side))
    bases = [point_along(load, away + turn, what.arm_m) for turn in turns]
    room_m = what.foot_radius_m
    free = (at for at in bases if dist(at, FACE) > 1.0 and not _in_picture(floor, kit, at, room_m))
    return next(free, bases[0])


def _in_picture(floor: Floor, kit: Kit, stand_base: FloorPoint, room_m: float) -> bool:
    """Whether something with so much room round it stands in the picture or on the camera."""
    lens = lens_place(floor)
    if lens is None:
        return False
    half = radians(picture_deg(floor, kit) / 2)
    before = lens.y - stand_base.y
    wide = max(before, 0.0) * sin(half) / cos(half)
    return before > -room_m - 0.5 and abs(stand_base.x) < wide + room_m


# -- panels, camera, subject ---------------------------------------------------------------------


def panel_place(floor: Floor, panel: str) -> FloorPoint:
    """Return the middle of a panel."""
    spot = floor.panel_spot(panel)
    return FloorPoint(spot.x, spot.y)


def panel_outlines(floor: Floor, kit: Kit, panel: str) -> Iterator[Outline]:
    """A panel or its wings to their width, a tilted one as deep as it looks; a mark on the side it works with."""
    spot, what, at = floor.panel_spot(panel), kit.panel[panel], panel_place(floor, panel)
    role: Role = "panel" if what.reflectance else "flag"
    deep = abs(what.height_m * sin(radians(spot.tilt_deg)))
    if deep:
        yield Outline(role, _box(at, spot.bearing_deg, (-deep / 2, deep / 2), (what.width_m,) * 2), closed=True)
    else:
        yield Outline(role, tuple(FloorPoint(p.x, p.y) for p in foot_line(what, spot.stance)))
    yield Outline(role, (at, point_along(at, spot.bearing_deg, 0.12)))


def cloth_outlines(floor: Floor, kit: Kit, cloth: str) -> Iterator[Outline]:
    """A hung cloth to its width, and a mark on the side it is turned to."""
    hung = floor.hung[cloth]
    yield Outline("hung", tuple(FloorPoint(p.x, p.y) for p in foot_line(kit.cloth[cloth], hung.stance)))
    at = FloorPoint(hung.x, hung.y)
    yield Outline("hung", (at, point_along(at, hung.bearing_deg, 0.12)))


def lens_place(floor: Floor) -> FloorPoint | None:
    """Where the lens is, when the floor has a camera."""
    if floor.view is None:
        return None
    face_m = floor.subject.face_height_m if floor.subject else floor.view.height_m
    return FloorPoint(0.0, ground_radius(floor.view.distance_m, floor.view.height_m, face_m))


def picture_deg(floor: Floor, kit: Kit) -> float:
    """The picture's angle from left to right; 0 without a camera or lens."""
    if floor.view is None or floor.lens is None:
        return 0.0
    short, long = sorted(kit.camera.sensor_mm)
    side = short if floor.view.orientation == "portrait" else long
    return picture_angle_deg(kit.lens[floor.lens].focal_mm, side)


def camera_place(floor: Floor) -> FloorPoint:
    """Return the point that names the camera, behind its lens."""
    lens = lens_place(floor) or FACE
    return FloorPoint(lens.x, lens.y + 0.2)


def camera_outlines(floor: Floor, kit: Kit, _name: str = "") -> Iterator[Outline]:
    """The camera behind its lens, and the edges of the picture on to the background."""
    lens = lens_place(floor)
    if lens is None:
        return
    wide, body = 0.14, 0.12
    box = [(-wide, body), (wide, body), (wide, body + 0.2), (-wide, body + 0.2)]
    yield Outline("camera", tuple(FloorPoint(x, lens.y + y) for x, y in box), closed=True)
    hood = [(-0.06, body), (-0.09, 0.0), (0.09, 0.0), (0.06, body)]
    yield Outline("camera", tuple(FloorPoint(x, lens.y + y) for x, y in hood))
    angle = picture_deg(floor, kit)
    if angle:
        behind = _behind_m(floor) or 0.8
        reach = (lens.y + behind) / cos(radians(angle / 2))
        left, right = (point_along(lens, 180 + side * angle / 2, reach) for side in (1, -1))
        yield Outline("picture", (left, lens, right))


def _behind_m(floor: Floor) -> float | None:
    return floor.subject.background_m if floor.subject else None


def background_place(floor: Floor) -> FloorPoint:
    """Return the point of the background straight behind the face."""
    return FloorPoint(0.0, -(_behind_m(floor) or 0.0))


def subject_outlines(floor: Floor, _kit: Kit, _name: str = "") -> Iterator[Outline]:
    """A head and shoulders, and an arrow where the face points."""
    if floor.subject is None:
        return
    way = float(floor.subject.facing_deg)
    rim = [radians(turn) for turn in range(0, 360, 20)]
    shoulders = tuple(point_along(FACE, way, 0.13 * cos(t) - 0.03, 0.24 * sin(t)) for t in rim)
    yield Outline("subject", shoulders, closed=True)
    yield Outline("subject", tuple(point_along(FACE, way, 0.1 * cos(t), 0.1 * sin(t)) for t in rim), closed=True)
    tip = point_along(FACE, way, 0.5)
    barbs = (point_along(tip, way, -0.12, -0.09), tip, point_along(tip, way, -0.12, 0.09))
    yield Outline("face", (point_along(FACE, way, 0.1), tip))
    yield Outline("face", barbs)


def background_outlines(floor: Floor, kit: Kit, _name: str = "") -> Iterator[Outline]:
    """The background, where there is one: as wide as a common roll, or as the picture."""
    behind = _behind_m(floor)
    if behind is None:
        return
    lens = lens_place(floor)
    seen = (lens.y + behind) * tan(radians(picture_deg(floor, kit) / 2)) if lens else 0.0
    wide = max(BACKGROUND_M / 2, seen + 0.2)
    yield Outline("background", (FloorPoint(-wide, -behind), FloorPoint(wide, -behind)))


def arrow(start: FloorPoint, end: FloorPoint) -> Iterator[Outline]:
    """An arrow from where a thing stands to where it goes; none for a move of a hand's width."""
    if dist(start, end) < 0.15:
        return
    way = bearing_between(start, end)
    barbs = (point_along(end, way, -0.16, -0.09), end, point_along(end, way, -0.16, 0.09))
    yield Outline("move", (start, end))
    yield Outline("move", barbs)
