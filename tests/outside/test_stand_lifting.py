"""Lifting against the HSE filter."""

from __future__ import annotations

import pytest

from runbook.stands.lifting import Who, filter_kg, team_kg


# HSE L23/INDG143: close in seen as quoted; arms out from memory.
@pytest.mark.parametrize(
    ("who", "arms_out", "figures"),
    [
        ("men", False, (10, 20, 25, 20, 10)),
        ("men", True, (5, 10, 15, 10, 5)),
        ("women", False, (7, 13, 16, 13, 7)),
        ("women", True, (3, 7, 10, 7, 3)),
    ],
)
def test_filter_zones(who: Who, arms_out: bool, figures: tuple[float, ...]) -> None:
    hands = (0.1, 0.5, 0.9, 1.2, 1.7)
    assert tuple(filter_kg(at, at, arms_out=arms_out, who=who) for at in hands) == figures


def test_the_least_figure_of_the_zones_passed() -> None:
    assert filter_kg(0.0, 1.8, who="men") == 10
    assert filter_kg(0.0, 1.8) == 7
    # A sandbag of 15 kg from the floor is over the low zone for anybody.
    assert filter_kg(0.1, 0.5, who="men") == 10


@pytest.mark.parametrize(("each", "team"), [((25, 25), 33.3), ((20, 20), 26.7), ((25, 16), 27.3), ((25, 25, 25), 37.5)])
def test_team_fractions(each: tuple[float, ...], team: float) -> None:
    # HSE L23 para. 120 (seen): two lift 2/3 of their sum, three 1/2. Network Rail prints 26.6.
    assert team_kg(each) == pytest.approx(team, abs=0.05)
