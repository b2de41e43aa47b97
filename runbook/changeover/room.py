"""Room on the floor: what a stand or panel takes up, and what the running setup needs clear.

A body is points over the floor with a radius round them. A stand is the strip from the front of its
load to its column, as wide as its feet; a panel is the line it stands on, a hung cloth the line it hangs over.
The plan does not say where a boom's stand is, so a boom takes up the place under its head.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import asin, atan2, ceil, degrees, dist, hypot
from typing import Final

from runbook.changeover.floor import Floor
from runbook.light.optics import picture_angle_deg
from runbook.model.geometry import Point, column_at
from runbook.model.kit import Kit
from runbook.model.panels import foot_line

# How far a person on the mark reaches, arm out and leaning a little: common practice, no source.
ARM_M: Final = 0.9
# A stand behind what a beam is aimed at, by more than this, shades nothing that is lit.
_BEHIND_TARGET_M: Final = 1.0
_BACKGROUND_M: Final = 2.0  # where a head aimed at the background points when the plan is silent
_PANEL_EDGE_M: Final = 0.1
_STEP_M: Final = 0.2
_NO_FEET_M: Final = 0.5  # of a stand that the kit no longer has

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Body:
    """What a thing takes up on the floor: points in m, and the radius round each of them."""

    points: tuple[Spot, ...]
    radius_m: float


def body_of(kind: str, item: str, floor: Floor, kit: Kit) -> Body:
    """Return what a stand, panel or hung cloth of a floor takes up."""
    if kind in ("panel", "cloth"):
        flat = kit.panel.get(item) if kind == "panel" else kit.cloth.get(item)
        at = floor.panel_spot(item) if kind == "panel" else floor.hung[item]
        one, middle, other = ((p.x, p.y) for p in foot_line(flat, at.stance))
        return Body((*_line(one, middle), *_line(middle, other)), _PANEL_EDGE_M)
    spot, stand = floor.stands[item].spot, kit.stand.get(item)
    front = (spot.x, spot.y)
    feet_m = stand.foot_radius_m if stand else _NO_FEET_M
    if stand is not None and stand.is_boom:
        return Body((front,), max(feet_m, _load_width_m(floor, item, kit) / 2))
    column = column_of(floor, item, kit)
    return Body(_line(front, (column.x, column.y)), feet_m)


def column_of(floor: Floor, stand: str, kit: Kit) -> Point:
    """Return where the column of a stand is: behind its load as that looks; at its spot where nothing tells."""
    spot, (kind, item) = floor.stands[stand].spot, floor.load_on(stand) or ("rail", "")
    front = Point(spot.x, spot.y, 0.0)
    if kind == "rail":
        return front
    turned = floor.panels[item] if kind == "panel" else floor.heads[item].aim
    box = kit.modifier.get(floor.modifier_on(item) or "")
    return column_at(front, turned.bearing_deg, box.depth_m if box else 0.0) if turned else front


def _load_width_m(floor: Floor, stand: str, kit: Kit) -> float:
    """Return how wide a stand's load is: its modifier, or the panel from edge to edge."""
    kind, item = floor.load_on(stand) or ("head", "")
    if kind == "panel":
        panel = kit.panel.get(item)
        return panel.width_m * panel.wings if panel else 0.0
    if kind == "rail":
        return 0.0  # the cloth between its stands is a thing of its own
    box = kit.modifier.get(floor.modifier_on(item or None) or "")
    return box.width_m if box else 0.0


def overlap(one: Body, other: Body) -> bool:
    """Return whether two things cannot stand there at once: one is within the other's feet."""
    clear_m = max(one.radius_m, other.radius_m)
    return any(dist(a, b) < clear_m for a in one.points for b in other.points)


def disturbs(kind: str, item: str, goal: Floor, running: Floor, kit: Kit) -> bool:
    """Return whether a thing at its place would be in the running setup's way.

    In its picture, in one of its beams, or within arm's reach of the subject. A panel or a cloth counts as
    in a beam however far behind the subject: it would send the light back.
    """
    body = body_of(kind, item, goal, kit)
    if kind == "stand":
        body = replace(body, radius_m=max(body.radius_m, _load_width_m(goal, item, kit) / 2))
        kind = (goal.load_on(item) or (kind, item))[0]
    if any(hypot(*point) < ARM_M + body.radius_m for point in body.points):
        return True
    return _in_picture(body, running, kit) or any(
        _in_beam(body, head, running, kit, endless=kind in ("panel", "cloth")) for head in running.heads
    )


def _in_picture(body: Body, floor: Floor, kit: Kit) -> bool:
    lens = kit.lens.get(floor.lens or "")
    if floor.view is None or lens is None:
        return True  # nobody knows what the camera sees
    wide, high = kit.camera.sensor_mm
    side_mm = wide if floor.view.orientation == "landscape" else high
    half_deg = picture_angle_deg(lens.focal_mm, side_mm) / 2
    return _in_cone(body, (0.0, floor.view.distance_m), 180.0, half_deg)


def _in_beam(body: Body, head: str, floor: Floor, kit: Kit, *, endless: bool) -> bool:
    at = floor.heads[head]
    if at.stand is None or at.aim is None or not at.armed:
        return False
    spot = floor.stands[at.stand].spot
    front = (spot.x, spot.y)
    if not endless:
        far_m = dist(front, _target(at.aim.target, floor)) + _BEHIND_TARGET_M
        if all(dist(front, point) - body.radius_m > far_m for point in body.points):
            return False
    return _in_cone(body, front, at.aim.bearing_deg, _spread_deg(head, floor, kit) / 2)


def _target(target: str, floor: Floor) -> Spot:
    if target in floor.panels:
        spot = floor.panel_spot(target)
        return spot.x, spot.y
    if target == "background":
        behind = floor.subject.background_m if floor.subject else None
        return 0.0, -(behind or _BACKGROUND_M)
    return 0.0, 0.0


def _spread_deg(head: str, floor: Floor, kit: Kit) -> float:
    """Return the angle a head lights: of the last accessory that has one, else of the modifier."""
    modifier = floor.modifier_on(head)
    fitted = floor.fitted_on("modifier", modifier) if modifier else floor.fitted_on("head", head)
    known = [kit.accessory[item].spread_deg for item in fitted if item in kit.accessory]
    given = [spread for spread in known if spread is not None]
    box = kit.modifier.get(modifier or "bare")
    return given[-1] if given else (box.field_deg if box else 360.0)


def _in_cone(body: Body, apex: Spot, bearing_deg: float, half_deg: float) -> bool:
    """Return whether any of a body is within an angle over the floor."""
    for point in body.points:
        away_m = dist(point, apex)
        if away_m <= body.radius_m:
            return True
        at_deg = degrees(atan2(point[0] - apex[0], point[1] - apex[1]))
        off_deg = abs((at_deg - bearing_deg + 180) % 360 - 180)
        if off_deg <= half_deg + degrees(asin(body.radius_m / away_m)):
            return True
    return False


def _line(start: Spot, end: Spot) -> tuple[Spot, ...]:
    """Return points from one to the other, both included, close enough to leave no gap."""
    count = max(ceil(dist(start, end) / _STEP_M), 1)
    return tuple(
        (start[0] + (end[0] - start[0]) * n / count, start[1] + (end[1] - start[1]) * n / count)
        for n in range(count + 1)
    )
