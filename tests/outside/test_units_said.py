"""What an imperial day is told, worked out by hand from the metric figures.

The factors: NIST SP 811 (2008), appendix B (from memory): the foot is 0.3048 m, the pound 0.453 592
37 kg and the mile 1609.344 m, all exactly; the pound-force 4.448 222 N. The foot, the mile and the
pound-force to six figures also in a US Navy manual's table of SI factors (seen).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from runbook.model.day import Crew, Place, Problem
from runbook.model.kit import Kit, Panel
from runbook.model.setup import PanelPlace, Setup
from runbook.model.units import KG_PER_POUND, M_PER_INCH, MS_PER_MPH, STANDARD_G, force, mass
from runbook.stands.audit import audit_stands
from tests.stands.rigs import PLACE, a_boom, a_head, a_kit, a_light, a_plan, a_setup, a_stand, bags

BAGGED = a_setup(a_light(bags=("B1",)))
FLAT = PanelPlace("flat", "left", 80, 0.8, 1.2)
GUSTY = Place(indoors=False, gust_ms=5.0)


def test_the_factors() -> None:
    foot, mile = Fraction("0.3048"), Fraction("1609.344")
    assert 12 * Fraction(str(M_PER_INCH)) == foot
    assert Fraction(str(KG_PER_POUND)) == Fraction("0.45359237")
    assert pytest.approx(float(mile / 3600), rel=1e-15) == MS_PER_MPH
    assert pytest.approx(4.448222, abs=5e-7) == KG_PER_POUND * STANDARD_G
    assert force(100 * 4.448222, "imperial") == "100.0 lbf"
    assert mass(100 * 0.45359237, "imperial") == "100 lb"


def told(setup: Setup, kit: Kit | None = None, place: Place = PLACE, crew: int = 2) -> str:
    """What is said of a day in pounds: of its only problem, or of the first."""
    people = tuple(Crew(f"c{n}") for n in range(crew))
    plan = a_plan(setup, kit=kit or a_kit(), place=place, crew=people)
    found: tuple[Problem, ...] = audit_stands(replace(plan, day=replace(plan.day, units="imperial")))
    return f"{found[0].what}: {found[0].do}"


def test_bags_and_pushes() -> None:
    # 0.7216 kg / 0.45359237 = 1.591 lb, never said less
    text = told(a_setup(a_light()))
    assert text.endswith(
        " lbf at the load is enough: hang B1 (15.4 lb) at the column (1.6 lb needed), or lower it to 5 ft 10 in"
    )
    # 0.7216 - 0.5 kg = 0.489 lb
    few = a_plan(a_setup(a_light()), kit=a_kit(bags=bags(0.5)))
    found = audit_stands(replace(few, day=replace(few.day, units="imperial")))
    assert "0.5 lb on S1" in next(each.what for each in found if each.code == "bags-too-few")


def test_a_boom_in_pounds_and_feet() -> None:
    # 3.3 kg at 1.6 m and 1.6 kg at 0.4 m are 5.92 kg m: 7.4 kg (16.314 lb) at 0.8 m (31.496 in),
    # or 9 kg (19.842 lb) at 0.6578 m (25.90 in)
    text = told(a_setup(a_light(stand="boom", bags=("B1",))), a_kit(stands=(a_boom(counterweight_kg=9.0),)))
    assert text == (
        "counterweight 19.8 lb, needs 16.3 lb: hang 16.3 lb at 2 ft 7 in, or slide the 19.8 lb in to 2 ft 2 in"
    )


def test_a_load_a_reach_and_a_lift() -> None:
    # 3.3 kg = 7.275 lb, 3 kg = 6.614 lb, 0.3 kg = 0.661 lb
    assert told(BAGGED, a_kit(stands=(a_stand(load_max_kg=3.0),))).startswith(
        "carries 7.3 lb of 6.6 lb allowed: take 0.7 lb off it"
    )
    # 2.0 m = 78.74 in; 0.1 m = 3.94 in
    assert told(BAGGED, a_kit(stands=(a_stand(height_min_m=2.0),))).startswith(
        "its lowest height, 6 ft 7 in, is 4 in above reach"
    )
    # 14 kg = 30.865 lb; the filter's 13 kg = 28.660 lb
    heavy = a_kit(heads=(a_head(14.0),), stands=(a_stand(load_max_kg=20.0),))
    assert told(BAGGED, heavy, crew=1).startswith(
        "30.9 lb, over the 28.7 lb one person lifts from 1 ft 0 in up; needs 2 people"
    )


def test_winds() -> None:
    # 5 m/s / 0.44704 = 11.185 mph
    assert told(BAGGED, place=GUSTY).startswith("gusts of 11.2 mph (gentle breeze); limit 1")
    # 0.613 * 2^2 * 2.0 * 1.44 m2 = 7.06 N, / 4.448222 = 1.588 lbf; 2 m/s = 4.474 mph
    kit = a_kit(panels=(Panel("flat", 0.6, 2.4, 0.85, mass_kg=9.0),))
    setup = a_setup(a_light(bags=("B1",)), panels=(FLAT,))
    breeze = Place(indoors=False, gust_ms=2.0)
    assert "4.5 mph pushes it with 1.6 lbf" in told(setup, kit, breeze)
