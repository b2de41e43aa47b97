"""Placements round the face, and back."""

from math import dist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.geometry import Point, Side, bearing_deg, column_at, ground_radius, stand_at, tilt_deg

SIDES: tuple[Side, Side] = ("left", "right")


@given(st.sampled_from(SIDES), st.floats(0, 180), st.floats(0.5, 9), st.floats(0, 4), st.floats(0.5, 2))
def test_the_tape_from_the_face_is_the_distance_given(side, angle, distance, height, face):
    if distance < abs(height - face):
        with pytest.raises(ValueError, match="cannot reach"):
            stand_at(side, angle, distance, height, face)
        return
    point = stand_at(side, angle, distance, height, face)
    assert dist(point, (0, 0, face)) == pytest.approx(distance)
    assert point.z == height
    assert point.x >= -1e-9 if side == "right" else point.x <= 1e-9


def test_the_camera_is_at_0_and_right_is_plus() -> None:
    assert stand_at("right", 0, 2, 1.5, 1.5) == pytest.approx((0, 2, 1.5))
    assert stand_at("right", 90, 2, 1.5, 1.5) == pytest.approx((2, 0, 1.5))
    assert stand_at("left", 90, 2, 1.5, 1.5) == pytest.approx((-2, 0, 1.5))
    assert stand_at("left", 180, 2, 1.5, 1.5) == pytest.approx((0, -2, 1.5))


def test_a_column_is_behind_the_front_by_the_depth_and_half_a_body() -> None:
    # a head of 0.2 m, its middle over the column
    front = Point(0.0, -2.0, 1.8)
    assert column_at(front, 0, 0.45) == pytest.approx((0, -2.55, 1.8))
    assert column_at(front, 180, 0.0) == pytest.approx((0, -1.9, 1.8))
    assert column_at(front, 90, 0.3) == pytest.approx((-0.4, -2, 1.8))


def test_a_3_4_5_triangle() -> None:
    assert ground_radius(5, 4.5, 1.5) == pytest.approx(4)
    with pytest.raises(ValueError, match=r"at least 3\.00 m is needed"):
        ground_radius(2.9, 4.5, 1.5)


def test_bearings_and_tilts() -> None:
    middle = Point(0, 0, 1)
    for end, bearing in (((0, 1), 0), ((1, 0), 90), ((-1, 0), -90), ((0, -1), 180)):
        assert bearing_deg(middle, Point(*end, 1)) == pytest.approx(bearing)
    assert tilt_deg(middle, Point(3, 4, 6)) == pytest.approx(45)
    assert tilt_deg(Point(3, 4, 6), middle) == pytest.approx(-45)
