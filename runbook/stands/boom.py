"""A boom's arm on its pivot: what balances it, and what a wrong counterweight leaves.

Lengths in m along the arm from the pivot, plus towards the head; masses in kg; moments in kg m.
The arm is uniform and level. Plain statics, the seesaw of the school books with a heavy plank
whose middle is off the pivot.
"""

from __future__ import annotations

from collections.abc import Iterable

from runbook.model.kit import Stand

# (kg, metres along the arm from the pivot)
ArmLoads = Iterable[tuple[float, float]]


def arm_load(stand: Stand) -> tuple[float, float]:
    """The arm itself: its mass, and its middle. Raises ValueError for a stand without an arm."""
    if stand.arm_m is None or stand.arm_back_m is None:
        raise ValueError(f"{stand.id} has no arm; a boom needs arm_m and arm_back_m")
    return stand.arm_mass_kg, (stand.arm_m - stand.arm_back_m) / 2


def turning_kgm(loads: ArmLoads) -> float:
    """The moment of masses about the pivot in kg m; plus turns the head down."""
    return sum(kg * x for kg, x in loads)


def balance_kg(loads: ArmLoads, back_m: float) -> float:
    """The counterweight at ``back_m`` behind the pivot that balances the loads; 0 if none does.

    Raises ValueError when there is no arm behind the pivot to hang it on.
    """
    if back_m <= 0:
        raise ValueError("there is no arm behind the pivot to hang a counterweight on")
    return max(0.0, turning_kgm(loads) / back_m)
