"""Shade, wings and flat meters, held against a brute-force sum that knows nothing of the program, and published values.

"Catalogue" is J. R. Howell, *A Catalog of Radiation Heat Transfer Configuration Factors*, its entries second-hand.
"""

import random
from dataclasses import replace
from math import cos, pi, radians, sin

import numpy as np
import pytest
from numpy.typing import NDArray

from runbook.light.beam import Beam, Source
from runbook.light.bounce import Meter, cut, light_at, shares_to
from runbook.light.scene import Surface, plane
from runbook.light.shade import Shade
from runbook.model.geometry import Point, towards
from runbook.model.kit import Panel
from runbook.model.panels import Stance, wings_of
from tests.outside.light_reference import Lamp, Room, Sheet

FACE, LENS, WALL = Point(0.0, 0.0, 1.4), Point(0.0, 2.6, 1.5), Point(0.0, -2.0, 1.4)
TO_CAMERA = Point(0.0, 1.0, 0.0)


def spot(dice: random.Random, near_m: float, far_m: float, low_m: float, high_m: float) -> Point:
    away, turn = dice.uniform(near_m, far_m), dice.uniform(-pi, pi)
    return Point(away * sin(turn), away * cos(turn), dice.uniform(low_m, high_m))


def a_beam(dice: random.Random) -> Beam:
    origin = spot(dice, 1.2, 3.0, 0.8, 2.4)
    source = dice.choice(
        (
            Source("bare"),
            Source("round", dice.uniform(0.4, 1.5)),
            Source("rectangle", dice.uniform(0.3, 1.0), dice.uniform(0.6, 1.5)),
        )
    )
    axis = towards(origin, dice.choice((FACE, FACE, spot(dice, 0.2, 1.0, 1.0, 1.6))))
    return Beam(origin, axis, source, 8.0, dice.choice((70.0, 120.0, 150.0, 360.0)))


def a_set(seed: int) -> tuple[list[Beam], list[Surface]]:
    """Two heads, a pair of wings, a tilted reflector, a cut-out and a flag."""
    dice = random.Random(seed)
    at, turn, opened = spot(dice, 0.9, 1.6, 1.2, 1.2), dice.uniform(-180, 180), dice.uniform(50, 150)
    flat = Panel("flat", dice.uniform(0.6, 1.2), 2.4, 0.85, wings=2)
    surfaces = [
        Surface(plane(wing.middle, wing.normal), flat.width_m, flat.height_m, flat.reflectance, of="flat")
        for wing in wings_of(flat, Stance(at, turn, 0.0, opened))
    ]
    reflector = Panel("silver", 0.8, 0.6, 0.9)
    stance = Stance(spot(dice, 0.5, 0.9, 0.7, 1.0), dice.uniform(-180, 180), dice.uniform(20, 60), None)
    (wing,) = wings_of(reflector, stance)
    surfaces.append(Surface(plane(wing.middle, wing.normal), 0.8, 0.6, 0.9, of="silver"))
    for name, passes in (("cut-out", 0.4), ("flag", 0.0)):
        middle = spot(dice, 0.6, 1.5, 1.0, 1.8)
        normal = towards(middle, spot(dice, 0.0, 0.5, 1.2, 1.6))
        surfaces.append(Surface(plane(middle, normal), dice.uniform(0.4, 1.0), 1.0, 0.0, passes, name))
    return [a_beam(dice), a_beam(dice)], surfaces


def room_of(beams: list[Beam], surfaces: list[Surface], front: int) -> Room:
    lamps = [
        Lamp(
            str(n), np.array(beam.origin), np.array(beam.axis),
            lambda far, beam=beam: 2**beam.stops * beam.source.share(far, np.arctan), beam.exponent, beam.source.shape,
            beam.source.width_m, beam.source.height_m, frozenset(beam.by_hand),
        )
        for n, beam in enumerate(beams)
    ]  # fmt: skip
    sheets = [
        Sheet(
            s.of if s.two_sided else str(n), np.array(s.plane.middle), np.array(s.plane.normal), s.width_m, s.height_m,
            s.reflectance, s.passes, s.scatters, s.two_sided,
        )
        for n, s in enumerate(surfaces)
    ]  # fmt: skip
    return Room(lamps, sheets, np.array(FACE), np.array(LENS), grid=60, front=front)


@pytest.mark.parametrize("seed", range(2))
def test_a_random_set_gives_what_a_brute_force_sum_gives(seed: int) -> None:
    """The heads' own readings, each panel's, and the flat meter at the background, within 1 % of the whole light."""
    beams, surfaces = a_set(seed)
    face, wall = light_at(beams, surfaces, Meter(FACE), Meter(WALL, TO_CAMERA))
    straight, bounced = room_of(beams, surfaces, 30), replace(room_of(beams, surfaces, 8), grid=40)
    heads = [float(straight.direct(lamp, straight.face[None, :])[0]) for lamp in straight.lamps]
    panels = np.array(
        [[bounced.from_sheet(lamp, sheet, bounced.face)[0] for sheet in bounced.sheets] for lamp in bounced.lamps]
    )
    whole = sum(heads) + panels.sum()
    assert face[:, 0] == pytest.approx(heads, abs=0.01 * whole)
    assert face[:, 1:] == pytest.approx(panels, abs=0.01 * whole)
    assert face.sum() == pytest.approx(whole, rel=0.01)
    assert wall.sum() == pytest.approx(bounced.flat(np.array(WALL), np.array(TO_CAMERA)), rel=0.02, abs=1e-3 * whole)


def a_hung_set(seed: int) -> tuple[list[Beam], list[Surface]]:
    """The same with a hung cloth or two; one head has the first of them by hand now and then."""
    beams, surfaces = a_set(seed)
    dice = random.Random(-seed)
    for name in ("voile", "silk")[: dice.choice((1, 2))]:
        middle = spot(dice, 0.8, 1.8, 1.1, 1.4)
        passes, scatter = dice.uniform(0.2, 0.7), dice.uniform(0.3, 1.0)
        surfaces.append(
            Surface(
                plane(middle, towards(middle, spot(dice, 0.0, 0.4, middle.z, middle.z))), dice.uniform(1.0, 3.0),
                dice.uniform(1.5, 2.2), dice.uniform(0.0, 1 - passes), passes * (1 - scatter), name, passes * scatter,
                two_sided=True,
            )
        )  # fmt: skip
    return [beams[0], replace(beams[1], by_hand=dice.choice(((), ("voile",))))], surfaces


@pytest.mark.parametrize("seed", range(20, 23))
def test_a_random_set_with_hung_cloths_gives_what_a_brute_force_sum_gives(seed: int) -> None:
    """Each head's own reading with what cloths scatter of it, what each surface reflects, the whole; to 1 % of it."""
    beams, surfaces = a_hung_set(seed)
    ((face, wall), room) = light_at(beams, surfaces, Meter(FACE), Meter(WALL, TO_CAMERA)), room_of(beams, surfaces, 7)
    room = replace(room, grid=28)
    parts = np.array([[room.from_sheet(lamp, sheet, room.face) for sheet in room.sheets] for lamp in room.lamps])
    straight = [float(replace(room, front=40).direct(lamp, room.face[None, :])[0]) for lamp in room.lamps]
    light = np.column_stack((straight, parts.sum(axis=2)))
    assert face == pytest.approx(light, abs=0.01 * light.sum())
    assert face.sum() == pytest.approx(light.sum(), rel=0.01)
    assert wall.sum() == pytest.approx(room.flat(np.array(WALL), np.array(TO_CAMERA)), rel=0.02, abs=1e-3 * light.sum())


def a_cloth(passes: float, scatters: float, reflectance: float, **more: object) -> Surface:
    """Two metres square, half-way between the face and a metre and a half before it."""
    on = plane(Point(0.0, 0.75, 1.4), towards(Point(0.0, 0.75, 1.4), Point(0.3, 3.0, 1.4)))
    return replace(Surface(on, 2.0, 2.0, reflectance, passes, "voile", scatters, two_sided=True), **more)  # type: ignore[arg-type]


def test_no_more_leaves_a_hung_cloth_than_falls_on_it() -> None:
    """Light gathered over a sphere: all that does not go straight through a cloth that takes none; derived."""
    beam = Beam(Point(0.5, 1.5, 2.0), towards(Point(0.5, 1.5, 2.0), FACE), Source("round", 0.9), 8.0, 150.0)
    ways, sphere_m = sphere(600), 8.0
    for scatters, reflects in ((0.6, 0.4), (1.0, 0.0), (0.2, 0.3)):
        cloth = a_cloth(0.0, scatters, reflects)
        for middle in (beam.origin, Point(-beam.origin.x, -beam.origin.y, beam.origin.z)):
            lit = replace(beam, origin=middle, axis=towards(middle, cloth.plane.middle))
            facing = cloth.plane if cloth.plane.local(middle).z > 0 else plane(cloth.plane.middle, back(cloth))
            light = light_at([lit], [cloth], *(Meter(Point(*(way * sphere_m)), Point(*-way)) for way in ways))
            leaves = light[:, 0, 1].sum() * 4 * pi * sphere_m**2 / len(ways)
            falls = falling_on([lit], replace(cloth, plane=facing))
            assert leaves == pytest.approx((scatters + reflects) * falls, rel=0.02)


def back(surface: Surface) -> Point:
    return Point(*(-each for each in surface.plane.normal))


def test_a_cloth_that_takes_and_turns_nothing_changes_nothing() -> None:
    beams, surfaces = a_set(3)
    without = light_at(beams, surfaces, Meter(FACE), Meter(WALL, TO_CAMERA))
    nothing = light_at(beams, [*surfaces, a_cloth(1.0, 0.0, 0.0)], Meter(FACE), Meter(WALL, TO_CAMERA))
    assert nothing[:, :, :-1] == pytest.approx(without, rel=1e-6)
    assert not nothing[:, :, -1].any()


def test_a_cloth_taken_by_hand_neither_veils_nor_scatters_nor_reflects() -> None:
    beam = Beam(Point(0.2, 1.6, 1.9), towards(Point(0.2, 1.6, 1.9), FACE), Source("round", 0.9), 8.0, 150.0)
    free = light_at([beam], [], Meter(FACE), Meter(WALL, TO_CAMERA))
    hung = light_at([replace(beam, by_hand=("voile",))], [a_cloth(0.2, 0.3, 0.5)], Meter(FACE), Meter(WALL, TO_CAMERA))
    assert hung[:, :, 0] == pytest.approx(free[:, :, 0])
    assert not hung[:, :, 1].any()


def test_a_small_far_cloth_scatters_by_two_cosines_and_the_square_of_the_distance() -> None:
    """Derived: ``T·scatter·E·A·cos(out) / (π·r²)``, with ``E`` the light at its middle times the cosine in."""
    middle, origin, at = Point(0.0, 0.0, 1.4), Point(1.0, 4.0, 1.9), Point(-1.5, -5.0, 1.2)
    cloth = Surface(plane(middle, TO_CAMERA), 0.1, 0.2, 0.3, 0.1, "voile", 0.5, two_sided=True)
    beam = Beam(origin, towards(origin, middle), Source("bare"), 8.0)
    way_in, way_out = towards(middle, origin), towards(middle, at)
    falls = 2 ** beam.reading(middle) * way_in.y
    expected = 0.5 * falls * 0.02 * -way_out.y / (pi * 27.29)
    assert light_at([beam], [cloth], Meter(at))[0, 0, 1] == pytest.approx(expected, rel=2e-3)
    # and as much from the other side
    turned = replace(cloth, plane=plane(middle, Point(0.0, -1.0, 0.0)))
    assert light_at([beam], [turned], Meter(at))[0, 0, 1] == pytest.approx(expected, rel=2e-3)


def test_a_flag_before_half_of_a_front_takes_half_of_its_light() -> None:
    """Derived: a flag whose upper edge is on the line from the middle of the front to the face."""
    for source in (Source("round", 1.0), Source("rectangle", 1.0, 1.0)):
        beam = Beam(Point(0.0, 2.0, 1.4), towards(Point(0.0, 2.0, 1.4), FACE), source, 8.0)
        flag = Surface(plane(Point(0.0, 1.0, 0.4), TO_CAMERA), 2.0, 2.0, 0.0, of="flag")
        assert Shade([flag]).seen_shares([beam], FACE)[0, 0] == pytest.approx(0.5, abs=0.002)
        assert Shade([replace(flag, passes=0.4)]).seen_shares([beam], FACE)[0, 0] == pytest.approx(0.7, abs=0.002)
        assert Shade([replace(flag, plane=plane(Point(0.0, 1.0, 1.4), TO_CAMERA))]).seen_shares([beam], FACE)[0, 0] == 0
        assert (
            Shade([replace(flag, plane=plane(Point(0.0, -1.0, 1.4), TO_CAMERA))]).seen_shares([beam], FACE)[0, 0] == 1
        )


def factor(one: Surface, other: Surface) -> float:
    """The share of what leaves one surface that reaches another, by the patches of both."""
    mine = cut(one, [other.plane.middle], [])
    total = 0.0
    for at, area in zip(mine.points, mine.areas, strict=True):
        patches = cut(other, [Point(*at)], [])
        way = patches.points - at
        here = np.clip(way @ np.array(one.plane.normal) / np.linalg.norm(way, axis=1), 0.0, None)
        total += float(shares_to(other, patches, Point(*at)) @ here) * float(area)
    return total / (one.width_m * one.height_m)


# Catalogue C-14, unit squares at 90 degrees with a common edge: 0.2000438, by closure with C-11 and pyviewfactor, run.
def test_two_wings_at_90_degrees_see_each_other_as_published() -> None:
    flat = Panel("flat", 1.0, 1.0, 0.85, wings=2)
    one, other = (
        Surface(plane(wing.middle, wing.normal), 1.0, 1.0, 0.85)
        for wing in wings_of(flat, Stance(Point(0.0, 0.0, 0.5), 30.0, 0.0, 90.0))
    )
    assert factor(one, other) == pytest.approx(0.2000438, rel=5e-3)
    assert factor(other, one) == pytest.approx(0.2000438, rel=5e-3)


# Catalogue C-11, unit squares opposed at 1: 0.199824895698, open test suites, second-hand.
def test_two_flats_face_to_face_see_each_other_as_published() -> None:
    one = Surface(plane(Point(0.0, 0.0, 1.0), TO_CAMERA), 1.0, 1.0, 0.85)
    other = Surface(plane(Point(0.0, 1.0, 1.0), Point(0.0, -1.0, 0.0)), 1.0, 1.0, 0.85)
    assert factor(one, other) == pytest.approx(0.199824895698, rel=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_no_more_leaves_a_surface_than_falls_on_it(seed: int) -> None:
    """Light gathered over a sphere round the set, by meters flat on it, against what falls on the surface; derived."""
    beams, surfaces = a_set(seed)
    surfaces = [replace(surface, reflectance=1.0 - surface.passes) for surface in surfaces]
    sphere_m, ways = 6.0, sphere(120)
    meters = [Meter(Point(*(way * sphere_m)), Point(*-way)) for way in ways]
    light = light_at(beams, surfaces, *meters)
    for n, surface in enumerate(surfaces):
        leaves = light[:, :, 1 + n].sum() * 4 * pi * sphere_m**2 / len(ways)
        falls = falling_on(beams, surface)
        assert leaves <= falls * (1 - surface.passes) * 1.02
        if not any(other is not surface for other in surfaces):
            assert leaves == pytest.approx(falls, rel=0.02)


def test_all_that_falls_on_a_white_surface_alone_leaves_it() -> None:
    beam = Beam(Point(0.5, 1.5, 2.0), towards(Point(0.5, 1.5, 2.0), FACE), Source("round", 0.9), 8.0, 150.0)
    surface = Surface(plane(Point(0.0, 0.0, 1.2), towards(Point(0.0, 0.0, 1.2), Point(0.3, 1.0, 1.4))), 1.2, 2.4, 1.0)
    ways, sphere_m = sphere(600), 8.0
    light = light_at([beam], [surface], *(Meter(Point(*(way * sphere_m)), Point(*-way)) for way in ways))
    leaves = light[:, 0, 1].sum() * 4 * pi * sphere_m**2 / len(ways)
    assert leaves == pytest.approx(falling_on([beam], surface), rel=0.02)


def sphere(count: int) -> NDArray[np.float64]:
    """Directions spread evenly over a sphere."""
    n = np.arange(count) + 0.5
    up, turn = 1 - 2 * n / count, pi * (1 + 5**0.5) * n
    level = np.sqrt(1 - up**2)
    return np.column_stack((level * np.cos(turn), level * np.sin(turn), up))


def falling_on(beams: list[Beam], surface: Surface) -> float:
    """The light that falls on a surface, nothing in the way, on a grid of midpoints."""
    at = (np.arange(60) + 0.5) / 60 - 0.5
    total = 0.0
    for x in at * surface.width_m:
        for y in at * surface.height_m:
            point = surface.plane.at(float(x), float(y))
            for beam in beams:
                way = towards(point, beam.origin)
                met = sum(a * b for a, b in zip(way, surface.plane.normal, strict=True))
                total += 2 ** beam.reading(point) * max(met, 0.0)
    return total * surface.width_m * surface.height_m / 60**2


def test_a_head_right_behind_a_wing_lights_nothing_before_it() -> None:
    wing = Surface(plane(Point(0.0, -1.0, 1.4), TO_CAMERA), 1.2, 2.4, 0.85)
    beam = Beam(Point(0.0, -1.5, 1.4), towards(Point(0.0, -1.5, 1.4), FACE), Source("round", 0.6), 8.0)
    assert light_at([beam], [wing], Meter(FACE)).sum() == 0


def test_the_angle_between_two_wings_is_the_one_given() -> None:
    flat = Panel("flat", 1.2, 2.4, 0.85, wings=2)
    for opened in (40.0, 90.0, 180.0):
        one, other = wings_of(flat, Stance(Point(0.0, 0.0, 1.2), 70.0, 0.0, opened))
        inward = sum(a * b for a, b in zip(one.normal, other.normal, strict=True))
        assert inward == pytest.approx(-cos(radians(opened)), abs=1e-9)
        middle = Point(sin(radians(70)), cos(radians(70)), 0.0)
        for wing in (one, other):
            assert sum(a * b for a, b in zip(wing.normal, middle, strict=True)) == pytest.approx(
                sin(radians(opened / 2))
            )
