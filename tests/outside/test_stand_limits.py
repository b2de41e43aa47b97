"""Lifting, mains, batteries and flashing light against published rules."""

from runbook.stands.electricity import CLUB_LIMIT, SCREEN_LIMIT, air_class, breaker_a, flash_w, flashes_in_a_second
from runbook.stands.lifting import filter_kg, team_kg
from tests.outside.published import agree, published, rows


@published(
    # HSE L23/INDG143, the lower column with the load close in: seen as quoted.
    rows(filter_kg, 0, {(0.1, 0.1): 7, (0.5, 0.5): 13, (0.9, 0.9): 16, (1.2, 1.2): 13, (1.7, 1.7): 7}),
    rows(filter_kg, 0, {(0.0, 1.8): 7, (0.1, 0.5): 7}),
    # HSE L23 para. 120 (seen): two lift 2/3 of their sum, three 1/2. Network Rail prints 26.6.
    rows(team_kg, 0.05, {(25, 25): 33.3, (20, 20): 26.7, (25, 16): 27.3, (25, 25, 25): 37.5}),
    # Derived: 10 A continuous and 5 A other ask for 17.5 A, so a 20 A breaker.
    rows(breaker_a, 1e-9, {(10, 5): 17.5}),
    # Derived: 500 J every 1.5 s at 80 %.
    rows(flash_w, 0.05, {(500, 1.5, 0.8): 416.7}),
    # Lithium Batteries 2024, p. 35 (seen). Airlines tighten it every year.
    rows(air_class, 0, {(14.4 * 5.2,): "free", (11.1 * 9.0,): "free", (100.0,): "free"}),
    rows(air_class, 0, {(14.8 * 6.8,): "approval", (160.0,): "approval", (22.2 * 8,): "refused"}),
    # WCAG 2 2.3.1, "any one second" (seen); a sliding second [t, t + 1).
    rows(flashes_in_a_second, 0, {(1,): 1, (2,): 2, (3,): 3, (3.5,): 4, (4,): 4, (5,): 5, (10,): 10}),
)
def test_published_values(quantity, given, value, within):
    agree(quantity, given, value, within)


def test_limits_of_flashes() -> None:
    # Over WCAG's three (seen) is a warning; over HSE's four for clubs (second-hand) a strong one.
    assert (SCREEN_LIMIT, CLUB_LIMIT) == (3, 4)
