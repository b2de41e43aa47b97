"""The engraved scales against public tables.

Apertures, thirds and halves: encyclopaedia table "F-number" (seen in a web copy); its full scale
bears Av -2 to 14. Shutter times in full stops: encyclopaedia table of the APEX system (seen).
Shutter times and ISO speeds in thirds: from memory of ISO 516 and ISO 12232.
"""

from collections.abc import Callable
from math import log2

import pytest

from runbook.light.stops import f_number
from runbook.model.nominal_values import APERTURE_MARKS, ISO_MARKS, aperture_stops, iso_stops, shutter_stops


@pytest.mark.parametrize(("stops", "marks", "first", "step"), [
    (aperture_stops, "0.5 0.7 1.0 1.4 2 2.8 4 5.6 8 11 16 22 32 45 64 90 128", -2, 1),
    (aperture_stops, "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5.0 5.6 6.3 7.1 8 9 10 11 13 14", 0, 1 / 3),
    (aperture_stops, "1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11", 1, 1 / 2),  # 1.2 and 13 are read as thirds
    (shutter_stops, "1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 1/250 1/500 1/1000", 0, 1),
    (shutter_stops, "1/4 1/5 1/6 1/8 1/10 1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125", 2, 1 / 3),
    (iso_stops, "25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500", -2, 1 / 3),
])  # fmt: skip
def test_scales(stops: Callable[[float | str], float], marks: str, first: float, step: float) -> None:
    values = [stops(mark if "/" in marks else float(mark)) for mark in marks.split()]
    assert values == pytest.approx([first + n * step for n in range(len(values))])


def test_a_mark_is_never_more_than_a_sixth_of_a_stop_from_its_number() -> None:
    # derived: past a sixth it would be the mark of the next third
    assert all(abs(2 * log2(f) - av) < 1 / 6 for f, av in APERTURE_MARKS.items())
    assert all(abs(log2(iso / 100) - stops) < 1 / 6 for iso, stops in ISO_MARKS.items())


# Third-stop marks of the same table (seen) and their exact values (formula: Av 9, 7, 11/3, 22/3, 2/3).
@pytest.mark.parametrize(("mark", "exact"), [(22, 22.6274), (11, 11.3137), (3.5, 3.5636), (13, 12.6992), (1.2, 1.2599)])
def test_exact_values_behind_marks(mark: float, exact: float) -> None:
    assert f_number(aperture_stops(mark)) == pytest.approx(exact, abs=1e-4)


def test_exposure_values() -> None:
    # f/16 at 1/125 s (exactly 1/128) is EV 15: encyclopaedia article on exposure value, seen
    assert aperture_stops(16) + shutter_stops("1/125") == pytest.approx(15, abs=1e-9)
    # f/8, 1/128 s, ISO 400 is 11 at ISO 100: ExifTool's LightValue, run
    assert aperture_stops(8) + shutter_stops("1/125") - iso_stops(400) == pytest.approx(11)
