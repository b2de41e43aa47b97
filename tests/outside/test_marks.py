"""The engraved scales against public tables.

Apertures, thirds and halves: encyclopaedia table "F-number" (seen in a web copy); its full scale
bears Av -2 to 14. Shutter times in full stops: encyclopaedia table of the APEX system (seen).
Shutter times and ISO speeds in thirds: from memory of ISO 516 and ISO 12232. The two sums with
f/16: GNU Units definitions file (seen), and the encyclopaedia's "Exposure value" (seen).
"""

from __future__ import annotations

from math import log2

import pytest

from runbook.model.nominal_values import APERTURE_MARKS, ISO_MARKS, aperture_stops, iso_stops, shutter_stops

FULL_F = "0.5 0.7 1.0 1.4 2 2.8 4 5.6 8 11 16 22 32 45 64 90 128"
HALF_F = "1.0 1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11"  # 1.2 and 13 are thirds too, and read so
THIRD_F = "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5.0 5.6 6.3 7.1 8 9 10 11 13 14 16 18"
FULL_S = "1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 1/250 1/500 1/1000"
THIRD_S = "1/4 1/5 1/6 1/8 1/10 1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200"
THIRD_ISO = "25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500"


def test_full_stops_of_aperture_are_whole() -> None:
    assert [aperture_stops(float(f)) for f in FULL_F.split()] == list(range(-2, 15))


def test_thirds_of_aperture() -> None:
    stops = [aperture_stops(float(f)) for f in THIRD_F.split()]
    assert stops == pytest.approx([n / 3 for n in range(len(stops))])


def test_halves_of_aperture() -> None:
    found = {f: aperture_stops(float(f)) for f in HALF_F.split()}
    halves = [0, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7]
    assert list(found.values()) == pytest.approx(halves)


def test_full_and_third_stops_of_time() -> None:
    assert [shutter_stops(t) for t in FULL_S.split()] == pytest.approx(list(range(11)))
    thirds = [shutter_stops(t) for t in THIRD_S.split()]
    assert thirds == pytest.approx([2 + n / 3 for n in range(len(thirds))])


def test_thirds_of_film_speed() -> None:
    found = [iso_stops(float(s)) for s in THIRD_ISO.split()]
    assert found == pytest.approx([n / 3 - 2 for n in range(len(found))])


def test_a_mark_is_never_more_than_a_sixth_of_a_stop_from_its_number() -> None:
    # derived: past a sixth it would be the mark of the next third
    assert all(abs(2 * log2(f) - av) < 1 / 6 for f, av in APERTURE_MARKS.items())
    assert all(abs(log2(iso / 100) - stops) < 1 / 6 for iso, stops in ISO_MARKS.items())


def test_ev_of_f16_at_a_125th_is_15() -> None:
    assert aperture_stops(16) + shutter_stops("1/125") == pytest.approx(15, abs=1e-9)
    # with the literal hundredth of a second of the worked example, which is off the scale
    assert aperture_stops(16) + -log2(1 / 100) == pytest.approx(14.643856, abs=1e-6)


def test_exact_values_behind_marks() -> None:
    for mark, exact in ((22, 22.6274), (11, 11.3137), (3.5, 3.5636)):
        assert 2 ** (aperture_stops(mark) / 2) == pytest.approx(exact, abs=1e-4)
