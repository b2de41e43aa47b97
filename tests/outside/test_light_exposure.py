"""Guide numbers, ambient light and adding light, held against the outside.

Each check names its source and how far that source was read: seen, second-hand, from memory, run
(by another program), derived (from the formula, no published number), or common practice without
a source.
"""

from fractions import Fraction
from math import log2

import numpy as np
import pytest

from runbook.light.beam import Source, full_power_stops, view_share
from runbook.light.stops import add_light, ambient_stops, f_number
from runbook.model.kit import Head, Kit
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import Power, stops_below
from runbook.model.setup import Light
from tests.outside.published import agree, published, rows


def bare_reads(guide: float, distance: float, iso: float = 100, power: str = "full") -> float:
    """The f-number on axis of a bare head of this guide number."""
    head = Head("A", 200.0, guide, "1/128", "1/3", mass_kg=2.0, recycle_full_s=1.0, recycle_min_s=0.1)
    below = head.dial.read(power)
    full = full_power_stops(Kit(heads=(head,)), Light("A", "key", "S", "left", 0.0, distance, 1.0, power=below), iso)
    return f_number(full + log2(below.share) + log2(view_share(Source("bare"), distance)))


def ev_of_lux(lux: float) -> float:
    """The exposure value at ISO 100: the reading at one second."""
    return ambient_stops(lux, "1", 100)


def lights_of(f: float, count: int) -> float:
    """The f-number of so many lights that read so much one by one."""
    return f_number(add_light([2 * log2(f)] * count))


def together(*stops: float) -> float:
    return add_light(stops)


def share_below(stops: str) -> float:
    return Power(Fraction(stops)).share


def ratio(key: float, fill: float) -> float:
    """Key and fill together over fill alone: the handbooks' lighting ratio."""
    return float(2 ** (add_light([key, fill]) - fill))


def ratio_at(main_ft: float, fill_ft: float) -> float:
    """The lighting ratio of two equal heads at these distances."""
    return ratio(*(log2(view_share(Source("bare"), feet)) for feet in (main_ft, fill_ft)))


@published(
    # Exif ApertureValue 3, 6, 7 read by ExifTool 12.57: run.
    rows(f_number, 0.05, {(3,): 2.8, (6,): 8.0, (7,): 11.3}),
    # Guide number = f-number x distance, in feet: encyclopaedia article on the guide number, seen.
    rows(bare_reads, 1e-5, {(120, 30): 4, (120, 15): 8, (120, 7.5): 16}),
    # In metres, 32: photographic society text, seen; 45: photographic dictionary, seen.
    rows(bare_reads, 1e-5, {(32, 4): 8, (45, 5): 9}),
    # Guide number at ISO 200 to 1600 over that at 100: Stack Exchange 16850, seen.
    rows(bare_reads, 1e-4, {(50, 50, 200): 1.4142, (50, 50, 400): 2, (50, 50, 800): 2.8284, (50, 50, 1600): 4}),
    # Guide number 64 at 1/64 is 8; two such heads together, or one at 1/32, 11.314: Stack Exchange 82465, seen.
    rows(bare_reads, 1e-4, {(64, 1, 100, "1/64"): 8, (64, 1, 100, "1/32"): 11.3137}),
    rows(lights_of, 1e-4, {(8, 2): 11.3137}),
    # Guide number 40 m, 2.5 m: full f/16, 1/4 f/8, 1/4 at ISO 200 f/11.3: derived.
    rows(bare_reads, 1e-4, {(40, 2.5): 16, (40, 2.5, 100, "1/4"): 8, (40, 2.5, 200, "1/4"): 11.3137}),
    # EV at ISO 100 and lux for an incident meter with C = 250: encyclopaedia article on exposure value,
    # table 3, seen for EV -4 to 14; GNU Units' iv100, run.
    rows(ev_of_lux, 5e-3, {(0.156,): -4, (2.5,): 0, (80,): 5, (320,): 7, (2560,): 10, (10_240,): 12, (40_960,): 14}),
    # Full sun and overcast (IES Lighting Handbook, 8th ed., via GNU Units, second-hand), and the scene
    # table's EV 15 and 12 (seen).
    rows(ev_of_lux, 1e-3, {(100_000,): 15.288, (10_000,): 11.966}),
    rows(ev_of_lux, 0.3, {(100_000,): 15, (10_000,): 12}),
    # 81 920 lux wants f/16 at 1/128 s; 320 lux is 6 under f/8 there; 500 lux at f/8 wants 0.32 s: derived.
    rows(ambient_stops, 1e-3, {(81_920, "1/125", 100): 8, (320, "1/125", 100): 0, (500, "0.32", 100): 6}),
    # Ambient so many stops under adds so much to a subject the flash exposes: derived.
    rows(together, 1e-4, {(0, 0): 1, (0, -1): 0.5850, (0, -2): 0.3219, (0, -3): 0.1699, (0, -4): 0.0875}),
    # Two equal units on one area are one stop more: US Navy NAVEDTRA 14209 (1993), p. 144, seen.
    rows(together, 1e-5, {(5, 5): 6}),
    # Three lights of f/5: a hobby article with the square-sum method, seen. Four of f/8: derived.
    rows(lights_of, 1e-4, {(5, 3): 8.6603, (8, 4): 16}),
    # US Army SS0510 (1994), p. 1-18, and US Navy NAVEDTRA 14209, p. 143, seen: equal heads at these feet.
    # The feet are marks: 11 stands for 11.3.
    rows(ratio_at, 0.15, {(8, 11): 3, (5.6, 11): 5, (5.6, 8): 3, (16, 22): 3}),
    # Same handbooks, seen: equal heads 2:1; fill at half power 3:1; fill two stops under 5:1.
    rows(ratio, 1e-5, {(0, 0): 2, (0, -1): 3, (0, -2): 5}),
    # Ten clicks of a tenth are one stop; seven tenths down leave 0.6156 of the energy, two thirds 0.63: derived.
    rows(share_below, 1e-6, {("0",): 1, ("1",): 0.5, ("7/10",): 0.615572, ("2/3",): 0.629961}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)


# Common practice, no source: at 1/200, f/2 and ISO 100 a dim studio of 60 lux records next to
# nothing: it is over 5 stops under, what is called buried here.
def test_a_dim_studio_is_buried_at_sync_speed() -> None:
    assert 5 < aperture_stops(2) - ambient_stops(60, "1/200", 100) < 5.2


# Common practice, no source: from a quarter to an eighth is one stop.
def test_a_quarter_and_an_eighth_are_a_stop_apart() -> None:
    quarter, eighth = (stops_below(text, Fraction(1, 3)).below_full for text in ("1/4", "1/8"))
    assert quarter is not None
    assert eighth == quarter + 1


# numpy.logaddexp2, run.
@pytest.mark.parametrize("seed", range(5))
def test_adding_light_is_numpys_logaddexp2(seed: int) -> None:
    readings = np.random.default_rng(seed).uniform(-12, 12, 6)
    assert add_light(readings.tolist()) == pytest.approx(np.logaddexp2.reduce(readings), abs=1e-12)
