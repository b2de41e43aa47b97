"""View shares, the five-times rule and panels, held against published values and integration.

Each check names its source and how far that source was read: seen, second-hand, from memory, run
(by another program) or derived. "Catalogue" is J. R. Howell, *A Catalog of Radiation Heat Transfer
Configuration Factors*, its entries second-hand; "Siegel & Howell" is *Thermal Radiation Heat
Transfer*, 4th ed., its numbers seen on the pages of an equation solver that works its examples.
"""

from __future__ import annotations

from dataclasses import replace
from math import log2, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import dblquad, quad

from runbook.light.beam import Beam, Source, corner_share, field_exponent, field_falloff, view_share
from runbook.light.bounce import Patches, Surface, bounced_stops, cut, light_on, shares_to
from runbook.light.scene import Plane
from runbook.model.geometry import Point

FLAT = Plane(Point(0.0, 0.0, 0.0), Point(1.0, 0.0, 0.0), Point(0.0, 1.0, 0.0), Point(0.0, 0.0, 1.0))
DOWN = Point(0.0, 0.0, -1.0)


# Catalogue B-12, a disc seen from its axis: R 1, d 2 gives 0.2, second-hand; 1/(1 + (d/R)^2),
# I. Martinez, problem 13.27, seen.
def test_a_disc_on_its_axis() -> None:
    assert disc_share(1, 2) == pytest.approx(0.2, abs=1e-12)
    for ratio in (0.3, 1.0, 4.0):
        assert disc_share(0.45, 0.45 * ratio) == pytest.approx(1 / (1 + ratio**2))


@pytest.mark.parametrize(("radius", "d"), [(0.45, 0.3), (0.45, 1.4), (0.75, 1.0)])
def test_a_disc_is_what_integrating_it_gives(radius: float, d: float) -> None:
    ring, _ = quad(lambda r: 2 * d * d * r / (r * r + d * d) ** 2, 0, radius)
    assert disc_share(radius, d) == pytest.approx(ring, abs=1e-9)


# IES Definitions, inverse-square law [9.1.1], seen, and A. Ryer, Light Measurement Handbook,
# ch. 6, seen: at five times the diameter the inverse-square law is "exactly 1 %" high. The
# others derived.
@pytest.mark.parametrize(("distance_in_radii", "percent_high"), [(10, 1), (5, 4), (4, 6.25), (2, 25), (1, 100)])
def test_the_five_times_rule_of_a_disc(distance_in_radii: float, percent_high: float) -> None:
    inverse_square = 1 / distance_in_radii**2
    high = inverse_square / disc_share(1, distance_in_radii) - 1
    assert 100 * high == pytest.approx(percent_high, abs=1e-6)


# The largest dimension of the rule is a square's diagonal: at five sides it is 1.33 % high, at
# five diagonals 0.67 %: derived.
@pytest.mark.parametrize(("d", "percent_high"), [(5, 1.3325), (5 * sqrt(2), 0.6664)])
def test_the_five_times_rule_of_a_square(d: float, percent_high: float) -> None:
    high = 1 / (pi * d * d) / rectangle_share(1, 1, d) - 1
    assert 100 * high == pytest.approx(percent_high, abs=1e-4)


# Ryer, ch. 6, seen: under a tenth of the radius moving hardly changes the light.
def test_very_near_a_source_moving_hardly_matters() -> None:
    assert log2(disc_share(1, 0.05) / disc_share(1, 0.1)) < 0.02


# Ryer, ch. 6, worked example, seen: 10 lm/m2 at 1 m are 40 at 0.5 m. TV Technology, lighting
# column, 2013, seen: 600 fc at 5 ft are 150 at 10. 2 m to 3 m, 1.5 m to 2 m: derived.
@pytest.mark.parametrize(("near", "far", "stops"), [(0.5, 1, -2), (5, 10, -2), (2, 3, -1.1699), (1.5, 2, -0.8301)])
def test_inverse_square(near: float, far: float, stops: float) -> None:
    bare = Source("bare")
    assert log2(view_share(bare, far) / view_share(bare, near)) == pytest.approx(stops, abs=1e-4)


# Catalogue B-3 with a = b = c: documented example of a view-factor library, second-hand. Sides
# much longer than the distance: a quarter, note of the equation solver's page, seen.
def test_a_rectangle_over_its_corner() -> None:
    assert corner_share(1, 1) == pytest.approx(0.138531605995, abs=1e-10)
    assert corner_share(1e7, 1e7) == pytest.approx(0.25, abs=1e-6)


# Siegel & Howell p. 842, worked as a strip 3 x 2 at 0.5: 0.3886, seen.
def test_a_strip_over_a_rectangle() -> None:
    mean, _ = quad(lambda x: corner_share(6, x / 0.5) + corner_share(6, (2 - x) / 0.5), 0, 2)
    assert mean / 2 == pytest.approx(0.3886, abs=5e-5)


# Catalogue C-11, identical opposed rectangles: 1 x 1 at 1, open test suites, second-hand; 1 x 1.5
# at 0.5, Siegel & Howell p. 843, seen; 10 x 10 at 1, table after Incropera 13.2, seen.
@pytest.mark.parametrize(
    ("a", "b", "c", "factor", "within"),
    [
        (1, 1, 1, 0.199824895698, 1e-8),
        (1, 1.5, 0.5, 0.4756, 5e-5),
        (0.1, 0.1, 0.05, 0.4153, 5e-5),
        (10, 10, 1, 0.827, 5e-4),
    ],
)
def test_opposed_plates(a: float, b: float, c: float, factor: float, within: float) -> None:
    def seen_from(x: float, y: float) -> float:
        sides = ((x, y), (a - x, y), (x, b - y), (a - x, b - y))
        return sum(corner_share(one / c, other / c) for one, other in sides)

    mean, _ = dblquad(lambda y, x: seen_from(x, y), 0, a, 0, b, epsabs=1e-9)
    assert mean / (a * b) == pytest.approx(factor, abs=within)


# A rectangle centred on the axis: quadrature, run; 2 x 1 at 1 m also pyviewfactor 1.1.0 0.3607374
# and Mitsuba 3.9.1 0.36070, run.
@pytest.mark.parametrize(
    ("width", "height", "d", "share"),
    [(1, 1, 1, 0.239456), (1.2, 0.3, 1, 0.092472), (0.6, 0.9, 1.2, 0.105274), (2, 1, 1, 0.360737)],
)
def test_a_centred_rectangle(width: float, height: float, d: float, share: float) -> None:
    assert rectangle_share(width, height, d) == pytest.approx(share, abs=1e-6)
    whole, _ = dblquad(
        lambda y, x: d * d / (pi * (x * x + y * y + d * d) ** 2), -width / 2, width / 2, -height / 2, height / 2
    )
    assert rectangle_share(width, height, d) == pytest.approx(whole, abs=1e-8)


def disc_share(radius: float, d: float) -> float:
    return view_share(Source("round", 2 * radius), d)


def rectangle_share(width: float, height: float, d: float) -> float:
    return view_share(Source("rectangle", width, height), d)


def flat_meter(patches: Patches, at: Point, normal: tuple[float, float, float]) -> NDArray[np.float64]:
    """The cosines between a flat meter's normal and the ways to some patches."""
    way = patches.points - np.array(at)
    cosines: NDArray[np.float64] = np.clip(way @ np.array(normal) / np.linalg.norm(way, axis=1), 0, None)
    return cosines


def share_facing(size: tuple[float, float], at: Point, normal: tuple[float, float, float]) -> float:
    """A panel's share of the view of a flat meter with this normal, from the panel's patches."""
    panel = Surface(FLAT, *size, 1.0)
    patches = cut(panel, at, [])
    return float(shares_to(panel, patches, at) @ flat_meter(patches, at, normal))


# The same through a panel's patches: 2 x 1 at 1 m facing it (pyviewfactor, run); the meter tilted
# 15 and 30 degrees along the long side, and 0.6 x 0.9 seen from (0.8, 0.3) off its middle at
# 1.2 m (Lambert's polygon formula and quadrature, run).
@pytest.mark.parametrize(
    ("size", "seen_from", "tilt_deg", "share"),
    [
        ((2, 1), Point(0.0, 0.0, 1.0), 0, 0.3607374),
        ((2, 1), Point(0.0, 0.0, 1.0), 15, 0.348446),
        ((2, 1), Point(0.0, 0.0, 1.0), 30, 0.312408),
        ((0.6, 0.9), Point(-0.8, -0.3, 1.2), 0, 0.0511675),
    ],
)
def test_a_panels_patches_are_its_view_factor(
    size: tuple[float, float], seen_from: Point, tilt_deg: float, share: float
) -> None:
    tilt = np.radians(tilt_deg)
    got = share_facing(size, seen_from, (float(np.sin(tilt)), 0.0, -float(np.cos(tilt))))
    assert got == pytest.approx(share, rel=2e-4)


# Catalogue C-11 again, by a panel's patches seen from every part of a plate opposite.
def test_a_panel_and_an_opposed_plate() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(6)
    mean = sum(
        wx * wy / 4 * share_facing((1, 1), Point(x / 2, y / 2, 1.0), (0, 0, -1))
        for x, wx in zip(nodes, weights, strict=True)
        for y, wy in zip(nodes, weights, strict=True)
    )
    assert mean == pytest.approx(0.199824895698, rel=1e-4)


POINT_1000_CD = Beam(Point(0.0, 0.0, 0.0), DOWN, Source("bare"), log2(1000))


# Light of a 1000 cd point off a matt panel of 0.9 on a flat meter turned to the panel's plane:
# two-dimensional quadrature, and Mitsuba 3.9.1 with 59.770, 10.865 and 9.839 lx, run.
@pytest.mark.parametrize(
    ("size", "meter_m", "source", "lux"),
    [
        ((1.2, 2.4), 1.0, Point(1.5, 0.0, 1.5), 59.796),
        ((1.2, 2.4), 1.0, Point(0.0, 0.0, 6.0), 10.855),
        ((1.0, 1.0), 1.5, Point(2.0, 0.0, 2.0), 9.874),
    ],
)
def test_a_point_source_off_a_panel(size: tuple[float, float], meter_m: float, source: Point, lux: float) -> None:
    panel, meter, beam = Surface(FLAT, *size, 0.9), Point(0.0, 0.0, meter_m), replace(POINT_1000_CD, origin=source)
    patches = cut(panel, meter, [beam])
    sent = light_on(panel, patches, beam) * shares_to(panel, patches, meter) * flat_meter(patches, meter, (0, 0, -1))
    got = 0.9 * float(sent.sum())
    assert got == pytest.approx(lux, rel=5e-3)


# The same panels with the meter turned to each patch, as predicted here, against scipy's dblquad.
@pytest.mark.parametrize(
    ("size", "meter_m", "source"),
    [
        ((1.2, 2.4), 1.0, Point(1.5, 0.0, 1.5)),
        ((1.2, 2.4), 1.0, Point(0.0, 0.0, 6.0)),
        ((1.0, 1.0), 1.5, Point(2.0, 0.0, 2.0)),
        ((1.2, 2.4), 0.3, Point(-0.2, 0.4, 0.25)),
    ],
)
def test_a_bounce_is_what_integrating_it_gives(size: tuple[float, float], meter_m: float, source: Point) -> None:
    def sent(y: float, x: float) -> float:
        d2 = (x - source.x) ** 2 + (y - source.y) ** 2 + source.z**2
        r2 = x * x + y * y + meter_m**2
        return 0.9 / pi * 1000 * source.z / d2**1.5 * meter_m / r2**1.5

    want, _ = dblquad(sent, -size[0] / 2, size[0] / 2, -size[1] / 2, size[1] / 2)
    beam = replace(POINT_1000_CD, origin=source)
    (got,) = bounced_stops(Surface(FLAT, *size, 0.9), Point(0.0, 0.0, meter_m), [beam])
    assert 2**got == pytest.approx(want, rel=2e-3)


# Beam angle at half, field angle at a tenth of the most: glossary of a lighting consultant, seen.
# A cosine law has a field angle of 168.52 degrees, its 20th power one of 53.94: derived.
@pytest.mark.parametrize(("field_deg", "exponent"), [(168.52, 1), (53.94, 20)])
def test_the_field_angle_of_a_power_of_the_cosine(field_deg: float, exponent: float) -> None:
    assert field_exponent(field_deg) == pytest.approx(exponent, rel=1e-3)


# The same law's half-light (beam) angles are 120 and 30 degrees: derived.
@pytest.mark.parametrize(("field_deg", "beam_deg"), [(168.5217, 120), (53.938, 30)])
def test_half_the_light_is_left_at_the_beam_angle(field_deg: float, beam_deg: float) -> None:
    cosine = float(np.cos(np.radians(beam_deg / 2)))
    assert field_falloff(cosine, field_exponent(field_deg)) == pytest.approx(0.5, abs=1e-3)
