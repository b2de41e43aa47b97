"""Why a stand is held, in words that name the stand, the figure and the bag."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from runbook.changeover.floor import Spot
from runbook.changeover.hands import hold_reason_at
from runbook.changeover.stand_sequence import Moment, worst_at
from runbook.model.day import Place
from tests.changeover.floors import PLACE, kit_of

HEAVY = kit_of((True, False, False, False, False), (False,) * 5, 3.0)
NOW = Moment(Spot(0.0, 0.0), 1.9, "A", "M0", frozenset(), frozenset(), False)


def test_a_lean_is_told_until_its_bag_is_on() -> None:
    # 4 kg of stand, 2 of head, 3 of box at 0.225 m: M 9, x 0.075, margin 0.175, z 1.3511 m
    assert hold_reason_at(HEAVY, PLACE, "S1", NOW, wanted={"B1"}) == ("S1 tips at 7.4° (limit 10°) until B1 is on")
    two = hold_reason_at(HEAVY, PLACE, "S1", NOW, wanted={"B2", "B1"})
    assert two.endswith("until B1 and B2 are on")
    assert hold_reason_at(HEAVY, PLACE, "S1", NOW) == "S1 tips at 7.4° (limit 10°)"
    bare = replace(NOW, modifier=None, height_m=2.3)
    assert hold_reason_at(HEAVY, PLACE, "S1", bare, box="M1").endswith("until M1 is on")


def test_a_boom_is_held_for_its_weight() -> None:
    assert hold_reason_at(HEAVY, PLACE, "S0", NOW, wanted={"B1"}) == ("S0 has its head on without its counterweight")


def test_a_high_stand_that_would_stand_is_held_for_its_bags() -> None:
    light = kit_of((False,) * 5, (False,) * 5, 0.1)
    high = replace(NOW, height_m=2.0)
    assert worst_at(light, PLACE, "S1", high).ok
    assert hold_reason_at(light, PLACE, "S1", high, wanted={"B1"}) == (
        "S1 is above reach without all its bags until B1 is on"
    )


@pytest.mark.parametrize(
    ("stand", "box", "place", "said", "imperial"),
    [
        ({}, {"mass_kg": 6.0, "depth_m": 1.2}, PLACE, "S1 falls over by itself", "S1 falls over by itself"),
        (
            {"mass_kg": 7.0},
            {"mass_kg": 5.0, "depth_m": 1.2},
            Place(tilt_limit_deg=0.1),
            "S1 has a safety factor of only 1.29 against tipping",
            "S1 has a safety factor of only 1.29 against tipping",
        ),
        (
            {"load_max_kg": 4.0},
            {"mass_kg": 2.9},
            Place(tilt_limit_deg=5),
            "S1 carries 4.9 kg of 4 kg allowed",
            "S1 carries 10.8 lb of 8.8 lb allowed",
        ),
        (
            {},
            {"mass_kg": 1.0},
            Place(tilt_limit_deg=5, fan_ms=5),
            "S1 stands only in gusts up to 3.3 m/s",
            "S1 stands only in gusts up to 7.3 mph",
        ),
    ],
)
def test_whatever_the_sums_hold_against_it(
    stand: dict[str, Any], box: dict[str, Any], place: Place, said: str, imperial: str
) -> None:
    kit = replace(
        HEAVY,
        stands=tuple(replace(each, **stand) for each in HEAVY.stands),
        modifiers=tuple(replace(each, **box) for each in HEAVY.modifiers),
    )
    assert hold_reason_at(kit, place, "S1", NOW) == said
    assert hold_reason_at(kit, place, "S1", NOW, units="imperial") == imperial


def test_bags_in_two_places_are_judged_by_the_worse() -> None:
    both = replace(NOW, bags=frozenset({("B1", "column"), ("B2", "far legs")}))
    leans = [
        worst_at(HEAVY, PLACE, "S1", replace(NOW, bags=frozenset({("B1", at), ("B2", at)}))).lean_deg
        for at in ("column", "far legs")
    ]
    assert worst_at(HEAVY, PLACE, "S1", both).lean_deg == min(leans)
