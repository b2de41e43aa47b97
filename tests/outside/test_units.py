"""The figures of an imperial day, worked out by hand from the metric ones.

The factors: NIST SP 811 (2008), appendix B (from memory): the foot is 0.3048 m, the pound 0.453 592
37 kg and the mile 1609.344 m, all exactly; the pound-force 4.448 222 N. The foot, the mile and the
pound-force to six figures also in a US Navy manual's table of SI factors (seen).
"""

from dataclasses import replace
from fractions import Fraction

import pytest

from runbook.model.day import Crew, Place, Plan
from runbook.model.kit import Kit, Panel
from runbook.model.setup import PanelPlace, Setup
from runbook.model.units import KG_PER_POUND, M_PER_INCH, MS_PER_MPH, STANDARD_G, force, mass
from runbook.stands.audit import audit_stands
from tests.stands.rigs import PLACE, a_boom, a_head, a_kit, a_light, a_plan, a_setup, a_stand, bags


def test_the_factors() -> None:
    assert 12 * Fraction(str(M_PER_INCH)) == Fraction("0.3048")
    assert Fraction(str(KG_PER_POUND)) == Fraction("0.45359237")
    assert pytest.approx(1609.344 / 3600, rel=1e-15) == MS_PER_MPH
    assert pytest.approx(4.448222, abs=5e-7) == KG_PER_POUND * STANDARD_G
    assert force(100 * 4.448222, "imperial") == "100.0 lbf"
    assert mass(100 * 0.45359237, "imperial") == "100 lb"


def day(setup: Setup, kit: Kit | None = None, place: Place = PLACE, crew: int = 2) -> Plan:
    people = tuple(Crew(f"c{n}") for n in range(crew))
    plan = a_plan(setup, kit=kit or a_kit(), place=place, crew=people)
    return replace(plan, day=replace(plan.day, units="imperial"))


BARE, BAGGED = a_setup(a_light()), a_setup(a_light(bags=("B1",)))
ON_BOOM = a_setup(a_light(stand="boom", bags=("B1",)))
WITH_FLAT = a_setup(a_light(bags=("B1",)), panels=(PanelPlace("flat", "left", 80, 0.8, 1.2),))
FLAT = a_kit(panels=(Panel("flat", 0.6, 2.4, 0.85, mass_kg=9.0),))
HEAVY = a_kit(heads=(a_head(14.0),), stands=(a_stand(load_max_kg=20.0),))


@pytest.mark.parametrize(("plan", "figures"), [
    # 0.7216 kg / 0.45359237 = 1.591 lb, rounded up
    (day(BARE), ["15.4 lb", "1.6 lb", "5 ft 10 in"]),
    # 0.7216 - 0.5 kg = 0.489 lb
    (day(BARE, a_kit(bags=bags(0.5))), ["0.5 lb on S1"]),
    # 3.3 kg at 1.6 m and 1.6 kg at 0.4 m are 5.92 kg m: 7.4 kg (16.314 lb) at 0.8 m (31.496 in), or 9 kg (19.8 lb)
    # at 0.6578 m (25.90 in)
    (day(ON_BOOM, a_kit(stands=(a_boom(counterweight_kg=9.0),))), ["19.8 lb", "16.3 lb", "2 ft 7 in", "2 ft 2 in"]),
    # 3.3 kg = 7.275 lb, 3 kg = 6.614 lb, 0.3 kg = 0.661 lb
    (day(BAGGED, a_kit(stands=(a_stand(load_max_kg=3.0),))), ["7.3 lb", "6.6 lb", "0.7 lb"]),
    # 2.0 m = 78.74 in; 0.1 m = 3.94 in
    (day(BAGGED, a_kit(stands=(a_stand(height_min_m=2.0),))), ["6 ft 7 in", "4 in"]),
    # 14 kg = 30.865 lb; the filter's 13 kg = 28.660 lb
    (day(BAGGED, HEAVY, crew=1), ["30.9 lb", "28.7 lb", "1 ft 0 in"]),
    # 5 m/s / 0.44704 = 11.185 mph
    (day(BAGGED, place=Place(indoors=False, gust_ms=5.0)), ["gusts of 11.2 mph (gentle breeze)"]),
    # 0.613 * 2^2 * 2.0 * 1.44 m2 = 7.06 N, / 4.448222 = 1.588 lbf; 2 m/s = 4.474 mph
    (day(WITH_FLAT, FLAT, Place(indoors=False, gust_ms=2.0)), ["4.5 mph", "1.6 lbf"]),
])  # fmt: skip
def test_figures_of_an_imperial_day(plan: Plan, figures: list[str]) -> None:
    texts = [f"{problem.what}: {problem.do}" for problem in audit_stands(plan)]
    assert any(all(figure in text for figure in figures) for text in texts), texts
