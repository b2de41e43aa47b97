"""Lifting against the NIOSH manual and the HSE filter."""

from __future__ import annotations

import pytest

from runbook.stand.lifting import US, Lift, Who, filter_kg, recommended, team_kg


def test_the_ideal_lift() -> None:
    # DHHS (NIOSH) 94-110 (seen): H 25, V 75, D 25 cm, no twist, now and then, good: 23 kg, 51 lb.
    assert recommended(Lift(25, 75, 100)).origin == pytest.approx(23.0)
    assert recommended(Lift(10, 30, 40), US).origin == pytest.approx(51.0)


def test_manual_example_4() -> None:
    # Same, p. 44-46 (seen): H 10 and V 22 in to H 20 and V 59 in, F 3, up to 1 h, fair: 34.9 and
    # 15.2 lb with the worksheet's rounded multipliers, 34.8 and 15.3 without.
    lift = Lift(10, 22, 59, 0, 3, 1, "fair")
    origin = recommended(lift, US).origin
    end = recommended(lift._replace(across=20), US).destination
    assert origin == pytest.approx(34.81, abs=0.01)
    assert end == pytest.approx(15.25, abs=0.01)
    # Load 26 lb (from memory): LI 0.7 and 1.7.
    assert 26 / origin == pytest.approx(0.745, abs=0.005)
    assert 26 / end == pytest.approx(1.711, abs=0.01)


def test_manual_example_1() -> None:
    # From memory; the arithmetic agrees: H 23, V 15 to 64 in, fair: 16.02 and 14.15 lb.
    found = recommended(Lift(23, 15, 64, 0, 0.2, 1, "fair"), US)
    assert found == pytest.approx((16.02, 14.15), abs=0.01)


def test_the_metric_form_agrees_within_its_own_rounding() -> None:
    lift = Lift(10, 22, 59, 0, 3, 1, "fair")
    metric = lift._replace(across=25.4, low=22 * 2.54, high=59 * 2.54)
    pounds = recommended(metric).destination / 0.45359237
    assert pounds == pytest.approx(recommended(lift, US).destination, rel=0.04)


def test_studio_lifts() -> None:
    # Derived: a stiff case turned onto a cart; a head put on a high stand.
    case = recommended(Lift(40, 60, 90, 30, 0.2, 1, "fair"))
    assert case.least == pytest.approx(11.44, abs=0.01)
    assert 20 / case.least == pytest.approx(1.75, abs=0.01)
    head = recommended(Lift(45, 100, 175, 0, 0.2, 1, "poor"))
    assert head == pytest.approx((9.36, 7.08), abs=0.01)


@pytest.mark.parametrize(
    ("per_minute", "hours", "low", "share"),
    [
        (0.1, 1, 70, 1.00),
        (0.35, 1, 70, 0.985),  # linear between rows
        (12, 1, 70, 0.37),
        (13, 1, 70, 0.0),
        (13, 1, 75, 0.34),
        (15, 1, 75, 0.28),
        (10, 2, 70, 0.26),
        (12, 2, 75, 0.21),
        (13, 2, 75, 0.0),
        (4, 8, 70, 0.45),
        (8, 8, 70, 0.18),
        (9, 8, 70, 0.0),
        (10, 8, 75, 0.13),
    ],
)
def test_frequency_table(per_minute: float, hours: float, low: float, share: float) -> None:
    # Table 5 of the manual, as several public programs have it (seen).
    found = recommended(Lift(25, low, low, 0, per_minute, hours)).origin
    assert found == pytest.approx(23 * (1 - 0.003 * abs(low - 75)) * share)


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


@pytest.mark.parametrize(
    ("each", "team"), [((25, 25), 33.3), ((20, 20), 26.7), ((25, 16), 27.3), ((25, 25, 25), 37.5)]
)
def test_team_fractions(each: tuple[float, ...], team: float) -> None:
    # HSE L23 para. 120 (seen): two lift 2/3 of their sum, three 1/2. Network Rail prints 26.6.
    assert team_kg(each) == pytest.approx(team, abs=0.05)
