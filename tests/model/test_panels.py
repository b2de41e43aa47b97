"""Which way a panel looks, and where its wings are."""

from math import cos, dist, hypot, radians, sin

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.model.geometry import Point, towards
from runbook.model.kit import Panel
from runbook.model.panels import foot_line, stance_of, wings_of
from runbook.model.setup import PanelPlace
from tests.stands.rigs import a_light, a_setup

FLAT, CARD = Panel("flat", 1.2, 2.4, 0.85, wings=2), Panel("card", 0.6, 0.8, 0.8)
FACE = Point(0.0, 0.0, 1.25)
angles = st.floats(0, 180)


def dot(one: Point, other: Point) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


@given(angles, st.floats(0.3, 2), st.floats(0.9, 1.6), st.floats(-60, 60))
def test_a_panel_tilts_from_what_it_faces(angle: float, away: float, height: float, tilt: float) -> None:
    assume(away > abs(height - 1.25) + 0.1)
    level, tilted = (
        wings_of(CARD, stance_of(CARD, PanelPlace("card", "left", angle, away, height, tilt_deg=up), a_setup()))[0]
        for up in (0.0, tilt)
    )
    assert dot(level.normal, towards(level.middle, FACE)) == pytest.approx(1)
    assert dot(level.normal, tilted.normal) == pytest.approx(cos(radians(tilt)))
    assert (tilted.normal.z > level.normal.z) == (tilt > 0) or abs(tilt) < 1e-6


@given(angles, st.floats(0.4, 1.2))
def test_what_catches_a_head_sends_the_middle_of_its_beam_to_the_face(angle: float, away: float) -> None:
    """A mirror there would: the angles to head and face are the same, and all three lie in one plane."""
    setup = a_setup(a_light(head="A", side="right", angle_deg=40.0, distance_m=1.5, height_m=2.0))
    place = PanelPlace("card", "left", angle, away, 1.0, catches="A")
    (wing,) = wings_of(CARD, stance_of(CARD, place, setup))
    to_head, to_face = towards(wing.middle, setup.light["A"].point(1.25)), towards(wing.middle, FACE)
    assert dot(wing.normal, to_head) == pytest.approx(dot(wing.normal, to_face))
    mirrored = [2 * dot(wing.normal, to_head) * n - way for n, way in zip(wing.normal, to_head, strict=True)]
    assert mirrored == pytest.approx(list(to_face), abs=1e-9)


def test_a_panel_in_line_between_the_head_and_the_face_can_catch_nothing() -> None:
    setup = a_setup(a_light(head="A", side="left", angle_deg=45.0, distance_m=2.0, height_m=1.25))
    place = PanelPlace("card", "left", 45.0, 1.0, 1.25, catches="A")
    with pytest.raises(ValueError, match="straight between A and the face"):
        stance_of(CARD, place, setup)


@given(angles, st.floats(1, 180), st.floats(0.5, 2))
def test_two_wings_stand_upright_from_their_hinge_and_open_to_what_they_face(angle, opened, away):
    place = PanelPlace("flat", "right", angle, away, 1.2, open_deg=opened)
    stance = stance_of(FLAT, place, a_setup())
    hinge = place.point(1.25)
    one, other = wings_of(FLAT, stance)
    for wing in (one, other):
        assert wing.normal.z == 0
        assert dist(wing.middle, hinge) == pytest.approx(0.6)
    along = [towards(hinge, wing.middle) for wing in (one, other)]
    assert dot(*along) == pytest.approx(cos(radians(opened)), abs=1e-9)
    to_face = towards(hinge, Point(0.0, 0.0, hinge.z))
    assert dot(along[0], to_face) == pytest.approx(dot(along[1], to_face), abs=1e-9)
    assert dot(one.normal, to_face) == pytest.approx(sin(radians(opened / 2)))
    ends = foot_line(FLAT, stance)
    assert [dist(end[:2], hinge[:2]) for end in ends] == pytest.approx([1.2, 0.0, 1.2])


def test_a_pair_of_wings_is_open_to_90_degrees_where_nothing_is_given() -> None:
    stance = stance_of(FLAT, PanelPlace("flat", "right", 80, 1.0, 1.2), a_setup())
    assert stance.open_deg == 90
    assert stance.tilt_deg == 0
    one, _, other = foot_line(FLAT, stance)
    assert hypot(one.x - other.x, one.y - other.y) == pytest.approx(1.2 * 2**0.5)
