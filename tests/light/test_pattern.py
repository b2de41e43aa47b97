from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light.pattern import pattern
from runbook.light.space import Seen


@pytest.mark.parametrize(
    ("turned", "name"),
    [
        (0, "butterfly"),
        (15, "butterfly"),
        (15.1, "loop"),
        (35, "loop"),
        (35.1, "Rembrandt"),
        (60, "Rembrandt"),
        (60.1, "split"),
        (105, "split"),
        (105.1, "rim"),
        (180, "rim"),
    ],
)
def test_bands_of_turn(turned: float, name: str) -> None:
    assert pattern(Seen(turned, 30.0)) == name


@given(st.floats(0, 180))
def test_height_rules_before_turn(turned: float) -> None:
    assert pattern(Seen(turned, 70.1)) == "top light"
    assert pattern(Seen(turned, -0.1)) == "under light"


def test_level_with_the_face_and_just_at_the_top_are_neither() -> None:
    assert pattern(Seen(45, 0)) == pattern(Seen(45, 70)) == "Rembrandt"
