"""The values of kit, day and setup: what they know beyond their fields."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from runbook.day.load_plan import read_day
from runbook.files.validate import parse, plain
from runbook.model.kit import Head, Kit, Modifier
from runbook.model.power import Power
from runbook.model.setup import Setup

HEAD = Head("A", 200.0, 52.0, "1/128", "1/10", 2.0, 1.8, 0.1)


def test_a_heads_dial_goes_from_its_least_to_full() -> None:
    powers = HEAD.dial.every()
    assert (len(powers), str(powers[0]), str(powers[-1])) == (71, "1/128", "full")
    assert HEAD.dial.step == Fraction(1, 10)


@pytest.mark.parametrize("least", ["off", "1/8+0.5", "much"])
def test_a_least_power_that_is_not_on_the_dial_is_refused(least: str) -> None:
    with pytest.raises(ValueError, match=r"; write|no whole number"):
        _ = replace(HEAD, power_min=least, power_step="1/3").dial


def test_bare_is_always_there_and_is_nothing() -> None:
    assert Kit().modifier["bare"].is_nothing
    tube = Modifier(id="tube", shape="bare", mass_kg=0.3)
    assert not tube.is_nothing
    assert list(Kit(modifiers=(tube,)).modifier) == ["bare", "tube"]


def test_things_are_found_by_id(day: Path) -> None:
    plan = read_day(day)
    kit = plan.kit
    for kind in ("head", "accessory", "stand", "panel", "cloth", "bag", "lens"):
        found = getattr(kit, kind)
        assert found
        assert all(thing.id == name for name, thing in found.items())
    assert kit.stand["boom"].is_boom
    assert not kit.stand["S1"].is_boom
    assert plan.day.look["keeper"].talent == "T1"
    window = plan.setups["window"]
    assert window.light["B"].head == "B"
    assert window.panel["flat"].panel == "flat"


def test_a_placed_thing_knows_its_point(day: Path) -> None:
    window = read_day(day).setups["window"]
    # 0.8 m of tape, 0.05 m under the face at 1.25, 80 degrees round to the right
    assert window.panel["flat"].point(1.25) == pytest.approx((0.7863, 0.1386, 1.2), abs=1e-4)
    assert window.light["A"].point(1.25).x < 0


def test_a_power_without_a_dial_is_read_as_thirds(day: Path) -> None:
    table = plain(read_day(day).setups["window"])
    again = parse(Setup, table)
    assert again.light["B"].power == Power(Fraction(8, 3))
    assert again == read_day(day).setups["window"]
