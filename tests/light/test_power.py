from __future__ import annotations

from fractions import Fraction
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light.falloff import Source, view_share
from runbook.light.power import Tape, dial_for, ways_out
from runbook.model.power import Dial, Power

DIAL = Dial(Fraction(1, 3), Power(Fraction(7)))


@given(st.floats(-5, 15), st.floats(-5, 15))
def test_the_click_dialled_is_the_nearest_and_says_what_is_left(full: float, asked: float) -> None:
    got = dial_for(DIAL, full, asked)
    assert got.power.below_full is not None
    gives = full - float(got.power.below_full)
    assert gives - asked == pytest.approx(got.left_over_stops, abs=1e-9)
    best = min(abs(full - float(power.below_full or 0) - asked) for power in DIAL.every())
    assert abs(got.left_over_stops) == pytest.approx(best, abs=1e-9)
    assert got.in_range == (abs(got.left_over_stops) <= 1 / 6 + 1e-9)


def test_out_of_range_stops_at_the_end_of_the_dial() -> None:
    low = dial_for(DIAL, 9.0, 1.0)
    assert (str(low.power), low.left_over_stops, low.in_range) == ("1/128", 1.0, False)
    high = dial_for(DIAL, 4.0, 6.0)
    assert (str(high.power), high.left_over_stops, high.in_range) == ("full", -2.0, False)


@given(st.floats(0.4, 3), st.floats(-2, 3))
def test_the_distance_given_undoes_what_is_left_over(d: float, left_over: float) -> None:
    source = Source("round", 0.9)
    out = ways_out(left_over, 100, 100, Tape(source, d, 0.0))
    if out.distance_m is None:
        assert view_share(source, d) * 2**-left_over >= 0.999
    else:
        change = log2(view_share(source, out.distance_m) / view_share(source, d))
        assert change == pytest.approx(-left_over, abs=1e-6)


def test_ways_out_of_too_bright_and_too_dim() -> None:
    bright = ways_out(1.3, 400, 100)
    assert (bright.distance_m, bright.nd_stops, bright.iso) == (None, 1.3, 160)
    assert ways_out(1.3, 100, 100).iso is None
    dim = ways_out(-1.3, 100, 100, Tape(Source("bare"), 2.0, 1.5))
    assert (dim.distance_m, dim.nd_stops, dim.iso) == (None, None, 250)  # 1.27 m: lower than it is
