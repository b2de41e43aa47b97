"""Panels and hung cloths in the room: which way each looks, its flat wings, and the lines it stands on.

A panel of one wing has its middle at its placement; its front looks at what it faces, then tilts. Two
wings stand upright: their hinge is at the placement, and the middle of the angle between them looks
there. A hung cloth is upright too, and only turns.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import Final

from runbook.model.geometry import BODY_M, Point, along, bearing_deg, tilt_deg, towards
from runbook.model.kit import Cloth, Panel
from runbook.model.setup import HungCloth, PanelPlace, Setup

# From the middle of a panel to the column of the stand that holds it, as for a bare head: our own figure.
BEHIND_M: Final = BODY_M / 2
OPEN_DEG: Final = 90.0  # between two wings where a setup does not give it
_NOWHERE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Wing:
    """One flat rectangle of a panel: its middle and the unit vector that its front looks along."""

    middle: Point
    normal: Point


@dataclass(frozen=True, slots=True)
class Stance:
    """How a panel stands: its middle or hinge, where it looks, and the angle between two wings, None for one."""

    at: Point
    bearing_deg: float
    tilt_deg: float
    open_deg: float | None


def open_deg_of(panel: Panel | None, place: PanelPlace) -> float | None:
    """Return the angle between the wings of a panel; None for one wing."""
    if panel is None or panel.wings == 1:
        return None
    return OPEN_DEG if place.open_deg is None else place.open_deg


def stance_of(panel: Panel | None, place: PanelPlace, setup: Setup) -> Stance:
    """Return how a setup wants a panel to stand.

    Raises ValueError when its place is not real or it has no direction to look in, KeyError when it looks at
    a head that the setup does not have.
    """
    face_m = setup.subject.face_height_m
    at, face = place.point(face_m), Point(0.0, 0.0, face_m)
    end = face if place.face_to == "face" else setup.light[place.face_to].point(face_m)
    if place.catches is not None:
        to_head, to_face = towards(at, setup.light[place.catches].point(face_m)), towards(at, face)
        half_way = Point(to_head.x + to_face.x, to_head.y + to_face.y, to_head.z + to_face.z)
        if hypot(*half_way) < _NOWHERE:
            raise ValueError(f"it stands straight between {place.catches} and the face; move it out of that line")
        end = along(at, half_way, 1.0)
    open_deg = open_deg_of(panel, place)
    if open_deg is not None and hypot(end.x - at.x, end.y - at.y) < _NOWHERE:
        raise ValueError("its wings stand upright and cannot look straight up or down; move it to a side")
    tilt = tilt_deg(at, end) + place.tilt_deg if open_deg is None else 0.0
    return Stance(at, bearing_deg(at, end), tilt, open_deg)


def hung_stance(cloth: Cloth, hung: HungCloth, setup: Setup) -> Stance:
    """Return how a setup wants a cloth to hang: its middle, and where its front looks. Raises as ``stance_of``."""
    face_m = setup.subject.face_height_m
    at = hung.point(cloth, face_m)
    end = Point(0.0, 0.0, face_m) if hung.face_to == "face" else setup.light[hung.face_to].point(face_m)
    if hypot(end.x - at.x, end.y - at.y) < _NOWHERE:
        raise ValueError("it hangs upright and cannot look straight up or down; move it to a side")
    return Stance(at, bearing_deg(at, end), 0.0, None)


def wings_of(panel: Panel | Cloth, stance: Stance) -> tuple[Wing, ...]:
    """Return the flat surfaces of a panel or a hung cloth."""
    at, bearing = stance.at, stance.bearing_deg
    if stance.open_deg is None:
        level = cos(radians(stance.tilt_deg))
        way = _level(bearing)
        return (Wing(at, Point(way.x * level, way.y * level, sin(radians(stance.tilt_deg)))),)
    ends, half_m = wing_bearings(bearing, stance.open_deg), (panel.width_m or 0.0) / 2
    return tuple(
        Wing(along(at, _level(end), half_m), _level(end + inward))
        for end, inward in zip(ends, (90.0, -90.0), strict=True)
    )


def wing_bearings(bearing: float, open_deg: float | None) -> tuple[float, float]:
    """Return the two directions over the floor in which a panel runs from its placement."""
    half = 90.0 if open_deg is None else open_deg / 2
    return bearing - half, bearing + half


def foot_line(panel: Panel | Cloth | None, stance: Stance) -> tuple[Point, Point, Point]:
    """Return the line a panel stands on, or a cloth hangs over, seen from above: one end, its placement, the other."""
    width = (panel and panel.width_m) or 0.0
    run = width / 2 if stance.open_deg is None else width
    one, other = (along(stance.at, _level(way), run) for way in wing_bearings(stance.bearing_deg, stance.open_deg))
    return one, stance.at, other


def _level(bearing: float) -> Point:
    return Point(sin(radians(bearing)), cos(radians(bearing)), 0.0)
