"""Lifting against the HSE filter."""

from __future__ import annotations

import pytest

from runbook.stands.lifting import filter_kg, team_kg


def test_filter_zones() -> None:
    # HSE L23/INDG143, the lower column with the load close in: seen as quoted.
    assert [filter_kg(at, at) for at in (0.1, 0.5, 0.9, 1.2, 1.7)] == [7, 13, 16, 13, 7]
    assert filter_kg(0.0, 1.8) == filter_kg(0.1, 0.5) == 7


@pytest.mark.parametrize(
    ("alone", "team"), [((25, 25), 33.3), ((20, 20), 26.7), ((25, 16), 27.3), ((25, 25, 25), 37.5)]
)
def test_team_fractions(alone: tuple[float, ...], team: float) -> None:
    # HSE L23 para. 120 (seen): two lift 2/3 of their sum, three 1/2. Network Rail prints 26.6.
    assert team_kg(*alone) == pytest.approx(team, abs=0.05)
