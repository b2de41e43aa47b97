from __future__ import annotations

from math import cos, log2, radians, sin

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.light.beam import Beam, Source, distance_for_share, field_exponent, field_falloff, view_share
from runbook.light.stops import DARK
from runbook.model.geometry import Point

size = st.floats(0.05, 3)
metres = st.floats(0.05, 30)
sources = st.one_of(
    st.builds(Source, st.just("round"), size, size),
    st.builds(Source, st.just("rectangle"), size, size),
    st.just(Source("bare")),
)


@given(sources, metres, metres)
def test_farther_is_dimmer(source: Source, one: float, other: float) -> None:
    near, far = sorted((one, other))
    assume(far > near * 1.001)
    assert view_share(source, far) < view_share(source, near)


@given(sources, metres)
def test_an_array_of_distances_gives_the_share_of_each(source: Source, d: float) -> None:
    shares = source.share(np.array([d, 2 * d]), np.arctan)
    assert shares.tolist() == pytest.approx([view_share(source, d), view_share(source, 2 * d)])


@given(sources, metres)
def test_a_source_with_a_size_fills_no_more_than_the_view(source: Source, d: float) -> None:
    assume(source.shape != "bare")
    assert 0 < view_share(source, d) < 1


@given(sources, st.floats(0.2, 20))
def test_the_distance_for_a_share_is_the_one_that_gives_it(source: Source, d: float) -> None:
    assert distance_for_share(source, view_share(source, d)) == pytest.approx(d, rel=1e-6)


def test_no_distance_gives_more_than_the_whole_view() -> None:
    assert distance_for_share(Source("round", 0.9), 1.2) is None


def test_a_source_without_a_size_is_a_point() -> None:
    assert view_share(Source("round"), 2.0) == view_share(Source("bare"), 2.0) == 0.25


@given(st.floats(5, 178))
def test_the_field_angle_is_where_a_tenth_is_left(spread: float) -> None:
    exponent = field_exponent(spread)
    assert field_falloff(cos(radians(spread / 2)), exponent) == pytest.approx(0.1)
    assert field_falloff(1.0, exponent) == 1.0
    assert field_falloff(-0.1, exponent) == 0.0


@given(st.floats(5, 178), st.floats(5, 178), st.floats(1, 89))
def test_a_tighter_grid_gives_less_off_its_axis(one: float, other: float, off: float) -> None:
    tight, wide = sorted((one, other))
    c = cos(radians(off))
    assert field_falloff(c, field_exponent(tight)) <= field_falloff(c, field_exponent(wide)) + 1e-15


def test_light_all_round_has_no_back_and_a_half_sphere_has() -> None:
    assert field_falloff(-1.0, field_exponent(360)) == 1.0
    assert field_falloff(0.3, field_exponent(200)) == 1.0
    assert field_falloff(-0.3, field_exponent(200)) == 0.0


def test_near_a_large_source_falloff_is_gentle() -> None:
    large, point = Source("round", 1.5), Source("bare")
    doubled = [log2(view_share(s, 1.0) / view_share(s, 0.5)) for s in (large, point)]
    assert doubled[1] == pytest.approx(-2)
    assert -2 < doubled[0] < -0.9


def beam(spread: float = 90.0, stops: float = 8.0) -> Beam:
    source = Source("round", 0.9)
    axis = Point(0.0, 1.0, 0.0)
    return Beam(Point(0.0, 0.0, 0.0), axis, source, stops, spread)


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
