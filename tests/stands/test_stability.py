from __future__ import annotations

from math import cos, inf, pi

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.stands.statics import (
    BagRange,
    Base,
    Burden,
    Spot,
    bags_needed,
    base_margin_m,
    base_of,
    burden_factor,
    lean_deg,
    push_n,
)
from tests.stands.polygon import margin_m, regular_feet
from tests.stands.rigs import numbers

BURDENS = st.builds(
    lambda stand, load, x, z: Burden(stand + load, load * x, 0.35 * z * stand + load * z, stand, ((load, x),)),
    numbers(1, 12),
    numbers(0.1, 8),
    numbers(0, 1.5),
    numbers(0.6, 3),
)
BASES = st.builds(base_of, st.integers(3, 6), numbers(0.3, 0.8), st.booleans())


@given(st.integers(3, 8), numbers(0.2, 1.0), numbers(-0.8, 0.8), st.booleans())
def test_the_quick_margin_is_the_margin_of_the_real_feet(legs: int, radius: float, x: float, leg: bool) -> None:
    quick = base_margin_m(base_of(legs, radius, leg), x)
    if leg:
        assert quick == pytest.approx(margin_m(regular_feet(legs, radius), x), abs=1e-9)
    else:
        turns = [margin_m(regular_feet(legs, radius, turn), x) for turn in (180 / legs, 0.0, 7.0, 31.0)]
        assert quick <= min(turns) + 1e-9
        facing = regular_feet(legs, radius, 180 / legs if x >= 0 or legs % 2 == 0 else 0.0)
        assert quick == pytest.approx(margin_m(facing, x), abs=1e-9)


@given(BASES, BURDENS, numbers(0.5, 20))
def test_a_bag_at_the_column_never_lowers_lean_push_or_factor(base: Base, burden: Burden, bag: float) -> None:
    spot = Spot(0.0, 0.10)

    def judged(bags: float) -> tuple[float, float, float | None]:
        whole = burden.whole_kg + bags
        margin = base_margin_m(base, burden.turning / whole)
        height = (burden.standing + 0.1 * bags) / whole
        return (lean_deg(margin, height), push_n(whole, margin, 2.0), burden_factor(base, burden, bags, spot))

    before, after = judged(0.0), judged(bag)
    if before[0] > 0:
        assert after[0] >= before[0] - 1e-9
    assert after[1] >= before[1] - 1e-9
    assert (before[2] is None) == (after[2] is None)
    if before[2] is not None:
        assert after[2] >= before[2]


@given(BASES, BURDENS, st.sampled_from([Spot(0.0, 0.1), Spot(-0.18, 0.1)]), numbers(6, 15))
def test_the_bags_needed_are_enough_and_no_more_than_enough(
    base: Base, burden: Burden, spot: Spot, limit: float
) -> None:
    needed = bags_needed(base, burden, spot, limit)

    def meets(bags: float) -> bool:
        whole = burden.whole_kg + bags
        margin = base_margin_m(base, (burden.turning + bags * spot.x) / whole)
        lean = lean_deg(margin, (burden.standing + bags * spot.z) / whole)
        factor = burden_factor(base, burden, bags, spot)
        return lean >= limit - 1e-6 and (factor is None or factor >= 1.5 - 1e-6)

    if needed is None:
        assert not any(meets(bags) for bags in (0, 1, 5, 10, 20, 40, 80))
    else:
        assert meets(needed.least_kg)
        if needed.least_kg > 0.01:
            assert not meets(needed.least_kg * 0.99)
        assert meets(min(needed.most_kg, 200.0))
        if needed.most_kg < 1e3:
            assert not meets(needed.most_kg * 1.01 + 1e-3)


def test_a_limit_no_mass_can_meet_needs_no_bags_but_another_stand() -> None:
    burden = Burden(5.0, 0.0, 8.0, 3.0, ((2.0, 0.0),))
    assert bags_needed(base_of(3, 0.4, False), burden, Spot(0.0, 0.1), 70.0) is None


def test_the_factor_can_ask_for_more_than_the_lean() -> None:
    burden = Burden(12.0, 3.6, 1.2, 8.0, ((4.0, 0.9),))
    low = bags_needed(base_of(3, 0.5, True), burden, Spot(0.0, 0.0), 1e-6, 1.0)
    high = bags_needed(base_of(3, 0.5, True), burden, Spot(0.0, 0.0), 1e-6, 4.0)
    assert low == BagRange(0.0, inf)
    assert high is not None
    assert (high.least_kg, high.most_kg) == (pytest.approx((4.0 * 0.8 - 2.0) / 0.25), inf)


@given(st.integers(3, 6), numbers(0.3, 0.8), numbers(0.01, 0.25))
def test_a_leg_under_the_load_never_makes_it_worse(legs: int, radius: float, x: float) -> None:
    assume(x < radius * cos(pi / legs))
    with_leg = base_margin_m(base_of(legs, radius, True), x)
    assert with_leg >= base_margin_m(base_of(legs, radius, False), x)


def test_a_bag_outside_the_base_does_not_count_as_holding() -> None:
    # 4 kg on the column, 3 kg 1 m out: 2 kg m hold and 1.5 kg m tip about an edge at 0.5 m
    base = base_of(3, 0.5, leg_under_load=True)
    burden = Burden(7.0, 3.0, 8.0, 4.0, ((3.0, 1.0),))
    without = burden_factor(base, burden, 0.0, Spot(0.0, 0.1))
    assert without is not None
    beyond = burden_factor(base, burden, 10.0, Spot(2.0, 0.1))
    assert beyond == pytest.approx(without)
    inside = burden_factor(base, burden, 10.0, Spot(-0.2, 0.1))
    assert inside is not None
    assert inside > without
