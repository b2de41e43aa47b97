"""Stops, guide numbers, ambient light and adding light, held against the outside.

Each check names its source and how far that source was read: seen, second-hand, from memory, run
(by another program), derived (from the formula, no published number), or common practice without
a source.
"""

from __future__ import annotations

from fractions import Fraction
from math import log2

import numpy as np
import pytest

from runbook.light.beam import Source, full_power_stops, view_share
from runbook.light.stops import add_light, ambient_stops, f_number
from runbook.model.kit import Head, Kit
from runbook.model.nominal_values import aperture_stops, iso_stops, shutter_stops
from runbook.model.power import FULL, Power, stops_below
from runbook.model.setup import Light

THIRD = Fraction(1, 3)


# Encyclopaedia article on the f-number, table of scales: seen. Full-stop marks, Av -2 to 14.
@pytest.mark.parametrize(
    ("av", "mark"), list(enumerate([0.5, 0.7, 1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64, 90, 128], -2))
)
def test_full_stop_marks_stand_for_powers_of_two(av: int, mark: float) -> None:
    assert aperture_stops(mark) == av
    # the mark is within 0.09 stop of what it stands for
    assert 2 * log2(mark) == pytest.approx(av, abs=0.09)


# Same table, third-stop marks: seen. f/22, f/11, f/3.5 exact (Av 9, 7, 11/3): formula.
@pytest.mark.parametrize(("mark", "exact"), [(22, 22.6274), (11, 11.3137), (3.5, 3.5636), (13, 12.6992), (1.2, 1.2599)])
def test_marks_and_their_exact_values(mark: float, exact: float) -> None:
    assert f_number(aperture_stops(mark)) == pytest.approx(exact, abs=1e-4)


# "f/2.8 stopped down by a third, two thirds, one": same article, seen.
@pytest.mark.parametrize(("mark", "down"), [(3.2, 1 / 3), (3.5, 2 / 3), (4, 1)])
def test_third_stops_down_from_f28(mark: float, down: float) -> None:
    assert aperture_stops(mark) - aperture_stops(2.8) == pytest.approx(down)


# Exif ApertureValue 3, 6, 7 read by ExifTool 12.57 as 2.8, 8.0, 11.3: run.
@pytest.mark.parametrize(("av", "text"), [(3, "2.8"), (6, "8.0"), (7, "11.3")])
def test_exif_aperture_values(av: float, text: str) -> None:
    assert f"{f_number(av):.1f}" == text


# Exif ShutterSpeedValue 7 is 1/128 s, marked 1/125; full-stop shutter marks Tv 0 to 10: the
# German encyclopaedia's APEX table, seen.
def test_full_stop_shutter_marks() -> None:
    marks = ["1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500", "1/1000"]
    assert [shutter_stops(mark) for mark in marks] == list(range(11))


# f/16 at 1/125 s (exactly 1/128) is EV 15: encyclopaedia article on exposure value, seen.
def test_sunny_sixteen_is_ev_15() -> None:
    assert aperture_stops(16) + shutter_stops("1/125") == 15


# EV at ISO 100 of f/8, 1/128 s, ISO 400 is 11: ExifTool's LightValue, run.
def test_light_value_of_a_faster_film() -> None:
    assert aperture_stops(8) + shutter_stops("1/125") - iso_stops(400) == 11


def bare_reads(guide: float, distance: float, iso: float = 100, power: str = "full") -> float:
    """The f-number on axis of a bare head of this guide number."""
    head = Head(
        id="A",
        energy_ws=200.0,
        guide_number_m=guide,
        power_min="1/128",
        power_step="1/3",
        mass_kg=2.0,
        recycle_full_s=1.0,
        recycle_min_s=0.1,
    )
    below = head.dial.read(power)
    light = Light("A", "key", "S", below, "left", 0.0, distance, 1.0)
    full = full_power_stops(Kit(heads=(head,)), light, iso)
    at_power = full + log2(below.share)
    return f_number(at_power + log2(view_share(Source("bare"), distance)))


# Guide number = f-number x distance: 120 ft at f/4 and 30 ft, f/8 and 15 ft, f/16 and 7.5 ft
# (encyclopaedia article on the guide number, seen); 32 m at 4 m is f/8 (photographic society
# text, seen); 45 m at 5 m is f/9 (photographic dictionary, seen).
@pytest.mark.parametrize(
    ("guide", "distance", "f"), [(120, 30, 4), (120, 15, 8), (120, 7.5, 16), (32, 4, 8), (45, 5, 9)]
)
def test_guide_number_arithmetic(guide: float, distance: float, f: float) -> None:
    assert bare_reads(guide, distance) == pytest.approx(f)


# Guide number at ISO 200, 400, 800, 1600 is 1.4, 2, 2.8, 4 times that at 100: Stack Exchange
# 16850, seen.
@pytest.mark.parametrize(("iso", "factor"), [(200, 1.4142), (400, 2), (800, 2.8284), (1600, 4)])
def test_guide_number_grows_with_the_root_of_iso(iso: float, factor: float) -> None:
    assert bare_reads(50, 50, iso=iso) == pytest.approx(factor, abs=1e-4)


# Guide number 64 at 1/64 is 8; two such heads together, or one at 1/32, 11.314: Stack Exchange
# 82465, seen.
def test_guide_number_at_a_part_of_the_power() -> None:
    at_64th, at_32nd = (bare_reads(64, 1, power=power) for power in ("1/64", "1/32"))
    assert at_64th == pytest.approx(8)
    assert at_32nd == pytest.approx(11.3137, abs=1e-4)
    together = f_number(add_light([2 * log2(at_64th)] * 2))
    assert together == pytest.approx(at_32nd)


# Guide number 40 m, 2.5 m: full f/16, 1/4 f/8, 1/4 at ISO 200 f/11.3: derived.
@pytest.mark.parametrize(("power", "iso", "f"), [("full", 100, 16), ("1/4", 100, 8), ("1/4", 200, 11.3137)])
def test_power_and_speed_together(power: str, iso: float, f: float) -> None:
    assert bare_reads(40, 2.5, iso=iso, power=power) == pytest.approx(f, abs=1e-4)


def ev_of_lux(lux: float) -> float:
    """Return the exposure value at ISO 100: the reading at one second."""
    return ambient_stops(lux, "1", 100)


# EV at ISO 100 and lux for an incident meter with C = 250: encyclopaedia article on exposure
# value, table 3, seen for EV -4 to 14; GNU Units' iv100, run.
EV_LUX = [(-4, 0.156), (0, 2.5), (5, 80), (7, 320), (8, 640), (10, 2560), (12, 10240), (14, 40960)]


@pytest.mark.parametrize(("ev", "lux"), EV_LUX)
def test_ev_and_lux(ev: float, lux: float) -> None:
    assert ev_of_lux(lux) == pytest.approx(ev, abs=5e-3)


# 100 klx of full sun and 10 klx of overcast (IES Lighting Handbook, 8th ed., via GNU Units,
# second-hand) are EV 15.288 and 11.966; the scene table (seen) has 15 and 12.
@pytest.mark.parametrize(("lux", "ev", "scene"), [(100_000, 15.288, 15), (10_000, 11.966, 12)])
def test_sun_and_overcast(lux: float, ev: float, scene: float) -> None:
    assert ev_of_lux(lux) == pytest.approx(ev, abs=1e-3)
    assert ev_of_lux(lux) == pytest.approx(scene, abs=0.3)


# 81 920 lux, f/16, ISO 100 wants 1/128 s; 320 lux at f/8 and 1/128 s is 6 under (5.966 for
# exactly 0.008 s); 500 lux at f/8 wants 0.32 s: derived from the formula.
def test_ambient_readings() -> None:
    assert ambient_stops(81_920, "1/125", 100) == pytest.approx(aperture_stops(16))
    assert aperture_stops(8) - ambient_stops(320, "1/125", 100) == pytest.approx(6)
    assert aperture_stops(8) - ambient_stops(500, "0.32", 100) == pytest.approx(0, abs=1e-3)


# Ambient so many stops under adds so much to a subject the flash exposes: derived.
@pytest.mark.parametrize(("under", "adds"), [(0, 1), (1, 0.5850), (2, 0.3219), (3, 0.1699), (4, 0.0875), (5, 0.0444)])
def test_what_ambient_adds_to_the_flash(under: float, adds: float) -> None:
    assert add_light([0.0, -under]) == pytest.approx(adds, abs=1e-4)


# Common practice, no source: at 1/200, f/2 and ISO 100 a dim studio of 60 lux records next to
# nothing: it is over 5 stops under, what is called buried here.
def test_a_dim_studio_is_buried_at_sync_speed() -> None:
    under = aperture_stops(2) - ambient_stops(60, "1/200", 100)
    assert 5 < under < 5.2


# Common practice, no source: from a quarter to an eighth is one stop, f/2.8 to f/5.6 two.
def test_what_every_assistant_knows() -> None:
    quarter, eighth = (stops_below(text, THIRD).below_full for text in ("1/4", "1/8"))
    assert eighth is not None and quarter is not None
    assert eighth - quarter == 1
    assert aperture_stops(5.6) - aperture_stops(2.8) == 2


# US Navy NAVEDTRA 14209 (1993), p. 144, seen: two equal units on one area are one stop more.
def test_two_equal_heads_are_one_stop() -> None:
    assert add_light([5.0, 5.0]) == pytest.approx(6)


# Three lights of f/5 are f/8.66: a hobby article with the square-sum method, seen. Two of f/8
# are f/11.3, four f/16: derived.
@pytest.mark.parametrize(("f", "count", "total"), [(5, 3, 8.6603), (8, 2, 11.3137), (8, 4, 16)])
def test_equal_lights_add_by_the_square(f: float, count: int, total: float) -> None:
    assert f_number(add_light([2 * log2(f)] * count)) == pytest.approx(total, abs=1e-4)


# numpy.logaddexp2, run.
@pytest.mark.parametrize("seed", range(5))
def test_adding_light_is_numpys_logaddexp2(seed: int) -> None:
    readings = np.random.default_rng(seed).uniform(-12, 12, 6)
    assert add_light(readings.tolist()) == pytest.approx(np.logaddexp2.reduce(readings), abs=1e-12)


def additive(key: float, fill: float) -> float:
    """Key and fill together over fill alone: the handbooks' lighting ratio."""
    return float(2 ** (add_light([key, fill]) - fill))


def by_distance(main_ft: float, fill_ft: float) -> float:
    bare = Source("bare")
    return additive(log2(view_share(bare, main_ft)), log2(view_share(bare, fill_ft)))


# US Army SS0510 (1994), p. 1-18, and US Navy NAVEDTRA 14209, p. 143, seen: equal heads with the
# fill at 11 ft and the main at 8 are 3:1, main at 5.6 are 5:1; 5.6 and 8 ft, 16 and 22 ft 3:1.
# The feet are marks: 11 stands for 11.3.
@pytest.mark.parametrize(("main_ft", "fill_ft", "ratio"), [(8, 11, 3), (5.6, 11, 5), (5.6, 8, 3), (16, 22, 3)])
def test_handbook_ratios_by_distance(main_ft: float, fill_ft: float, ratio: float) -> None:
    assert by_distance(main_ft, fill_ft) == pytest.approx(ratio, abs=0.15)


# Same handbooks, seen: equal heads 2:1; fill at half power 3:1; fill two stops under 5:1.
@pytest.mark.parametrize(("under", "ratio"), [(0, 2), (1, 3), (2, 5)])
def test_handbook_ratios_by_stops(under: float, ratio: float) -> None:
    assert additive(0.0, -under) == pytest.approx(ratio)


# Ten clicks of a tenth are one stop; seven tenths down leave 0.6156 of the energy, two thirds
# 0.6300: derived.
def test_power_scale() -> None:
    assert Power(Fraction(10, 10)).share == 0.5
    assert Power(Fraction(7, 10)).share == pytest.approx(0.615572, abs=1e-6)
    assert Power(Fraction(2, 3)).share == pytest.approx(0.629961, abs=1e-6)
    assert FULL.share == 1
