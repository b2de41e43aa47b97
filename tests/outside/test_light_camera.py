"""Depth of field, angles of view, shadow edges and patterns, held against the outside.

Each check names its source and how far that source was read: seen, run (by another program),
derived (from the formula, no published number), or common practice without a source.
"""

from math import cos, hypot, radians, sin

from runbook.light import optics
from runbook.light.prediction import pattern
from runbook.light.scene import degrees_of, direction_from_face
from runbook.model.geometry import Point
from tests.outside.published import agree, published, rows

FOOT_M, INCH_MM = 0.3048, 25.4
FACE, CORNER = Point(0.0, 0.0, 0.0), Point(1.0, 1.0, 1.0)
EXIF_MM = hypot(36, 24) / 1440
ARMY, NAVY = (2 * INCH_MM, 8), (6.1 * INCH_MM, 2.8)
BLUR_MM = 0.002 * INCH_MM
EIGHTH_M = optics.hyperfocal_m(50, 8, 0.03) / 8


def near_m(focal_mm: float, f: float, at_m: float, blur_mm: float) -> float:
    return optics.depth_of_field(focal_mm, f, at_m, blur_mm).near_m


def far_m(focal_mm: float, f: float, at_m: float, blur_mm: float) -> float:
    return optics.depth_of_field(focal_mm, f, at_m, blur_mm).far_m


def pattern_at(light_deg: float, face_deg: float) -> str | None:
    light = Point(sin(radians(light_deg)), cos(radians(light_deg)), 0.5)
    return pattern(*direction_from_face(FACE, light, face_deg))


@published(
    # US Army SS0507, learning event 10, seen: 2 in at f/8, blur 0.002 in: 20.8 ft, sharp from 10.4 ft. The
    # handbook leaves out "+ f", 2 in.
    rows(optics.hyperfocal_m, 1e-3, {(*ARMY, BLUR_MM): 20.8333 * FOOT_M + 0.0508}),
    rows(near_m, 0.1 * FOOT_M, {(*ARMY, 20.8 * FOOT_M, BLUR_MM): 10.4 * FOOT_M}),
    # US Navy NAVEDTRA 14209 (1993), p. 40, seen: 6.1 in at f/2.8 gives 554 ft; focused at 10 ft, it is sharp
    # from 9.8 to 10.2 ft.
    rows(optics.hyperfocal_m, FOOT_M, {(*NAVY, BLUR_MM): 554 * FOOT_M}),
    rows(near_m, 0.05 * FOOT_M, {(*NAVY, 10 * FOOT_M, BLUR_MM): 9.8 * FOOT_M}),
    rows(far_m, 0.05 * FOOT_M, {(*NAVY, 10 * FOOT_M, BLUR_MM): 10.2 * FOOT_M}),
    # 35 mm at f/11, blur 0.03 mm: a calculator forum's example, seen. 50 mm at f/8: derived.
    rows(optics.hyperfocal_m, 0.005, {(35, 11, 0.03): 3.75}),
    rows(optics.hyperfocal_m, 1e-4, {(50, 8, 0.03): 10.4667}),
    # rec.photo lenses FAQ no. 11, seen: focused at an eighth of the hyperfocal distance, it is sharp from 8/9
    # to 8/7 of that distance (short form).
    rows(near_m, 7e-3, {(50, 8, EIGHTH_M, 0.03): EIGHTH_M * 8 / 9}),
    rows(far_m, 9e-3, {(50, 8, EIGHTH_M, 0.03): EIGHTH_M * 8 / 7}),
    # Thin-lens equation, run.
    rows(near_m, 1e-5, {(85, 8, 2, 0.03): 1.88038}),
    rows(far_m, 1e-5, {(85, 8, 2, 0.03): 2.13587}),
    # ExifTool's DOF with its own blur circle, the diagonal over 1440: run.
    rows(
        near_m, 2e-6, {(85, 8, 2, EXIF_MM): 1.880211, (50, 16, 3, EXIF_MM): 1.914152, (35, 8, 2.5, EXIF_MM): 1.684996}
    ),
    rows(far_m, 2e-6, {(85, 8, 2, EXIF_MM): 2.136092, (50, 16, 3, EXIF_MM): 6.932784, (35, 8, 2.5, EXIF_MM): 4.841991}),
    # The diagonal of 36 x 24 over 1500 is 0.0288 mm: common practice, the number derived.
    rows(optics.blur_circle_mm, 1e-5, {((36.0, 24.0),): 0.02884}),
    # 50 mm on 36 x 24 and its diagonal: a photo wiki, seen. ExifTool's FOV, run. On 44 wide: a conversion
    # encyclopaedia's table, seen.
    rows(optics.picture_angle_deg, 0.05, {(50, 36): 39.6, (50, 24): 27.0, (50, hypot(36, 24)): 46.8}),
    rows(optics.picture_angle_deg, 1e-3, {(85, 36): 23.913, (35, 36): 54.432, (200, 36): 10.286}),
    rows(optics.picture_angle_deg, 1e-6, {(24, 44): 85.020894, (85, 44): 29.022119, (100, 44): 24.814837}),
    # A textbook's shadow problem: source 40 cm, edge 30 cm off it, screen 30 cm beyond: 40 cm of soft edge,
    # seen. The others derived.
    rows(optics.shadow_edge_m, 1e-6, {(0.4, 0.3, 0.3): 0.4}),
    rows(optics.shadow_edge_m, 1e-6, {(0.6, 1.5, 1.0): 0.4, (0.6, 1.5, 0.02): 0.008, (0.18, 1.5, 1.0): 0.12}),
    # A source as wide as a beam of 10, 20, 30, 40 degrees is at 2 m fills that angle: derived.
    rows(optics.size_deg, 0.02, {(0.35, 2): 10, (0.7053, 2): 20, (1.0718, 2): 30, (1.4559, 2): 40}),
    # A light at (1, 1, 1): astropy's spherical coordinates, run; the face turned to it: scipy's Rotation, run.
    rows(direction_from_face, 1e-4, {(FACE, CORNER, 0.0): (45, 35.2644), (FACE, CORNER, 30.0): (15, 35.2644)}),
    # 35 degrees round and 40 up from straight ahead: astropy's angular_separation, run.
    rows(degrees_of, 1e-5, {(cos(radians(35)) * cos(radians(40)),): 51.13358}),
    # Common practice, no source for the angles: US Army SS0510 and US Navy NAVEDTRA 14209 name the patterns
    # without any (seen). A light straight before the face makes a butterfly, at its side a split, in between loop
    # and Rembrandt; a face that looks at its key keeps the butterfly, one that turns away is split.
    rows(pattern_at, 0, {(0, 0): "butterfly", (30, 0): "loop", (45, 0): "Rembrandt", (90, 0): "split"}),
    rows(pattern_at, 0, {(-45, -45): "butterfly", (-45, 45): "split"}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)


# Common practice, no source: a bigger or nearer source is softer, a bare head's edge is crisp.
def test_bigger_or_nearer_is_softer() -> None:
    edges = [
        optics.shadow_edge_m(size, distance, 0.02)
        for size, distance in ((1.5, 1.4), (0.9, 1.4), (0.9, 2.8), (0.0, 1.4))
    ]
    assert edges[0] > edges[1] > edges[2] > edges[3] == 0
    assert optics.size_deg(1.5, 1.4) > optics.size_deg(0.9, 1.4) > optics.size_deg(0.9, 2.8)
