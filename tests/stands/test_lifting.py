from __future__ import annotations

import pytest
from hypothesis import given

from runbook.stands.lifting import filter_kg, hands_for, people_for, reach_of, team_kg
from tests.stands.rigs import a_stand, numbers


@given(numbers(0, 2), numbers(0, 2), numbers(0, 2))
def test_a_longer_way_never_allows_more(low: float, middle: float, high: float) -> None:
    low, middle, high = sorted((low, middle, high))
    assert filter_kg(low, high) <= filter_kg(low, middle)
    assert filter_kg(high, low) == filter_kg(low, high)


@given(numbers(0.5, 40), numbers(0, 10))
def test_a_heavier_thing_never_takes_fewer(kg: float, more: float) -> None:
    light, heavy = people_for(kg, 0.3, 1.0), people_for(kg + more, 0.3, 1.0)
    assert heavy is None or (light is not None and light <= heavy)


def test_more_than_four_do_not_lift_together() -> None:
    with pytest.raises(ValueError, match="one to four"):
        team_kg((10.0,) * 5)
    assert people_for(60, 0.3, 1.0) is None


def test_a_boom_takes_two_when_its_arm_moves() -> None:
    for verb in ("place", "strike", "move", "raise", "lower", "fit", "free"):
        assert hands_for(verb, 3.0, boom=True).people == 2
    assert hands_for("bag", 5.0, boom=True).people == 1
    assert "holds the arm" in hands_for("move", 3.0, boom=True).why


def test_hands_and_why() -> None:
    assert hands_for("fit", 3.3) == (1, "3.3 kg is within the 13 kg one person lifts with hands from 0.30 m up")
    assert hands_for("place", 15.0) == (2, "15.0 kg is over the 13 kg one person lifts with hands from 0.30 m up")
    assert hands_for("bag", 9.0).people == 2  # from the floor
    assert hands_for("bag", 7.0).people == 1
    assert hands_for("fit", 8.0, high_m=1.8).people == 2  # over the shoulder
    assert hands_for("place", 60.0) == (4, "60.0 kg is more than four lift safely: use wheels")
    assert hands_for("aim", 60.0).people == 1
    # DIN 56950-3: sections raised by hand are limited to 15 kg (seen in a summary only)
    assert hands_for("raise", 15.0).people == hands_for("lower", 15.0).people == 1
    assert hands_for("raise", 15.1) == (2, "15.1 kg is over the 15 kg one person raises by hand: better wind it up")
    assert hands_for("lower", 19.0).people == 2


def test_a_13_kg_bag_with_a_handle_0_3_m_up_is_one_persons() -> None:
    # HSE L23 filter, lower column: 7 kg below mid lower leg, 13 kg from there to the knuckles
    assert hands_for("bag", 13.0, low_m=0.3).people == 1
    assert hands_for("bag", 13.1, low_m=0.3).people == 2
    low = hands_for("bag", 13.0)
    assert low.people > 2
    assert "0.10 m" in low.why


def test_why_is_said_in_pounds_on_an_imperial_day() -> None:
    assert hands_for("place", 14.0, units="imperial") == (
        2,
        "30.9 lb is over the 28.7 lb one person lifts with hands from 1 ft 0 in up",
    )
    assert "132.3 lb is more" in hands_for("place", 60.0, units="imperial").why
    assert hands_for("fit", 3.3, units="imperial").why.startswith("7.3 lb is within the 28.7 lb")


def test_a_lift_asked_again_is_not_worked_out_again() -> None:
    hands_for("place", 14.125, units="imperial")
    known = hands_for.cache_info().hits
    hands_for("place", 14.125, units="imperial")
    assert hands_for.cache_info().hits == known + 1


def test_how_hands_get_there() -> None:
    stand = a_stand()
    assert reach_of(stand, 1.9, 1.9).how == "from the floor"
    high = reach_of(stand, 2.4, 1.9)
    assert (high.how, round(high.over_m, 2)) == ("lower it", 0.5)
    tall = reach_of(a_stand(height_min_m=2.1), 2.4, 1.9)
    assert (tall.how, round(tall.over_m, 2)) == ("use a step", 0.2)
    assert "0.20 m over reach" in tall.why
    feet = reach_of(a_stand(height_min_m=2.1), 2.4, 1.9, "imperial")
    assert feet.why == "its lowest, 6 ft 11 in, is still 8 in over reach"
    assert reach_of(stand, 2.4, 1.9, "imperial").why.startswith("7 ft 10 in is 1 ft 8 in over")
    assert reach_of(stand, 1.9, 1.9, "imperial").why == "6 ft 3 in is in reach"
