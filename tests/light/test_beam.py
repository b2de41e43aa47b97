from __future__ import annotations

from math import cos, log2, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light.beam import Beam
from runbook.light.falloff import Source, field_exponent
from runbook.light.stops import DARK
from runbook.model.geometry import Point


def beam(spread: float = 90.0, stops: float = 8.0) -> Beam:
    source = Source("round", 0.9)
    axis = Point(0.0, 1.0, 0.0)
    return Beam(Point(0.0, 0.0, 0.0), axis, source, stops, field_exponent(spread), spread)


def around(off_deg: float, metres: float = 2.0) -> Point:
    return Point(metres * sin(radians(off_deg)), metres * cos(radians(off_deg)), 0.0)


def test_at_half_the_field_angle_a_tenth_is_left() -> None:
    one = beam(90)
    assert one.reading(around(0)) - one.reading(around(45)) == pytest.approx(log2(10))


@given(st.floats(0, 85), st.floats(0, 85))
def test_farther_off_the_axis_is_never_brighter(one: float, other: float) -> None:
    inner, outer = sorted((one, other))
    assert beam().reading(around(outer)) <= beam().reading(around(inner)) + 1e-9


def test_behind_it_is_dark_but_for_light_all_round() -> None:
    assert beam(90).reading(around(120)) == DARK
    assert beam(360).reading(around(120)) == beam(360).reading(around(0))


def test_a_head_that_is_off_is_dark_everywhere() -> None:
    assert beam(stops=DARK).reading(around(0)) == DARK


def test_it_holds_what_is_within_its_field_angle() -> None:
    assert beam(90).holds(around(44.9))
    assert not beam(90).holds(around(45.1))
    assert beam(360).holds(around(179))
