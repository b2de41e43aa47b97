"""View shares, the five-times rule and panels, held against published values and integration.

Each check names its source and how far that source was read: seen, second-hand, from memory, run
(by another program) or derived. "Catalogue" is J. R. Howell, *A Catalog of Radiation Heat Transfer
Configuration Factors*, its entries second-hand; "Siegel & Howell" is *Thermal Radiation Heat
Transfer*, 4th ed., its numbers seen on the pages of an equation solver that works its examples.
"""

from dataclasses import replace
from math import log2, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import dblquad, quad

from runbook.light.beam import Beam, Source, corner_share, field_exponent, field_falloff, view_share
from runbook.light.bounce import Meter, Patches, cut, light_at, light_on, shares_to
from runbook.light.scene import Plane, Surface
from runbook.model.geometry import Point
from tests.outside.published import agree, published, rows

FLAT = Plane(Point(0.0, 0.0, 0.0), Point(1.0, 0.0, 0.0), Point(0.0, 1.0, 0.0), Point(0.0, 0.0, 1.0))
DOWN, ABOVE = Point(0.0, 0.0, -1.0), Point(0.0, 0.0, 1.0)


def disc_share(radius: float, d: float) -> float:
    return view_share(Source("round", 2 * radius), d)


def rectangle_share(width: float, height: float, d: float) -> float:
    return view_share(Source("rectangle", width, height), d)


def disc_high(d: float) -> float:
    """How many per cent the inverse-square law reads high at a distance in radii from a disc."""
    return 100 * (1 / d**2 / disc_share(1, d) - 1)


def square_high(d: float) -> float:
    """How many per cent the inverse-square law reads high at a distance in sides from a square."""
    return 100 * (1 / (pi * d * d) / rectangle_share(1, 1, d) - 1)


def bare_stops(near: float, far: float) -> float:
    """How many stops a bare head's light falls from one distance to another."""
    return log2(view_share(Source("bare"), far) / view_share(Source("bare"), near))


def strip_share() -> float:
    """The share of a strip 3 x 2 over a rectangle at 0.5."""
    mean, _ = quad(lambda x: corner_share(6, x / 0.5) + corner_share(6, (2 - x) / 0.5), 0, 2)
    return mean / 2


def opposed_share(a: float, b: float, c: float) -> float:
    """The share of a rectangle seen from an identical one opposite."""

    def seen_from(y: float, x: float) -> float:
        sides = ((x, y), (a - x, y), (x, b - y), (a - x, b - y))
        return sum(corner_share(one / c, other / c) for one, other in sides)

    return dblquad(seen_from, 0, a, 0, b, epsabs=1e-9)[0] / (a * b)


def flat_meter(patches: Patches, at: Point, normal: tuple[float, float, float]) -> NDArray[np.float64]:
    """The cosines between a flat meter's normal and the ways to some patches."""
    way = patches.points - np.array(at)
    cosines: NDArray[np.float64] = np.clip(way @ np.array(normal) / np.linalg.norm(way, axis=1), 0, None)
    return cosines


def share_facing(size: tuple[float, float], at: Point, normal: tuple[float, float, float]) -> float:
    """A panel's share of the view of a flat meter with this normal, from the panel's patches."""
    panel = Surface(FLAT, *size, 1.0)
    patches = cut(panel, [at], [])
    return float(shares_to(panel, patches, at) @ flat_meter(patches, at, normal))


def share_tilted(size: tuple[float, float], seen_from: Point, tilt_deg: float) -> float:
    tilt = np.radians(tilt_deg)
    return share_facing(size, seen_from, (float(np.sin(tilt)), 0.0, -float(np.cos(tilt))))


def share_opposed() -> float:
    """The share of a panel of 1 x 1 seen from every part of a plate opposite."""
    nodes, weights = np.polynomial.legendre.leggauss(6)
    return sum(
        wx * wy / 4 * share_facing((1, 1), Point(x / 2, y / 2, 1.0), (0, 0, -1))
        for x, wx in zip(nodes, weights, strict=True)
        for y, wy in zip(nodes, weights, strict=True)
    )


POINT_1000_CD = Beam(Point(0.0, 0.0, 0.0), DOWN, Source("bare"), log2(1000))
WIDE, SQUARE = (1.2, 2.4), (1.0, 1.0)


def bounced_lux(size: tuple[float, float], meter_m: float, source: Point) -> float:
    """The light of a 1000 cd point off a matt panel of 0.9 on a flat meter turned to the panel's plane."""
    panel, meter, beam = Surface(FLAT, *size, 0.9), Point(0.0, 0.0, meter_m), replace(POINT_1000_CD, origin=source)
    patches = cut(panel, [meter], [beam])
    sent = light_on(panel, patches, beam) * shares_to(panel, patches, meter) * flat_meter(patches, meter, (0, 0, -1))
    return 0.9 * float(sent.sum())


def left_at(beam_deg: float, field_deg: float) -> float:
    """The share of the light left at the edge of a beam angle, for a field angle."""
    return field_falloff(float(np.cos(np.radians(beam_deg / 2))), field_exponent(field_deg))


@published(
    # Catalogue B-12, a disc seen from its axis: R 1, d 2 gives 0.2, second-hand; 1/(1 + (d/R)^2),
    # I. Martinez, problem 13.27, seen.
    rows(disc_share, 1e-9, {(1, 2): 0.2, (0.45, 0.135): 1 / 1.09, (0.45, 0.45): 0.5, (0.45, 1.8): 1 / 17}),
    # IES Definitions, inverse-square law [9.1.1], seen, and A. Ryer, Light Measurement Handbook, ch. 6, seen:
    # at five times the diameter the inverse-square law is "exactly 1 %" high. The others derived.
    rows(disc_high, 1e-6, {(10,): 1, (5,): 4, (4,): 6.25, (2,): 25, (1,): 100}),
    # The largest dimension of the rule is a square's diagonal: at five sides, at five diagonals: derived.
    rows(square_high, 1e-4, {(5,): 1.3325, (5 * sqrt(2),): 0.6664}),
    # Ryer, ch. 6, worked example, seen: 10 lm/m2 at 1 m are 40 at 0.5 m. TV Technology, lighting column, 2013,
    # seen: 600 fc at 5 ft are 150 at 10. 2 m to 3 m, 1.5 m to 2 m: derived.
    rows(bare_stops, 1e-4, {(1, 0.5): 2, (5, 10): -2, (2, 3): -1.1699, (1.5, 2): -0.8301}),
    # Catalogue B-3 with a = b = c: documented example of a view-factor library, second-hand. Sides much longer
    # than the distance: a quarter, note of the equation solver's page, seen.
    rows(corner_share, 1e-10, {(1, 1): 0.138531605995}),
    rows(corner_share, 1e-6, {(1e7, 1e7): 0.25}),
    # Siegel & Howell p. 842, seen.
    rows(strip_share, 5e-5, {(): 0.3886}),
    # Catalogue C-11, identical opposed rectangles: 1 x 1 at 1, open test suites, second-hand; 1 x 1.5 at 0.5,
    # Siegel & Howell p. 843, seen; 10 x 10 at 1, table after Incropera 13.2, seen.
    rows(opposed_share, 1e-8, {(1, 1, 1): 0.199824895698}),
    rows(opposed_share, 5e-5, {(1, 1.5, 0.5): 0.4756, (0.1, 0.1, 0.05): 0.4153}),
    rows(opposed_share, 5e-4, {(10, 10, 1): 0.827}),
    rows(share_opposed, 2e-5, {(): 0.199824895698}),
    # A rectangle centred on the axis: quadrature, run; 2 x 1 at 1 m also pyviewfactor 1.1.0 0.3607374 and
    # Mitsuba 3.9.1 0.36070, run.
    rows(rectangle_share, 1e-6, {(1, 1, 1): 0.239456, (1.2, 0.3, 1): 0.092472, (0.6, 0.9, 1.2): 0.105274}),
    rows(rectangle_share, 1e-6, {(2, 1, 1): 0.360737}),
    # The same through a panel's patches: 2 x 1 at 1 m facing it (pyviewfactor, run); the meter tilted 15 and 30
    # degrees along the long side, and 0.6 x 0.9 seen from (0.8, 0.3) off its middle at 1.2 m (Lambert's polygon
    # formula and quadrature, run).
    rows(share_tilted, 7e-5, {((2, 1), ABOVE, 0): 0.3607374, ((2, 1), ABOVE, 15): 0.348446}),
    rows(share_tilted, 6e-5, {((2, 1), ABOVE, 30): 0.312408}),
    rows(share_tilted, 1e-5, {((0.6, 0.9), Point(-0.8, -0.3, 1.2), 0): 0.0511675}),
    # Two-dimensional quadrature, and Mitsuba 3.9.1 with 59.770, 10.865 and 9.839 lx, run.
    rows(bounced_lux, 0.29, {(WIDE, 1.0, Point(1.5, 0.0, 1.5)): 59.796}),
    rows(bounced_lux, 0.05, {(WIDE, 1.0, Point(0.0, 0.0, 6.0)): 10.855, (SQUARE, 1.5, Point(2.0, 0.0, 2.0)): 9.874}),
    # Beam angle at half, field angle at a tenth of the most: glossary of a lighting consultant, seen. A cosine law
    # and its 20th power: derived.
    rows(field_exponent, 1e-3, {(168.52,): 1}),
    rows(field_exponent, 0.02, {(53.94,): 20}),
    rows(left_at, 1e-3, {(120, 168.5217): 0.5, (30, 53.938): 0.5}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)


# Ryer, ch. 6, seen: under a tenth of the radius moving hardly changes the light.
def test_very_near_a_source_moving_hardly_matters() -> None:
    assert log2(disc_share(1, 0.05) / disc_share(1, 0.1)) < 0.02


# A panel with the meter turned to each patch, as predicted here, against scipy's dblquad.
@pytest.mark.parametrize(("size", "meter_m", "source"), [
    ((1.2, 2.4), 1.0, Point(1.5, 0.0, 1.5)),
    ((1.2, 2.4), 1.0, Point(0.0, 0.0, 6.0)),
    ((1.0, 1.0), 1.5, Point(2.0, 0.0, 2.0)),
    ((1.2, 2.4), 0.3, Point(-0.2, 0.4, 0.25)),
])  # fmt: skip
def test_a_bounce_is_what_integrating_it_gives(size: tuple[float, float], meter_m: float, source: Point) -> None:
    def sent(y: float, x: float) -> float:
        d2 = (x - source.x) ** 2 + (y - source.y) ** 2 + source.z**2
        r2 = x * x + y * y + meter_m**2
        return 0.9 / pi * 1000 * source.z / d2**1.5 * meter_m / r2**1.5

    want, _ = dblquad(sent, -size[0] / 2, size[0] / 2, -size[1] / 2, size[1] / 2)
    beam = replace(POINT_1000_CD, origin=source)
    got = light_at([beam], [Surface(FLAT, *size, 0.9)], Meter(Point(0.0, 0.0, meter_m)))[0, 0, 1]
    assert got == pytest.approx(want, rel=2e-3)
