from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.light.battery import TEST_POPS, batteries, battery_use, flashes_spent, recycle_s
from runbook.model.power import FULL, OFF


def test_recycling_goes_up_with_the_energy(studio: Any) -> None:
    head = studio.head()
    assert recycle_s(head, FULL) == pytest.approx(1.8)
    assert recycle_s(head, studio.power(1)) == pytest.approx(0.95)


def test_a_setup_spends_its_frames_and_test_pops(studio: Any) -> None:
    assert flashes_spent(120, studio.power(3)) == (120 + TEST_POPS) / 8
    assert flashes_spent(120, OFF) == 0


def test_it_is_changed_before_the_setup_it_would_die_in(studio: Any) -> None:
    got = battery_use(studio.head(), 100, [("one", 60), ("two", 30), ("three", 20), ("four", 90)])
    assert (got.spent, got.changes, got.change_before) == (200, ("three", "four"), "three")
    assert got.charges == 3
    assert not got.lasts  # one in the head and one spare


def test_a_charge_that_just_lasts_is_not_changed(studio: Any) -> None:
    got = battery_use(studio.head(), 100, [("one", 60), ("two", 40)])
    assert (got.changes, got.charges, got.lasts) == ((), 1, True)


def test_a_setup_longer_than_a_charge_is_named(studio: Any) -> None:
    got = battery_use(studio.head(), 100, [("one", 10), ("two", 250)])
    assert (got.changes, got.overruns, got.charges) == (("two",), ("two",), 4)
    # a full one is not changed for another full one
    at_once = battery_use(studio.head(), 100, [("one", 250)])
    assert (at_once.changes, at_once.overruns, at_once.charges) == ((), ("one",), 3)


@given(st.floats(1, 50), st.lists(st.floats(0, 300), max_size=12))
def test_charges_are_those_that_are_put_in_one_by_one(studio: Any, of: float, needs: list[float]) -> None:
    got = battery_use(studio.head(), of, [(str(n), need) for n, need in enumerate(needs)])
    left, charges, close = of, 1, False
    for n, need in enumerate(needs):
        if str(n) in got.changes:
            left, charges = of, charges + 1
        left -= need
        close |= abs(left / of - round(left / of)) < 1e-6  # whether it just lasts is chance
        while left < 0:
            left, charges = left + of, charges + 1
    assert close or got.charges == charges


def test_a_charge_of_next_to_nothing_is_counted_at_once(studio: Any) -> None:
    got = battery_use(studio.head(), 1e-6, [("one", 1e6), ("two", 1e6)])
    assert got.charges == pytest.approx(2e12)
    assert got.overruns == ("one", "two")


@given(st.lists(st.floats(0, 100), max_size=12))
def test_no_charge_gives_more_than_it_holds(studio: Any, needs: list[float]) -> None:
    got = battery_use(studio.head(), 100, [(str(n), need) for n, need in enumerate(needs)])
    assert got.spent == pytest.approx(sum(needs))
    charge = 0.0
    for n, need in enumerate(needs):
        charge = need if str(n) in got.changes else charge + need
        assert charge <= 100 + 1e-9
    assert got.charges == 1 + len(got.changes)


def test_over_the_day_only_battery_heads_that_burn_are_counted(studio: Any) -> None:
    heads = (
        studio.head("A", flashes_full=30.0),
        studio.head("B", mains=True),
        studio.head("C", flashes_full=None),
        studio.head("D"),
    )
    lights = [studio.light(name, below=3 if name != "D" else None) for name in "ABCD"]
    plan = studio.plan(
        studio.setup(*lights, setup_id="one"), studio.setup(*lights, setup_id="two"), kit=studio.kit(heads=heads)
    )
    (only,) = batteries(plan)
    assert (only.head, only.of, only.change_before) == ("A", 30.0, "two")
    assert only.spent == pytest.approx(2 * 123 / 8)
