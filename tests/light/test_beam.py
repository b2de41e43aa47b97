from dataclasses import replace
from math import cos, log2, radians, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.light import beam as beams
from runbook.light.stops import DARK, add_light, ambient_stops, without_ambient
from runbook.model.geometry import Point
from runbook.model.kit import Measured, Modifier

size = st.floats(0.05, 3)
metres = st.floats(0.05, 30)
sources = st.one_of(
    st.builds(beams.Source, st.just("round"), size, size),
    st.builds(beams.Source, st.just("rectangle"), size, size),
    st.just(beams.Source("bare")),
)


@given(sources, metres, metres)
def test_farther_is_dimmer(source: beams.Source, one: float, other: float) -> None:
    near, far = sorted((one, other))
    assume(far > near * 1.001)
    assert beams.view_share(source, far) < beams.view_share(source, near)


@given(sources, metres)
def test_an_array_of_distances_gives_the_share_of_each(source: beams.Source, d: float) -> None:
    shares = source.share(np.array([d, 2 * d]), np.arctan)
    assert shares.tolist() == pytest.approx([beams.view_share(source, d), beams.view_share(source, 2 * d)])


@given(sources, metres)
def test_a_source_with_a_size_fills_no_more_than_the_view(source: beams.Source, d: float) -> None:
    assume(source.shape != "bare")
    assert 0 < beams.view_share(source, d) < 1


@given(sources, st.floats(0.2, 20))
def test_the_distance_for_a_share_is_the_one_that_gives_it(source: beams.Source, d: float) -> None:
    assert beams.distance_for_share(source, beams.view_share(source, d)) == pytest.approx(d, rel=1e-6)


def test_no_distance_gives_more_than_the_whole_view() -> None:
    assert beams.distance_for_share(beams.Source("round", 0.9), 1.2) is None


def test_a_source_without_a_size_is_a_point() -> None:
    assert beams.view_share(beams.Source("round"), 2.0) == beams.view_share(beams.Source("bare"), 2.0) == 0.25


@given(st.floats(5, 178))
def test_the_field_angle_is_where_a_tenth_is_left(spread: float) -> None:
    exponent = beams.field_exponent(spread)
    assert beams.field_falloff(cos(radians(spread / 2)), exponent) == pytest.approx(0.1)
    assert beams.field_falloff(1.0, exponent) == 1.0
    assert beams.field_falloff(-0.1, exponent) == 0.0


def test_near_a_large_source_falloff_is_gentle() -> None:
    large, point = beams.Source("round", 1.5), beams.Source("bare")
    doubled = [log2(beams.view_share(s, 1.0) / beams.view_share(s, 0.5)) for s in (large, point)]
    assert doubled[1] == pytest.approx(-2)
    assert -2 < doubled[0] < -0.9


def beam(spread: float = 90.0, stops: float = 8.0) -> beams.Beam:
    source = beams.Source("round", 0.9)
    axis = Point(0.0, 1.0, 0.0)
    return beams.Beam(Point(0.0, 0.0, 0.0), axis, source, stops, spread)


def around(off_deg: float, metres: float = 2.0) -> Point:
    return Point(metres * sin(radians(off_deg)), metres * cos(radians(off_deg)), 0.0)


@given(st.floats(0, 85), st.floats(0, 85))
def test_farther_off_the_axis_is_never_brighter(one: float, other: float) -> None:
    inner, outer = sorted((one, other))
    assert beam().reading(around(outer)) <= beam().reading(around(inner)) + 1e-9


def test_behind_it_is_dark_but_for_light_all_round() -> None:
    assert beam(90).reading(around(120)) == DARK
    assert beam(360).reading(around(120)) == beam(360).reading(around(0))


def test_it_holds_what_is_within_its_field_angle() -> None:
    assert beam(90).holds(around(44.9))
    assert not beam(90).holds(around(45.1))
    assert beam(360).holds(around(179))


def reads(kit: Any, light: Any, **more: Any) -> float:
    """On axis at full power."""
    full = beams.full_power_stops(kit, light, more.pop("iso", 100), more.pop("row", None))
    return float(full + log2(beams.view_share(beams.source_of(kit, light), light.distance_m)))


def spread(kit: Any, light: Any) -> float:
    return beams.field_spread_deg(kit, light.modifier, light.accessories)


def test_a_bare_head_is_its_guide_number_over_the_distance(studio: Any) -> None:
    light = studio.light(modifier="bare", distance_m=2.0)
    assert reads(studio.kit(), light) == pytest.approx(2 * log2(52 / 2))


def test_a_modifier_loses_what_was_metered_where_it_was_metered(studio: Any) -> None:
    light = studio.light(distance_m=2.0)
    assert reads(studio.kit(), light) == pytest.approx(2 * log2(52 / 2) - 2.0)


def test_losses_of_accessories_and_cloths_add_up(studio: Any) -> None:
    plain = studio.light()
    dressed = studio.light(accessories=("grid-octa", "gel"), through=("voile",))
    kit = studio.kit()
    assert reads(kit, plain) - reads(kit, dressed) == pytest.approx(0.7 + 0.5 + 1)


def test_the_last_accessory_with_a_spread_rules_the_beam(studio: Any) -> None:
    kit = studio.kit()
    assert spread(kit, studio.light()) == 150
    assert spread(kit, studio.light(accessories=("gel",))) == 150
    assert spread(kit, studio.light(accessories=("grid-octa", "gel"))) == 50


def test_iso_carries_by_its_exact_value(studio: Any) -> None:
    kit, light = studio.kit(), studio.light()
    third = reads(kit, light, iso=125) - reads(kit, light)
    assert third == pytest.approx(1 / 3)


ROW = Measured("A", "1/4", 1.5, 5.6, "octa-90", ("gel", "grid-octa"), 200)


def test_a_measured_row_beats_guide_number_and_losses_but_not_cloths(studio: Any) -> None:
    kit = studio.kit(measured=(ROW,))
    light = studio.light(accessories=("grid-octa", "gel"), distance_m=1.5)
    row = beams.measured_row(kit, light)
    assert row == ROW
    # f/5.6 at 1/4 and ISO 200 is 5 stops: two up to full power, one down to ISO 100
    assert reads(kit, light, row=row) == pytest.approx(5 + 2 - 1)
    veiled = replace(light, through=("voile",))
    assert reads(kit, veiled, row=row) == pytest.approx(5 + 2 - 1 - 1)


def test_a_row_for_other_fittings_does_not_count(studio: Any) -> None:
    kit = studio.kit(measured=(ROW,))
    assert beams.measured_row(kit, studio.light()) is None
    assert beams.measured_row(kit, studio.light("B", accessories=("gel", "grid-octa"))) is None


def test_readings_of_the_day_beat_the_kits_and_the_nearest_counts(studio: Any) -> None:
    def row(distance_m: float, reads_f: float) -> Measured:
        return Measured("A", "1/4", distance_m, reads_f, "octa-90")

    kit, light = studio.kit(measured=(row(1.4, 4.0),)), studio.light(distance_m=1.4)
    assert beams.measured_row(kit, light) == row(1.4, 4.0)
    day = (row(3.0, 2.8), row(1.5, 5.6), row(1.5, 6.3))
    assert beams.measured_row(kit, light, day) == row(1.5, 6.3)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_of_several_rows_the_nearest_counts_on_either_side_of_the_light(studio: Any, order: tuple[int, int]) -> None:
    """Metered at 1.2 m and at 3 m: a light at 1.4 m is carried from the first, one at 2.5 m not."""
    both = (Measured("A", "1/4", 1.2, 5.6, "octa-90"), Measured("A", "1/4", 3.0, 2.8, "octa-90"))
    rows = [both[n] for n in order]
    kit = studio.kit()
    near = {d: beams.measured_row(kit, studio.light(distance_m=d), rows) for d in (0.6, 1.4, 2.5, 6.0)}
    assert near == {0.6: both[0], 1.4: both[0], 2.5: both[1], 6.0: both[1]}


def test_a_bare_head_has_the_spread_of_a_standard_reflector(studio: Any) -> None:
    kit, bare = studio.kit(), studio.light(modifier="bare")
    assert (spread(kit, bare), beams.assumes_bare_spread(kit, bare)) == (70, True)
    entry = Modifier("bare", "bare", spread_deg=55)
    given = studio.kit(modifiers=(*kit.modifiers, entry))
    assert (spread(given, bare), beams.assumes_bare_spread(given, bare)) == (55, False)
    without = studio.kit(modifiers=(*kit.modifiers, Modifier("cone", "bare")))
    assert spread(without, studio.light(modifier="cone")) == 70
    assert not beams.assumes_bare_spread(kit, studio.light())


@pytest.mark.parametrize(("flash", "room"), [(6.0, 5.0), (4.0, 4.5), (8.0, 5.5), (5.0, -2.0)])
def test_room_light_is_taken_off_a_reading(flash: float, room: float) -> None:
    read = add_light([flash, room])
    assert without_ambient(read, room) == pytest.approx(flash, abs=0.1)
    assert without_ambient(read, None) == read
    if read - flash >= 0.1:
        assert without_ambient(read, room) == pytest.approx(flash)


def test_a_reading_of_room_light_alone_says_nothing_of_the_flash() -> None:
    assert without_ambient(5.0, 5.0) is None
    assert without_ambient(5.0, 5.5) is None
    assert without_ambient(5.05, 5.0) is None


def test_a_reading_cannot_be_taken_of_a_head_that_is_off(studio: Any) -> None:
    row = replace(ROW, power="off")
    with pytest.raises(ValueError, match="with it off"):
        beams.full_power_stops(studio.kit(), studio.light(), 100, row)


def test_no_room_light_is_dark() -> None:
    assert ambient_stops(0, "1/160", 100) == DARK
