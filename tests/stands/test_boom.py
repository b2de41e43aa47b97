from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.stands.boom import arm_load, balance_kg, turning_kgm
from tests.stands.rigs import a_boom, a_stand, numbers

LOADS = st.lists(st.tuples(numbers(0.1, 9), numbers(0.1, 3)), min_size=1, max_size=4)


@given(LOADS, numbers(0.2, 1.5))
def test_the_balancing_weight_leaves_nothing(loads: list[tuple[float, float]], back: float) -> None:
    balanced = [*loads, (balance_kg(loads, back), -back)]
    assert turning_kgm(balanced) == pytest.approx(0, abs=1e-9)


def test_a_back_heavy_arm_wants_no_counterweight() -> None:
    assert balance_kg([(3.0, -0.5)], 0.8) == 0.0


def test_a_weight_needs_an_arm_to_hang_on() -> None:
    with pytest.raises(ValueError, match="no arm behind the pivot"):
        balance_kg([(3.0, 1.0)], 0.0)
    with pytest.raises(ValueError, match="S1 has no arm"):
        arm_load(a_stand())


def test_the_arm_acts_at_its_middle() -> None:
    assert arm_load(a_boom()) == (1.6, pytest.approx(0.4))
