"""A boom's arm against the seesaws of the school books."""

from __future__ import annotations

import pytest

from runbook.stands.statics import G, Rig, arm_loads, balance_kg, load_kg, loads_of
from tests.stands.rigs import a_boom, a_head


def test_seesaw() -> None:
    # OpenStax College Physics, Example 9.1 (data seen, answers from memory): 26.0 kg at 1.60 m
    # is balanced by 32.0 kg at 1.30 m.
    assert balance_kg([(26.0, 1.60)], 1.30) == pytest.approx(32.0)


def test_seesaw_with_a_heavy_plank() -> None:
    # Same, chapter 9 problem 5 (data and answers seen): the plank's 12.0 kg act 0.160 m on the
    # lighter child's side; the heavier sits at 1.36 m.
    assert balance_kg([(26.0, 1.60), (12.0, 0.160)], 1.36) == pytest.approx(32.0)


def test_weights_on_a_stick() -> None:
    # OpenStax University Physics 1, ch. 12 (masses seen, distances and answers from memory).
    loads = [(0.0500, 0.70), (0.0750, 0.40), (0.1500, 0.20)]
    assert balance_kg(loads, 0.30) == pytest.approx(0.3167, abs=1e-4)


def test_metre_stick() -> None:
    # Halliday/Resnick type, zanotowane.pl/1004/6267 (seen): 10.0 g at 0.120 m, fulcrum 0.455 m,
    # stick centre 0.500 m: the stick has 74 g.
    assert balance_kg([(0.0100, 0.455 - 0.120)], 0.045) == pytest.approx(0.0744, abs=1e-4)


# Derived; sympy's Beam agreed: 14.000 kgf at the pivot in the first row, no moment.
@pytest.mark.parametrize(
    ("long", "pivot", "head", "arm", "weight", "load"),
    [
        (2.0, 0.6, 3.0, 2.4, 8.600, 14.0),
        (2.0, 0.6, 4.5, 2.4, 12.100, 19.0),
        (1.5, 0.5, 2.0, 1.5, 4.750, 8.25),
        (3.0, 1.0, 5.0, 4.0, 12.000, 21.0),
    ],
)
def test_booms(  # noqa: PLR0917
    long: float, pivot: float, head: float, arm: float, weight: float, load: float
) -> None:
    stand = a_boom(arm_m=long - pivot, arm_back_m=pivot, arm_mass_kg=arm, counterweight_kg=weight)
    rig = Rig(stand, 2.0, a_head(head))
    assert balance_kg(arm_loads(rig), pivot) == pytest.approx(weight)
    assert load_kg(rig) == pytest.approx(load)


@pytest.mark.parametrize(
    ("weight", "moment", "offset"), [(8.0, 3.530, 0.0269), (5.0, 21.182, 0.2077), (0.0, 50.602, 0.9556)]
)
def test_what_a_light_counterweight_leaves(weight: float, moment: float, offset: float) -> None:
    stand = a_boom(arm_m=1.4, arm_back_m=0.6, arm_mass_kg=2.4, counterweight_kg=weight)
    ((kg, x),) = loads_of(Rig(stand, 2.0, a_head(3.0)))
    assert G * kg * x == pytest.approx(moment, abs=1e-3)
    assert x == pytest.approx(offset, abs=1e-4)
