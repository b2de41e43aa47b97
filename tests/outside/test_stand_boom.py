"""A boom's arm against the seesaws of the school books."""

from runbook.stands.statics import G, Rig, arm_loads, balance_kg, load_kg, loads_of
from tests.outside.published import agree, published, rows
from tests.stands.rigs import a_boom, a_head

STICK = ((0.0500, 0.70), (0.0750, 0.40), (0.1500, 0.20))


def boom(long_m: float, pivot_m: float, head_kg: float, arm_kg: float, weight_kg: float) -> Rig:
    stand = a_boom(arm_m=long_m - pivot_m, arm_back_m=pivot_m, arm_mass_kg=arm_kg, counterweight_kg=weight_kg)
    return Rig(stand, 2.0, a_head(head_kg))


def boom_balance_and_load(long_m: float, pivot_m: float, head_kg: float, arm_kg: float) -> tuple[float, float]:
    """What balances a boom, and what the stand carries with it."""
    weight_kg = balance_kg(arm_loads(boom(long_m, pivot_m, head_kg, arm_kg, 0.0)), pivot_m)
    return weight_kg, load_kg(boom(long_m, pivot_m, head_kg, arm_kg, weight_kg))


def left_over(weight_kg: float) -> tuple[float, float]:
    """The moment a counterweight leaves on a boom, in N m, and the offset of its load, in m."""
    ((kg, x),) = loads_of(boom(2.0, 0.6, 3.0, 2.4, weight_kg))
    return G * kg * x, x


@published(
    # OpenStax College Physics, Example 9.1 (data seen, answers from memory).
    rows(balance_kg, 1e-4, {(((26.0, 1.60),), 1.30): 32.0}),
    # Same, chapter 9 problem 5 (data and answers seen): the plank's 12.0 kg act 0.160 m on the lighter child's
    # side; the heavier sits at 1.36 m.
    rows(balance_kg, 1e-4, {(((26.0, 1.60), (12.0, 0.160)), 1.36): 32.0}),
    # OpenStax University Physics 1, ch. 12 (masses seen, distances and answers from memory).
    rows(balance_kg, 1e-4, {(STICK, 0.30): 0.3167}),
    # Halliday/Resnick type, zanotowane.pl/1004/6267 (seen): 10.0 g at 0.120 m, fulcrum 0.455 m, stick centre
    # 0.500 m: the stick has 74 g.
    rows(balance_kg, 1e-4, {(((0.0100, 0.455 - 0.120),), 0.045): 0.0744}),
    # Derived; sympy's Beam agreed: 14.000 kgf at the pivot in the first row, no moment.
    rows(boom_balance_and_load, 1e-5, {(2.0, 0.6, 3.0, 2.4): (8.600, 14.0), (2.0, 0.6, 4.5, 2.4): (12.100, 19.0)}),
    rows(boom_balance_and_load, 1e-5, {(1.5, 0.5, 2.0, 1.5): (4.750, 8.25), (3.0, 1.0, 5.0, 4.0): (12.000, 21.0)}),
    # Derived: what a light counterweight leaves.
    rows(left_over, 5e-4, {(8.0,): (3.530, 0.0269), (5.0,): (21.182, 0.2077), (0.0,): (50.602, 0.9556)}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)
