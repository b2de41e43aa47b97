from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light import optics
from runbook.light.scene import plane
from runbook.model.geometry import Point

FACE, LENS = Point(0.0, 0.0, 1.5), Point(0.0, 3.0, 1.5)
SENSOR = (36.0, 24.0)
TO_CAMERA = Point(0.0, 1.0, 0.0)
PORTRAIT = optics.picture(LENS, FACE, 85, SENSOR, portrait=True)
# at the face, 3 m off: 3 * 24/85 = 0.847 m wide and 3 * 36/85 = 1.271 m high
HALF_WIDE, HALF_HIGH = 0.4235, 0.6353


@pytest.mark.parametrize(("x", "z", "inside"), [
    (0, 0, True), (HALF_WIDE - 0.01, 0, True), (-HALF_WIDE - 0.01, 0, False), (0, HALF_HIGH - 0.01, True),
    (0, HALF_HIGH + 0.01, False), (0, -HALF_HIGH + 0.01, True),
])  # fmt: skip
def test_a_point_at_the_faces_distance(x: float, z: float, inside: bool) -> None:
    assert (optics.in_shot(PORTRAIT, [[Point(x, 0.0, 1.5 + z)]]) is not None) is inside


def test_landscape_is_the_other_way_round() -> None:
    beside = [Point(HALF_WIDE + 0.1, 0.0, 1.5)]
    assert not optics.in_shot(PORTRAIT, [beside])
    assert optics.in_shot(optics.picture(LENS, FACE, 85, SENSOR, portrait=False), [beside])


def test_an_edge_that_reaches_in_is_in_frame() -> None:
    box = plane(Point(1.0, 0.0, 1.5), TO_CAMERA)
    assert not optics.in_shot(PORTRAIT, [optics.rectangle_outline(box, 1.1, 1.0)])
    assert optics.in_shot(PORTRAIT, [optics.rectangle_outline(box, 1.2, 1.0)])
    assert not optics.in_shot(PORTRAIT, [optics.round_outline(box, 0.56)])
    assert optics.in_shot(PORTRAIT, [optics.round_outline(box, 0.6)])


def test_what_covers_the_whole_picture_is_in_it_without_a_corner_inside() -> None:
    wall = plane(Point(0.0, -2.0, 1.5), TO_CAMERA)
    assert optics.in_shot(PORTRAIT, [optics.rectangle_outline(wall, 6, 6)])


def test_what_is_behind_the_camera_is_not_in_frame() -> None:
    behind = plane(Point(0.0, 4.0, 1.5), TO_CAMERA)
    assert not optics.in_shot(PORTRAIT, [optics.rectangle_outline(behind, 6, 6)])
    assert not optics.in_front_of_lens(PORTRAIT, behind.middle)
    assert optics.in_front_of_lens(PORTRAIT, Point(2.0, 2.9, 0.1))


def test_a_large_thing_that_passes_the_lens_on_both_sides_is_cut_not_lost() -> None:
    floor = plane(Point(0.0, 0.0, 1.2), Point(0.0, 0.0, 1.0))
    assert optics.in_shot(PORTRAIT, [optics.rectangle_outline(floor, 20, 20)])


@given(st.floats(-4, 4), st.floats(-4, 2.5), st.floats(0.2, 1.5))
def test_frames_are_mirror_symmetric(x: float, y: float, width: float) -> None:
    outlines = [optics.rectangle_outline(plane(Point(sign * x, y, 1.2), TO_CAMERA), width, 1.0) for sign in (-1, 1)]
    here, there = (optics.in_shot(PORTRAIT, [outline]) for outline in outlines)
    assert (here is None) == (there is None)
    if here is not None and there is not None:
        assert here.share == pytest.approx(there.share)
        assert there.where == {"left": "right", "right": "left"}.get(here.where, here.where)


def test_the_share_of_the_picture_is_what_is_left_of_it_between_two_flats() -> None:
    """Two wings from the left to a third of the half width, one partly behind the other; derived."""
    wings = [plane(Point(x, y, 1.5), TO_CAMERA) for x, y in ((-HALF_WIDE, 0.0), (-1.2, -0.3))]
    near, far = (
        optics.rectangle_outline(wing, width, 3.0) for wing, width in zip(wings, (HALF_WIDE, 2.0), strict=True)
    )
    alone = optics.in_shot(PORTRAIT, [near])
    assert alone is not None
    assert alone.share == pytest.approx(0.25, abs=0.001)
    assert alone.where == "left"
    both = optics.in_shot(PORTRAIT, [near, far])
    # the far one ends 0.2 m left of the axis at 3.3 m: inside what the near one covers but for the rest of its width
    covered = (1 - 0.2 / (HALF_WIDE * 3.3 / 3)) / 2
    assert both is not None
    assert both.share == pytest.approx(max(0.25, covered), abs=0.002)


def test_flats_that_leave_the_picture_free_or_stand_behind_the_background_are_not_in_it() -> None:
    flats = [optics.rectangle_outline(plane(Point(sign * 1.05, 0.0, 1.5), TO_CAMERA), 1.2, 3.0) for sign in (-1, 1)]
    assert optics.in_shot(PORTRAIT, flats) is None
    behind = optics.rectangle_outline(plane(Point(0.0, -2.5, 1.5), TO_CAMERA), 1.0, 1.0)
    assert optics.in_shot(PORTRAIT, [behind]) is not None
    assert optics.in_shot(PORTRAIT, [behind], background=Point(0.0, -2.0, 1.5)) is None


def test_a_flat_seen_edge_on_in_the_picture_is_told_and_a_hair_at_its_edge_is_not() -> None:
    edge_on = optics.rectangle_outline(plane(Point(0.1, 1.0, 1.5), Point(1.0, 0.0, 0.0)), 0.5, 3.0)
    assert optics.in_shot(PORTRAIT, [edge_on]) is not None
    hair = optics.rectangle_outline(plane(Point(0.6 + HALF_WIDE - 0.0005, 0.0, 1.5), TO_CAMERA), 1.2, 3.0)
    assert optics.in_shot(PORTRAIT, [hair]) is None


@given(st.floats(20, 200), st.floats(1.4, 22), st.floats(0.5, 50))
def test_the_focus_is_inside_the_sharp_range(focal: float, f: float, at: float) -> None:
    sharp = optics.depth_of_field(focal, f, at, 0.03)
    assert sharp.near_m < at < sharp.far_m
    tighter = optics.depth_of_field(focal, f * 1.4, at, 0.03)
    assert tighter.near_m < sharp.near_m
    assert tighter.far_m >= sharp.far_m


def test_from_the_hyperfocal_distance_there_is_no_far_end() -> None:
    at = optics.hyperfocal_m(35, 8, 0.03)
    assert optics.depth_of_field(35, 8, at, 0.03).far_m == inf
    assert optics.depth_of_field(35, 8, at, 0.03).depth_m == inf
