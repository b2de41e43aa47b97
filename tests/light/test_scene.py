from math import cos, dist, hypot, radians, sin, tan
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.light.scene import aim_point, degrees_of, direction_from_face, dot, plane, scene, surfaces_of
from runbook.model.geometry import Point, towards
from runbook.model.setup import Subject, View

ORIGIN = Point(0.0, 0.0, 0.0)
coordinate = st.floats(-5, 5)
points = st.builds(Point, coordinate, coordinate, coordinate)


def test_everything_is_a_tape_from_the_face(studio: Any) -> None:
    setup = studio.setup(studio.light(), panels=(studio.place(),))
    where = scene(setup)
    assert where.face == (0, 0, 1.25)
    assert dist(where.face, where.heads["A"]) == pytest.approx(1.4)
    assert dist(where.face, where.lens) == pytest.approx(2.6)
    assert dist(where.face, where.panels["flat-1"]) == pytest.approx(0.8)
    assert where.background == (0, -2.0, 1.25)
    assert where.heads["A"].x < 0 < where.heads["A"].y  # camera-left, on the camera's side
    assert where.panels["flat-1"].x > 0


def test_a_place_out_of_the_tapes_reach_is_refused(studio: Any) -> None:
    with pytest.raises(ValueError, match="cannot reach"):
        scene(studio.setup(view=View("85", 0.2, 1.9)))


def test_a_beam_is_aimed_at_face_background_or_panel(studio: Any) -> None:
    setup = studio.setup(panels=(studio.place(),))
    where = scene(setup)
    assert aim_point(where, studio.light()) == where.face
    assert aim_point(where, studio.light(aim="background")) == where.background
    assert aim_point(where, studio.light(aim="flat-1")) == where.panels["flat-1"]
    with pytest.raises(ValueError, match="head A is aimed at 'flat-9'"):
        aim_point(where, studio.light(aim="flat-9"))
    bare = scene(studio.setup(background=None))
    with pytest.raises(ValueError, match="background"):
        aim_point(bare, studio.light(aim="background"))


@given(points)
def test_a_plane_is_square_and_its_width_level(way: Point) -> None:
    assume(dist(ORIGIN, way) > 0.01)
    surface = plane(ORIGIN, towards(ORIGIN, way))
    assert surface.across.z == 0
    for one, other in ((surface.across, surface.up), (surface.up, surface.normal)):
        assert dot(one, other) == pytest.approx(0, abs=1e-9)
    assert dot(surface.up, surface.up) == pytest.approx(1)
    assert surface.up.z > -1e-9
    there = surface.at(0.3, -0.7)
    assert surface.local(there) == pytest.approx((0.3, -0.7, 0), abs=1e-9)


def test_a_panel_looks_at_what_it_faces_with_its_width_level(studio: Any) -> None:
    setup = studio.setup(studio.light(height_m=2.2), panels=(studio.place(face_to="A"),))
    where = scene(setup)
    surface = surfaces_of(studio.kit(), setup)[0].plane
    head, middle = where.heads["A"], surface.middle
    way = Point(head.x - middle.x, head.y - middle.y, head.z - middle.z)
    assert dot(surface.normal, way) == pytest.approx(hypot(way.x, way.y, way.z))
    assert surface.across.z == 0


def test_a_face_points_off_the_camera_or_at_a_head(studio: Any) -> None:
    for side, sign in (("left", -1), ("right", 1)):
        setup = studio.setup(subject=Subject(1.25, side, 20.0))
        assert setup.facing_deg == sign * 20
    setup = studio.setup(studio.light(), subject=Subject(1.25, looks_at="A"))
    assert setup.facing_deg == pytest.approx(-45)


@given(st.floats(-180, 180), st.floats(-180, 180), st.floats(-80, 80))
def test_only_the_turn_between_face_and_light_counts(at: float, facing: float, up: float) -> None:
    point = Point(sin(radians(at)), cos(radians(at)), tan(radians(up)))
    turned, above = direction_from_face(ORIGIN, point, facing)
    assert 0 <= turned <= 180
    assert above == pytest.approx(up, abs=1e-6)
    assert cos(radians(turned)) == pytest.approx(cos(radians(at - facing)), abs=1e-6)


def test_two_things_in_one_spot_still_have_a_direction() -> None:
    assert towards(ORIGIN, ORIGIN) == (0, 1, 0)
    assert degrees_of(1.0000001) == 0
