"""The face's shading, held against closed forms, the trade's patterns, and what ``runbook light`` says of the same set.

A sphere's seen and lit shares are derived from Lambert's cosine law; sRGB codes from the constants of IEC 61966-2-1
(second-hand). The patterns are common practice without published angles, so each is tried well inside its band.
"""

from dataclasses import replace
from functools import cache
from math import acos, atan, cos, degrees, log2, pi, radians, sin

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from runbook.light.beam import Beam
from runbook.light.beam import Source as Front
from runbook.light.face import Pose, Seen, Source, encoded, head_source, light_on, light_sources, render_face, seen_from
from runbook.light.head_shape import FACE_Y_M, Shape, ellipsoids, head_shape
from runbook.light.prediction import LitSetup, Prediction, predict
from runbook.light.scene import scene, surfaces_of
from runbook.light.shade import Shade
from runbook.light.stops import f_number
from runbook.model.geometry import Point, towards
from runbook.model.kit import Panel
from runbook.model.setup import Setup, Subject
from tests.light.conftest import Studio

R = 0.1
FAR = 1000.0
MIDDLE = Point(0.0, 0.0, 1.5)
AT_MIDDLE = Pose(Point(0.0, FACE_Y_M, 1.5), 0.0)
STUDIO = Studio()
BARE, BOX = "tube", "octa-90"


@cache
def sphere() -> Shape:
    return ellipsoids(((0.0, 0.0, 0.0), (R, R, R), 0.0, 0.01))


def at(turn_deg: float, far_m: float, above_deg: float = 0.0) -> Point:
    """A point round the middle: 0 degrees at the camera, plus to camera-right."""
    level = far_m * cos(radians(above_deg))
    return Point(level * sin(radians(turn_deg)), level * cos(radians(turn_deg)), 1.5 + far_m * sin(radians(above_deg)))


def lamp(turn_deg: float, far_m: float, side_m: float = 0.0, above_deg: float = 0.0) -> Source:
    """A lamp, a point or a square, that gives 1 where it reaches the middle."""
    front = Front("rectangle", side_m, side_m) if side_m else Front("bare")
    origin = at(turn_deg, far_m, above_deg)
    return head_source(Beam(origin, towards(origin, MIDDLE), front, -log2(front.share(far_m))), MIDDLE)


def ball(lens_m: float = 200.0, rows: int = 150) -> Seen:
    return seen_from(at(0, lens_m), AT_MIDDLE, rows, rows, shape=sphere())


def falls(seen: Seen, *sources: Source) -> NDArray[np.float64]:
    return light_on(seen, Shade(()), sources).astype(float)


def points_of(points: NDArray[np.float64]) -> Seen:
    """Points of the sphere, wherever the camera is."""
    found = points.astype(np.float32)
    part = np.zeros(len(found), np.intp)
    return Seen(sphere(), AT_MIDDLE, found, sphere().normals(found), part, np.arange(len(found)))


def arc(angles_deg: NDArray[np.float64]) -> Seen:
    """Points of the sphere at angles from its axis to camera-right."""
    turn = np.radians(angles_deg)
    return points_of(R * np.column_stack((np.cos(turn), np.sin(turn), np.zeros_like(turn))))


def test_ray_meets_ellipsoid() -> None:
    # derived: the quadratic of a ray and an ellipsoid, worked out apart
    shape = ellipsoids(((0.01, 0.02, -0.03), (0.076, 0.095, 0.115), 0.0, 0.01))
    start, way = np.array((0.0, 2.6, 0.0)), np.array(((0.01, -2.6, 0.01),))
    way /= np.linalg.norm(way)
    away, part = shape.first_hits(start, way)
    point = start + way * away[:, None]
    assert away == pytest.approx([2.490842335], abs=1e-6) and part.tolist() == [0]
    assert point[0] == pytest.approx([0.00958002, 0.10919451, 0.00958002], abs=1e-6)
    assert shape.normals(point)[0] == pytest.approx([-0.0070412, 0.95705562, 0.28981883], abs=1e-5)


# means of men and women: where on the midline the head is how far forward, and half its breadth; mm
MIDLINE = {  # ANSUR 1988, report ADA225094, second-hand; from half-way up and half-way back
    "brow": (20, 98), "nose root": (4, 96), "nose tip": (-35, 117), "mouth": (-68, 99), "chin": (-95, 94)
}  # fmt: skip
BREADTHS = {"head": (30, 75.5), "cheekbones": (-16, 69), "jaw corners": (-78, 57)}  # the first two ANSUR II, seen


@pytest.mark.parametrize("place", MIDLINE)
def test_profile_is_that_of_a_measured_head(place: str) -> None:
    z, forward = MIDLINE[place]
    away, _ = head_shape().first_hits(np.array((0.0, 1.0, z / 1000)), np.array(((0.0, -1.0, 0.0),)))
    assert 1000 * (1 - away[0]) == pytest.approx(forward, abs=4)


@pytest.mark.parametrize("place", BREADTHS)
def test_breadth_is_that_of_a_measured_head(place: str) -> None:
    z, half = BREADTHS[place]
    rows = np.linspace(0.012, 0.09, 60)  # before the ears
    away = [head_shape().first_hits(np.array((1.0, y, z / 1000)), np.array(((-1.0, 0.0, 0.0),)))[0][0] for y in rows]
    assert 1000 * (1 - min(away)) == pytest.approx(half, abs=4)


@pytest.mark.parametrize("angle", [0, 30, 45, 60, 90, 120])
def test_light_falls_with_cosine(angle: float) -> None:
    (fell,) = falls(arc(np.array([float(angle)])), lamp(90, FAR))
    assert fell == pytest.approx(max(cos(radians(angle)), 0.0), abs=5e-4)


@pytest.mark.parametrize(
    ("turn", "mean"), [(0, 0.6667), (30, 0.5872), (45, 0.5036), (60, 0.4060), (90, 0.2122), (120, 0.0727)]
)
def test_mean_brightness_of_matt_sphere(turn: float, mean: float) -> None:
    # (2/3π)(sin a + (π - a) cos a), a between far source and camera
    seen = ball()
    a = radians(turn)
    assert 2 / (3 * pi) * (sin(a) + (pi - a) * cos(a)) == pytest.approx(mean, abs=1e-4)
    assert falls(seen, lamp(turn, FAR)).mean() == pytest.approx(mean, abs=4e-3)


@pytest.mark.parametrize(("turn", "lit"), [(45, 0.8536), (90, 0.5), (135, 0.1464)])
def test_lit_share_of_seen_disc(turn: float, lit: float) -> None:
    seen = ball()
    assert (falls(seen, lamp(turn, FAR)) > 0).mean() == pytest.approx(lit, abs=6e-3)


@pytest.mark.parametrize("far", [0.5, 1.0, 1.4, 2.0, 4.0])
def test_terminator_of_near_source(far: float) -> None:
    edge = degrees(acos(R / far))
    fell = falls(arc(edge + np.array([-1.0, -0.01, 0.01, 1.0])), lamp(90, far))
    assert (fell > 0).tolist() == [True, True, False, False]


@pytest.mark.parametrize(("side", "far"), [(0.6, 1.4), (0.05, 2.4), (1.2, 1.0)])
def test_soft_band_at_terminator(side: float, far: float) -> None:
    # as wide as the source looks, 2 atan(s / 2e); its points stop short of its rim
    half, angles = degrees(atan(side / 2 / far)), np.linspace(20.0, 150.0, 2601)
    point, square = (angles[falls(arc(angles), lamp(90, far, size)) > 0].max() for size in (0.0, side))
    assert 0.8 * half < square - point < 1.05 * half


def test_two_sources_add() -> None:
    seen = ball(2.6, 60)
    one, other = lamp(40, 1.4), lamp(-70, 2.0, 0.6)
    assert falls(seen, one, other) == pytest.approx(falls(seen, one) + falls(seen, other), abs=1e-5)


@pytest.mark.parametrize(("grey", "code"), [(0.18, 118), (0.01, 25), (0.5, 188), (0.9, 243), (0.0, 0), (3.0, 255)])
def test_srgb_code(grey: float, code: int) -> None:
    assert int(encoded(grey)) == code


@pytest.mark.parametrize(
    ("stops", "code"), [(0, 118), (-1, 85), (-2, 60), (-3, 41), (-5, 17), (-7, 5), (1, 162), (2, 221)]
)
def test_mid_grey_by_stops(stops: float, code: int) -> None:
    assert int(encoded(0.18 * 2.0**stops)) == code


# -- a head in a set -------------------------------------------------------------------------------


def lit_setup(setup: Setup, lux: float = 0.0) -> LitSetup:
    plan = STUDIO.plan(setup, lux=lux)
    return LitSetup(plan.kit, setup, predict(plan, setup))


def one_light(turn: float, above: float, modifier: str = BARE, far: float = 1.4) -> Setup:
    """A head round a face at 1.5 m, camera-left plus, the face turned to the camera."""
    side, height = "left" if turn >= 0 else "right", 1.5 + far * sin(radians(above))
    light = STUDIO.light(side=side, angle_deg=abs(turn), distance_m=far, height_m=height, modifier=modifier)
    return STUDIO.setup(light, subject=Subject(1.5))


class Picture:
    """The points of a head that the camera sees, and the light on them."""

    def __init__(self, lit: LitSetup, columns: int = 100, rows: int = 120) -> None:
        where, shade = scene(lit.setup), Shade(surfaces_of(lit.kit, lit.setup))
        pose = Pose(where.face, lit.setup.facing_deg)
        self.seen = seen_from(where.lens, pose, columns, rows)
        self.light = light_on(self.seen, shade, light_sources(lit, shade)).astype(float)
        self.where, self.size = where, (rows, columns)

    def facing(self, point: Point, within_deg: float = 6.0) -> NDArray[np.bool_]:
        """The points that face a source."""
        way = self.seen.pose.own(np.array(point)) - self.seen.points
        cosine = np.einsum("pi,pi->p", way, self.seen.normals) / np.linalg.norm(way, axis=1)
        return cosine > cos(radians(within_deg))

    def patch(self, x: float, z: float, wide: float = 0.006) -> float:
        """The mean light round a point of the front, metres from the head's middle."""
        near = (np.abs(self.seen.points[:, 0] - x) < wide) & (np.abs(self.seen.points[:, 2] - z) < wide)
        assert near.any()
        return float(self.light[near].mean())

    def rows_of(self, values: NDArray[np.bool_]) -> NDArray[np.bool_]:
        rows = np.zeros(self.size, np.bool_)
        rows.flat[self.seen.pixels] = values
        return rows


def forehead(picture: Picture) -> NDArray[np.bool_]:
    return picture.seen.points[:, 2] > 0.035


@pytest.mark.parametrize("modifier", [BARE, BOX, "octa-150", "strip"])
@pytest.mark.parametrize(("turn", "above"), [(0, 25), (30, 30)])
def test_forehead_reads_as_predicted(modifier: str, turn: float, above: float) -> None:
    lit = lit_setup(one_light(turn, above, modifier, 1.8))
    picture = Picture(lit)
    patch = picture.light[picture.facing(picture.where.heads["A"]) & forehead(picture)]
    assert len(patch) > 5
    assert log2(patch.mean()) == pytest.approx(lit.light.heads[0].reads_stops, abs=0.1)


def test_forehead_lit_off_panel_reads_as_predicted() -> None:
    kit = STUDIO.kit(panels=(Panel("flat-1", 0.6, 0.6, 0.85),))
    light = STUDIO.light(angle_deg=120.0, side="left", distance_m=2.0, height_m=1.7, modifier="dish", aim="flat-1")
    place = STUDIO.place(side="right", angle_deg=30.0, distance_m=1.4, height_m=2.2)
    setup = STUDIO.setup(light, subject=Subject(1.5), panels=(place,))
    plan = STUDIO.plan(setup, kit=kit, lux=0.0)
    lit = LitSetup(kit, setup, predict(plan, setup))
    picture = Picture(lit)
    patch = picture.light[picture.facing(picture.where.panels["flat-1"]) & forehead(picture)]
    assert log2(patch.mean()) == pytest.approx(lit.light.panels[0].reads_stops, abs=0.1)


def test_left_to_right_ratio_is_that_of_the_readings() -> None:
    lights = [
        STUDIO.light("A", 2, side="left", angle_deg=70.0, distance_m=1.6, height_m=1.5),
        STUDIO.light("B", 4, side="right", angle_deg=70.0, distance_m=1.6, height_m=1.5),
    ]
    lit = lit_setup(STUDIO.setup(*lights, subject=Subject(1.5)))
    picture = Picture(lit)
    left, right = (picture.light[picture.facing(picture.where.heads[head])].mean() for head in "AB")
    readings = [head.reads_stops or 0.0 for head in lit.light.heads]
    assert readings[0] - readings[1] == pytest.approx(2.0, abs=0.01)
    assert log2(left / right) == pytest.approx(readings[0] - readings[1], abs=0.1)


def test_working_aperture_is_mid_grey() -> None:
    lit = lit_setup(one_light(0, 25, BOX, 1.8))
    stops = lit.light.heads[0].reads_stops
    assert stops is not None

    def brightest(light: Prediction) -> int:
        face = render_face(replace(lit, light=light), 60, 80)
        return int(np.percentile(face.greys[face.cover == 1], 98))

    metered = brightest(replace(lit.light, aperture_stops=stops))
    assert metered == pytest.approx(118, abs=4)
    assert brightest(replace(lit.light, aperture_stops=stops - 1)) == pytest.approx(162, abs=5)
    assert f_number(stops) > 1


def test_ambient_is_the_same_everywhere() -> None:
    lit = lit_setup(STUDIO.setup(STUDIO.light(below=None), subject=Subject(1.5)), lux=2000.0)
    face = render_face(lit, 60, 80)
    assert lit.light.ambient_under_stops is not None
    expected = int(encoded(0.18 * 2.0**-lit.light.ambient_under_stops))
    assert set(face.greys[face.cover > 0].tolist()) == {expected} and expected > 0


def test_mirrored_light_gives_the_mirrored_picture() -> None:
    left, right = (render_face(lit_setup(one_light(turn, 30, BOX)), 60, 80).greys for turn in (50, -50))
    assert np.abs(left[:, ::-1].astype(int) - right).mean() < 0.2


def test_high_frontal_light_throws_the_nose_straight_down() -> None:
    picture = Picture(lit_setup(one_light(0, 45)))
    low = Picture(lit_setup(one_light(0, 10)))
    under_nose, cheeks = picture.patch(0.0, -0.049, 0.004), [picture.patch(x, -0.049) for x in (-0.035, 0.035)]
    assert under_nose < 0.1 * min(cheeks) and cheeks[0] == pytest.approx(cheeks[1], rel=0.02)
    assert low.patch(0.0, -0.052, 0.003) > 0.5 * low.patch(0.035, -0.049)


def test_high_light_at_45_leaves_a_closed_patch_on_the_far_cheek() -> None:
    picture = Picture(lit_setup(one_light(45, 42, far=1.8)), 200, 240)
    x, _, z = picture.seen.points.T
    bright = (picture.light > 0.02 * picture.light.max()) & (z < -0.008) & (z > -0.11)
    labels, _ = ndimage.label(picture.rows_of(bright))
    of_point = labels.ravel()[picture.seen.pixels]
    far_side = [of_point == n for n in range(1, labels.max() + 1) if (x[of_point == n] > 0.005).all()]
    patch = max(far_side, key=np.count_nonzero)
    assert 0.04 < patch.sum() / bright.sum() < 0.2
    assert z[patch].max() > -0.012 and -0.075 < z[patch].min() < -0.02


def test_light_from_the_side_splits_the_face() -> None:
    picture = Picture(lit_setup(one_light(90, 5)))
    x, bright = picture.seen.points[:, 0], picture.light > 0.02 * picture.light.max()
    assert bright[x < -0.03].mean() > 0.85 and bright[x > 0.03].mean() < 0.02


def test_flag_before_a_head_darkens_the_face() -> None:
    setup = one_light(45, 10, BOX)
    flag = STUDIO.place(panel="flag", side="left", angle_deg=45.0, distance_m=0.7, height_m=1.6)
    lit, dark = (lit_setup(each) for each in (setup, replace(setup, panels=(flag,))))
    assert Picture(dark).light.max() < 0.01 * Picture(lit).light.max()
