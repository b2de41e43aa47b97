from dataclasses import replace
from math import cos, log2, radians, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.light.beam import Beam, Source, view_share
from runbook.light.bounce import Meter, cut, light_at
from runbook.light.scene import Plane, Surface, plane
from runbook.light.stops import DARK, add_light, stops_of
from runbook.model.geometry import Point, towards

FACE = Point(0.0, 0.0, 1.25)
WIDE, HIGH, WHITE = 1.2, 2.4, 0.85


def surface_at(x: float, y: float, looks_at: Point = FACE) -> Plane:
    middle = Point(x, y, 1.2)
    return plane(middle, towards(middle, Point(looks_at.x, looks_at.y, 1.2)))


def beam_at(origin: Point, aim: Point, spread: float = 150, source: Source | None = None) -> Beam:
    used = source or Source("round", 0.9, 0.9)
    return Beam(origin, towards(origin, aim), used, 8.0, spread)


def mesh(half: float, *middles: float) -> tuple[Any, Any]:
    """Gauss nodes between -half and half, finer and finer towards each of ``middles``."""
    ends = {-half, half}
    for middle in middles:
        near = min(max(middle, -half), half)
        steps = 2e-3 * 1.7 ** np.arange(14)
        ends |= {near, *(near - steps).tolist(), *(near + steps).tolist()}
    edges = np.array(sorted(end for end in ends if -half <= end <= half))
    edges = edges[np.insert(np.diff(edges) > 1e-9, 0, True)]
    x, w = np.polynomial.legendre.leggauss(6)
    middle, half_width = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    nodes = middle[:, None] + half_width[:, None] * x
    return nodes.ravel(), (half_width[:, None] * w).ravel()


def finely(surface: Plane, face: Point, beam: Beam) -> float:
    """The same integral by numpy, on a mesh much finer than the panel's patches."""
    f, o = surface.local(face), surface.local(beam.origin)
    a = replace(surface, middle=Point(0.0, 0.0, 0.0)).local(beam.axis)
    hit = -o.z / a.z if a.z < 0 else 0.0
    u, wu = mesh(WIDE / 2, f.x, o.x, o.x + a.x * hit)
    v, wv = mesh(HIGH / 2, f.y, o.y, o.y + a.y * hit)
    x, y = np.meshgrid(u, v, indexing="ij")
    r = np.sqrt((x - f.x) ** 2 + (y - f.y) ** 2 + f.z**2)
    d = np.sqrt((x - o.x) ** 2 + (y - o.y) ** 2 + o.z**2)
    share = np.vectorize(lambda metres: view_share(beam.source, metres))(d)
    thrown = np.ones_like(d)
    if beam.exponent is not None:
        cosine = ((x - o.x) * a.x + (y - o.y) * a.y - o.z * a.z) / d
        thrown = np.where(cosine > 0, np.abs(cosine) ** beam.exponent, 0.0)
    light = share * thrown * (o.z / d) * (f.z / r) / (np.pi * r**2)
    return float(WHITE * np.einsum("i,j,ij", wu, wv, light))


HEAD = Point(-1.0, 1.0, 1.8)
NEAR = surface_at(0.8, 0.2).at(0.3, 0.5)
NORMAL = surface_at(0.8, 0.2).normal


@pytest.mark.parametrize(
    ("beam", "face"),
    [
        (beam_at(HEAD, FACE), FACE),
        (beam_at(HEAD, FACE, source=Source("rectangle", 0.3, 1.2)), FACE),
        (beam_at(HEAD, Point(0.8, 0.2, 1.2), 40), FACE),
        (beam_at(HEAD, Point(0.8, 0.2, 1.0), 5, Source("bare")), FACE),
        (beam_at(HEAD, FACE, 360, Source("bare")), FACE),
        # a bare head eight centimetres from the panel, and a face as near to it
        (beam_at(Point(NEAR.x + NORMAL.x * 0.08, NEAR.y + NORMAL.y * 0.08, NEAR.z), FACE, 360, Source("bare")), FACE),
        (beam_at(HEAD, FACE), Point(NEAR.x + NORMAL.x * 0.08, NEAR.y + NORMAL.y * 0.08, NEAR.z)),
        # a beam whose sharp end, 90 degrees off its axis, runs over the panel
        (beam_at(Point(0.2, 0.4, 1.5), Point(0.1, 3.0, 1.5), 180, Source("bare")), FACE),
    ],
    ids=["octa", "strip", "grid", "snoot", "all-round", "head-near", "face-near", "sharp-end"],
)
def test_it_is_within_a_hundredth_of_a_fine_integration(beam: Beam, face: Point) -> None:
    surface = surface_at(0.8, 0.2)
    want = beam.stops + log2(finely(surface, face, beam))
    assert bounced(surface, beam, face=face) == pytest.approx(want, abs=log2(1.01))


def bounced(surface: Plane, beam: Beam, white: float = WHITE, face: Point = FACE, long: float = WIDE) -> float:
    return stops_of(light_at([beam], [Surface(surface, long, HIGH, white)], Meter(face))[0, 0, 1])


def test_all_beams_of_a_set_are_bounced_at_once() -> None:
    """One cut serves them all: a narrow beam makes it finer for the others too."""
    surface = Surface(surface_at(0.8, 0.2), WIDE, HIGH, WHITE)
    beams = [beam_at(HEAD, FACE), beam_at(HEAD, Point(0.8, 0.2, 1.0), 5), beam_at(Point(2.0, 0.5, 1.5), FACE)]
    alone = [bounced(surface.plane, beam) for beam in beams]
    assert [stops_of(each) for each in light_at(beams, [surface], Meter(FACE))[0, :, 1]] == pytest.approx(
        alone, abs=0.01
    )


def test_a_surface_is_cut_into_twelve_by_twelve_patches_at_least_and_a_strip_into_few() -> None:
    panel = Surface(surface_at(2.0, 0.0), WIDE, HIGH, WHITE)
    patches = cut(panel, [FACE], [])
    across, up, _ = np.transpose([panel.plane.local(Point(*point)) for point in patches.points]).round(9)
    assert len(set(across)) >= 12
    assert len(set(up)) >= 12
    assert patches.areas.sum() == pytest.approx(WIDE * HIGH)
    strip = Surface(surface_at(0.0, -0.6), 100.0, 0.01, WHITE)
    assert len(cut(strip, [FACE], [beam_at(HEAD, FACE, 360)]).areas) < 16 * 400


def test_nothing_comes_off_a_flag_a_back_or_a_surface_the_beam_misses() -> None:
    surface, beam = surface_at(0.8, 0.2), beam_at(HEAD, FACE)
    assert bounced(surface, beam, 0.0) == DARK
    assert bounced(surface, replace(beam, stops=DARK)) == DARK
    assert bounced(surface, beam_at(Point(2.0, 0.5, 1.5), FACE)) == DARK
    assert bounced(surface, beam_at(HEAD, Point(-3.0, 1.0, 1.8), 60)) == DARK
    assert bounced(surface_at(0.8, 0.2, looks_at=Point(3.0, 0.2, 1.2)), beam) == DARK


heads = st.builds(Point, st.floats(-2, -0.3), st.floats(-1, 2), st.floats(0.6, 2.3))


@settings(max_examples=40)
@given(heads, st.floats(0.4, 1.5), st.floats(-0.8, 0.8))
def test_left_and_right_are_the_same(head: Point, x: float, y: float) -> None:
    one = bounced(surface_at(x, y), beam_at(head, FACE))
    assert bounced(surface_at(-x, y), beam_at(head._replace(x=-head.x), FACE)) == pytest.approx(one, abs=1e-9)


@settings(max_examples=40)
@given(heads, st.floats(0.05, 1), st.floats(0, 6))
def test_it_goes_up_with_reflectance_and_power(head: Point, white: float, up: float) -> None:
    surface, beam = surface_at(0.8, 0.2), beam_at(head, FACE)
    brighter = bounced(surface, replace(beam, stops=beam.stops + up), white)
    assert brighter == pytest.approx(bounced(surface, beam, 1.0) + log2(white) + up, abs=1e-9)


@settings(max_examples=40)
@given(heads)
def test_a_panel_gives_no_more_than_its_brightest_spot(head: Point) -> None:
    surface, beam = surface_at(0.8, 0.2), beam_at(head, FACE, 360)
    brightest = max(beam.reading(surface.at(WIDE * i / 16, HIGH * j / 16)) for i in range(-8, 9) for j in range(-8, 9))
    # the meter is turned to each patch, so a panel that fills half of all it sees gives twice
    assert bounced(surface, beam, 1.0) < brightest + 1 + 0.1


@pytest.mark.parametrize(("up_deg", "dimmer"), [(15, 0.06), (24, 0.17), (30, 0.27)])
def test_a_flat_tilted_up_to_the_face_gives_less_than_an_upright_one(up_deg: float, dimmer: float) -> None:
    """The figures of the page on light: key 45 degrees round at 1.4 m, flat 80 degrees at 1 m."""
    up, at, to_key = radians(up_deg), radians(80), (1.4**2 - 0.3**2) ** 0.5 * 0.5**0.5
    below = FACE.z - sin(up)
    middle = Point(cos(up) * sin(at), cos(up) * cos(at), below)
    beam = beam_at(Point(-to_key, to_key, FACE.z + 0.3), FACE)
    tilted, upright = (bounced(plane(middle, towards(middle, to)), beam) for to in (FACE, FACE._replace(z=below)))
    assert upright - tilted == pytest.approx(dimmer, abs=0.01)


def test_a_panel_farther_from_the_face_gives_less() -> None:
    beam = beam_at(Point(0.0, 3.0, 1.5), FACE, 360)
    readings = [bounced(surface_at(x, 0.0), beam) for x in (0.8, 1.6, 3.2)]
    assert readings == sorted(readings, reverse=True)


def test_a_long_wall_gives_what_its_lengths_give() -> None:
    surface, beam = surface_at(0.0, -0.6), beam_at(Point(0.3, 1.5, 1.6), Point(0.0, -0.6, 1.2), 360)
    parts = [replace(surface, middle=surface.at(n * 6.0, 0.0)) for n in (-1.5, -0.5, 0.5, 1.5)]
    together = add_light(bounced(part, beam, long=6.0) for part in parts)
    assert bounced(surface, beam, long=24.0) == pytest.approx(together, abs=0.01)
