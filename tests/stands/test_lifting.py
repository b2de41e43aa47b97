import pytest
from hypothesis import given

from runbook.stands.lifting import Hands, filter_kg, hands_for, people_for
from tests.stands.rigs import numbers


@given(numbers(0, 2), numbers(0, 2), numbers(0, 2))
def test_a_longer_way_never_allows_more(low: float, middle: float, high: float) -> None:
    low, middle, high = sorted((low, middle, high))
    assert filter_kg(low, high) <= filter_kg(low, middle)
    assert filter_kg(high, low) == filter_kg(low, high)


@given(numbers(0.5, 40), numbers(0, 10))
def test_a_heavier_thing_never_takes_fewer(kg: float, more: float) -> None:
    light, heavy = people_for(kg, 0.3, 1.0), people_for(kg + more, 0.3, 1.0)
    assert heavy is None or (light is not None and light <= heavy)


def test_a_boom_takes_two_when_its_arm_moves() -> None:
    for verb in ("place", "strike", "move", "raise", "lower", "fit", "free"):
        assert hands_for(verb, 3.0, boom=True).people == 2
    assert hands_for("bag", 5.0, boom=True).people == 1


@pytest.mark.parametrize(("verb", "kg", "where", "people"), [
    ("fit", 3.3, {}, 1), ("place", 15.0, {}, 2), ("place", 60.0, {}, 4), ("aim", 60.0, {}, 1),
    ("bag", 7.0, {}, 1), ("bag", 9.0, {}, 2),  # from the floor
    # DIN 56950-3: sections raised by hand are limited to 15 kg (seen in a summary only)
    ("raise", 15.0, {}, 1), ("lower", 15.0, {}, 1), ("raise", 15.1, {}, 2), ("lower", 19.0, {}, 2),
    # a lift over the shoulder takes two sooner
    ("fit", 8.0, {"high_m": 1.0}, 1), ("fit", 8.0, {"high_m": 1.8}, 2),
    # HSE L23 filter, lower column: 7 kg below mid lower leg, 13 kg from there to the knuckles
    ("bag", 13.0, {"low_m": 0.3}, 1), ("bag", 13.1, {"low_m": 0.3}, 2), ("bag", 13.0, {}, 4),
])  # fmt: skip
def test_people_for_a_step(verb: str, kg: float, where: dict[str, float], people: int) -> None:
    assert hands_for(verb, kg, **where).people == people


def test_reasons_in_words() -> None:
    assert hands_for("fit", 3.3) == Hands(1, "3.3 kg, within the 13 kg one person lifts from 0.30 m up")
    assert hands_for("place", 15.0).why == "15.0 kg, over the 13 kg one person lifts from 0.30 m up"
    assert hands_for("place", 60.0).why == "60.0 kg, more than four people lift safely: use wheels"
    assert hands_for("raise", 15.1).why == "15.1 kg, over the 15 kg one person raises by hand: use a wind-up stand"
    assert hands_for("place", 14.0, units="imperial").why == (
        "30.9 lb, over the 28.7 lb one person lifts from 1 ft 0 in up"
    )
