"""Mains, batteries and flashing light against published rules."""

from __future__ import annotations

import pytest

from runbook.stands.electricity import CLUB_LIMIT, SCREEN_LIMIT, air_class, breaker_a, flash_w, flashes_in_a_second


def test_breaker_for_lasting_and_passing() -> None:
    # Same: 10 A continuous and 5 A other ask for 17.5 A, so a 20 A breaker.
    assert breaker_a(10, 5) == pytest.approx(17.5)


def test_draw_of_a_mains_flash() -> None:
    # Derived: 500 J every 1.5 s at 80 %: 416.7 W, 1.81 A at 230 V.
    assert flash_w(500, 1.5, 0.8) == pytest.approx(416.7, abs=0.05)
    assert flash_w(500, 1.5, 0.8) / 230 == pytest.approx(1.81, abs=0.005)


@pytest.mark.parametrize(
    ("wh", "kind"),
    [
        (14.4 * 5.2, "free"),
        (11.1 * 9.0, "free"),
        (100.0, "free"),
        (14.8 * 6.8, "approval"),
        (160.0, "approval"),
        (22.2 * 8, "refused"),
    ],
)
def test_batteries_by_air(wh: float, kind: str) -> None:
    # Lithium Batteries 2024, p. 35 (seen). Airlines tighten it every year.
    assert air_class(wh) == kind


@pytest.mark.parametrize(("rate", "most"), [(1, 1), (2, 2), (3, 3), (3.5, 4), (4, 4), (5, 5), (10, 10)])
def test_steady_flashes(rate: float, most: int) -> None:
    # WCAG 2 2.3.1, "any one second" (seen); a sliding second [t, t + 1).
    assert flashes_in_a_second(rate) == most


def test_limits() -> None:
    # Over WCAG's three (seen) is a warning; over HSE's four for clubs (second-hand) a strong one.
    assert (SCREEN_LIMIT, CLUB_LIMIT) == (3, 4)
