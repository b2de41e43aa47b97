"""Lengths, masses, pushes and winds in words."""

import pytest

from runbook.model.units import MS_PER_MPH, Units, figure, force, length, mass, speed


@pytest.mark.parametrize(
    ("formatter", "metric", "imperial"),
    [(length, "1.4 m", "4 ft 7 in"), (mass, "1.4 kg", "3.1 lb"), (speed, "1.4 m/s", "3.1 mph")],
)
def test_values_are_formatted_in_both_units(formatter: object, metric: str, imperial: str) -> None:
    assert formatter(1.4) == metric  # type: ignore[operator]
    assert formatter(1.4, "imperial") == imperial  # type: ignore[operator]


def test_a_push_is_formatted_as_a_weight() -> None:
    # standard gravity, 9.80665 m/s2; the pound of 1959
    assert force(9.80665) == "1.0 kgf"
    assert force(9.80665, "imperial") == "2.2 lbf"
    assert pytest.approx(0.44704) == MS_PER_MPH


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_a_unit_is_always_named(units: Units) -> None:
    for formatter in (length, mass, force, speed):
        assert formatter(0.0, units).split()[-1].isalpha() or "/" in formatter(0.0, units)


@pytest.mark.parametrize(
    ("formatter", "form", "metric"),
    [(length, ".2f", "2.00 m"), (length, "g", "2 m"), (mass, ".1f", "2.0 kg"), (speed, "g", "2 m/s")],
)
def test_a_metric_value_takes_the_form_given_and_an_imperial_one_does_not(formatter, form, metric):
    assert formatter(2.0, "metric", form) == metric  # type: ignore[operator]
    assert formatter(2.0, "imperial", form) == formatter(2.0, "imperial")  # type: ignore[operator]


def test_a_figure_alone() -> None:
    assert figure(mass(9.0)) == "9"
    assert figure(speed(5.0, "imperial")) == "11.2"
