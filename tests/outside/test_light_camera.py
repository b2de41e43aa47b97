"""Depth of field, angles of view, shadow edges and patterns, held against the outside.

Each check names its source and how far that source was read: seen, run (by another program),
derived (from the formula, no published number), or common practice without a source.
"""

from __future__ import annotations

from math import cos, hypot, radians, sin, tan

import pytest

from runbook.light.optics import (
    blur_circle_mm,
    depth_of_field,
    hyperfocal_m,
    picture_angle_deg,
    shadow_edge_m,
    size_deg,
)
from runbook.light.prediction import pattern
from runbook.light.scene import degrees_of, direction_from_face
from runbook.model.geometry import Point

FOOT_M, INCH_MM = 0.3048, 25.4
FACE = Point(0.0, 0.0, 0.0)


# 35 mm at f/11: 3.75 m, a calculator forum's example, seen. 50 mm at f/8: derived. US Army SS0507,
# learning event 10, seen: 2 in at f/8 20.8 ft (it leaves out "+ f", 2 in). US Navy NAVEDTRA 14209
# (1993), p. 40, seen: 6.1 in at f/2.8 554 ft.
@pytest.mark.parametrize(
    ("focal", "f", "blur", "metres", "within"),
    [
        (35, 11, 0.03, 3.75, 0.005),
        (50, 8, 0.03, 10.4667, 1e-4),
        (2 * INCH_MM, 8, 0.002 * INCH_MM, 20.8333 * FOOT_M + 2 * INCH_MM / 1000, 1e-3),
        (6.1 * INCH_MM, 2.8, 0.002 * INCH_MM, 554 * FOOT_M, FOOT_M),
    ],
)
def test_hyperfocal_distances(focal: float, f: float, blur: float, metres: float, within: float) -> None:
    assert hyperfocal_m(focal, f, blur) == pytest.approx(metres, abs=within)


# The Army's lens at its hyperfocal distance, sharp from 10.4 ft; the Navy's at 10 ft, sharp from 9.8
# to 10.2 ft: seen. 85 mm, f/8 at 2 m: thin-lens equation, run. Then ExifTool's DOF with its own blur
# circle, the diagonal over 1440: run.
@pytest.mark.parametrize(
    ("focal", "f", "at", "blur", "near", "far", "within"),
    [
        (2 * INCH_MM, 8, 20.8333 * FOOT_M + 2 * INCH_MM / 1000, 0.002 * INCH_MM, 10.4 * FOOT_M, None, 0.1 * FOOT_M),
        (6.1 * INCH_MM, 2.8, 10 * FOOT_M, 0.002 * INCH_MM, 9.8 * FOOT_M, 10.2 * FOOT_M, 0.05 * FOOT_M),
        (85, 8, 2, 0.03, 1.88038, 2.13587, 1e-5),
        (85, 8, 2, hypot(36, 24) / 1440, 1.880211, 2.136092, 2e-6),
        (50, 16, 3, hypot(36, 24) / 1440, 1.914152, 6.932784, 2e-6),
        (35, 8, 2.5, hypot(36, 24) / 1440, 1.684996, 4.841991, 2e-6),
    ],
)
def test_depths_of_field(  # noqa: PLR0917
    focal: float, f: float, at: float, blur: float, near: float, far: float | None, within: float
) -> None:
    sharp = depth_of_field(focal, f, at, blur)
    assert sharp.near_m == pytest.approx(near, abs=within)
    assert far is None or sharp.far_m == pytest.approx(far, abs=within)


# rec.photo lenses FAQ no. 11, seen: focused at an eighth of the hyperfocal distance, it is sharp
# from 8/9 to 8/7 of that distance (short form).
def test_an_eighth_of_the_hyperfocal_distance() -> None:
    at = hyperfocal_m(50, 8, 0.03) / 8
    sharp = depth_of_field(50, 8, at, 0.03)
    assert (sharp.near_m, sharp.far_m) == pytest.approx((at * 8 / 9, at * 8 / 7), rel=6e-3)


# The diagonal of 36 x 24 over 1500 is 0.0288 mm: common practice, the number derived.
def test_the_blur_circle_of_a_full_frame() -> None:
    assert blur_circle_mm((36.0, 24.0)) == pytest.approx(0.02884, abs=1e-5)


# 50 mm on 36 x 24: 39.6 x 27.0 x 46.8, a photo wiki, seen. 85, 35, 200 mm on 36: ExifTool's FOV,
# run. On 44 wide: a conversion encyclopaedia's table, seen.
@pytest.mark.parametrize(
    ("focal", "side", "angle", "within"),
    [
        (50, 36, 39.6, 0.05),
        (50, 24, 27.0, 0.05),
        (50, hypot(36, 24), 46.8, 0.05),
        (85, 36, 23.913, 1e-3),
        (35, 36, 54.432, 1e-3),
        (200, 36, 10.286, 1e-3),
        (24, 44, 85.020894, 1e-6),
        (85, 44, 29.022119, 1e-6),
        (100, 44, 24.814837, 1e-6),
    ],
)
def test_angles_of_view(focal: float, side: float, angle: float, within: float) -> None:
    assert picture_angle_deg(focal, side) == pytest.approx(angle, abs=within)


# A textbook's shadow problem: source 40 cm, edge 30 cm off it, screen 30 cm beyond: 40 cm of soft
# edge, seen. 0.6 m at 1.5 m, edge 1 m and 2 cm from the wall: derived.
@pytest.mark.parametrize(
    ("size", "to_edge", "to_wall", "wide"),
    [(0.4, 0.3, 0.3, 0.4), (0.6, 1.5, 1.0, 0.4), (0.6, 1.5, 0.02, 0.008), (0.18, 1.5, 1.0, 0.12)],
)
def test_shadow_edges(size: float, to_edge: float, to_wall: float, wide: float) -> None:
    assert shadow_edge_m(size, to_edge, to_wall) == pytest.approx(wide)


# A beam of 10, 20, 30, 40 degrees is 0.35, 0.7053, 1.0718, 1.4559 m wide at 2 m: derived. Looked
# at from there, a source so wide fills that angle.
@pytest.mark.parametrize(("angle", "wide"), [(10, 0.35), (20, 0.7053), (30, 1.0718), (40, 1.4559)])
def test_angles_and_widths(angle: float, wide: float) -> None:
    assert size_deg(wide, 2) == pytest.approx(angle, abs=0.02)
    assert 2 * 2 * tan(radians(angle / 2)) == pytest.approx(wide, abs=1e-4)


# A light at (1, 1, 1): 45 degrees round, 35.2644 up, astropy's spherical coordinates, run. The face
# turned 30 degrees to it leaves 15: scipy's Rotation, run.
def test_directions_from_the_face() -> None:
    seen = direction_from_face(FACE, Point(1.0, 1.0, 1.0), 0.0)
    turned = direction_from_face(FACE, Point(1.0, 1.0, 1.0), 30.0)
    assert seen == pytest.approx((45, 35.2644), abs=1e-4)
    assert turned == pytest.approx((15, 35.2644), abs=1e-4)


# 35 degrees round and 40 up are 51.13358 from straight ahead: astropy's angular_separation, run.
def test_an_angle_from_two() -> None:
    straight = cos(radians(35)) * cos(radians(40))
    assert degrees_of(straight) == pytest.approx(51.13358, abs=1e-5)


# Common practice, no source for the angles: US Army SS0510 and US Navy NAVEDTRA 14209 name the
# patterns without any (seen). A light straight before the face makes a butterfly, at its side a
# split, behind it a rim, in between loop and Rembrandt.
@pytest.mark.parametrize(("turned", "name"), [(0, "butterfly"), (30, "loop"), (45, "Rembrandt"), (90, "split")])
def test_the_trades_patterns(turned: float, name: str) -> None:
    light = Point(sin(radians(turned)), cos(radians(turned)), 0.5)
    assert pattern(*direction_from_face(FACE, light, 0.0)) == name


# Common practice, no source: a face that looks at a key 45 degrees off the camera keeps the
# butterfly; turned away from it by as much again it is split.
def test_a_face_that_looks_at_its_key_is_a_butterfly() -> None:
    key = Point(-1.0, 1.0, 0.6)
    assert pattern(*direction_from_face(FACE, key, -45.0)) == "butterfly"
    assert pattern(*direction_from_face(FACE, key, 45.0)) == "split"


# Common practice, no source: a bigger or nearer source is softer, a bare head's edge is crisp.
def test_bigger_or_nearer_is_softer() -> None:
    def edge(size: float, distance: float) -> float:
        return shadow_edge_m(size, distance, 0.02)

    assert edge(1.5, 1.4) > edge(0.9, 1.4) > edge(0.9, 2.8) > edge(0.0, 1.4) == 0
    assert size_deg(1.5, 1.4) > size_deg(0.9, 1.4) > size_deg(0.9, 2.8)
