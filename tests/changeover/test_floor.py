"""The floor of a setup: what stands where."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from runbook.changeover.floor import Aim, Carrier, Hung, floor_of
from runbook.model.power import Power
from runbook.model.setup import Exposure, Light, PanelPlace, Setup, Subject, View
from tests.changeover.floors import kit_of

KIT = kit_of((False, False, False, False, True), (False,) * 5)
KEY = Light(
    head="A", role="key", stand="S0", power=Power(Fraction(3)), side="left", angle_deg=90.0,
    distance_m=1.25, height_m=2.0, modifier="M0", accessories=("G0",), bags=("B0",),
    through=("V",),
)  # fmt: skip


def setup(*lights: Light, **rest: object) -> Setup:
    """A setup around a face at 1.25 m."""
    given: dict[str, object] = {
        "exposure": Exposure(4.0, "1/160"),
        "view": View("85", 2.5, 1.5),
        "subject": Subject(1.25),
    } | rest
    return Setup(id="one", lights=lights, **given)  # type: ignore[arg-type]


def test_a_setup_puts_each_thing_where_it_belongs() -> None:
    floor = floor_of(setup(KEY), KIT)
    at, aim = floor.stands["S0"], floor.heads["A"].aim
    # 1.25 m of tape, 0.75 m above the face: 1 m over the floor (a 3-4-5 triangle), side-on left
    assert (at.spot.x, at.spot.y, at.height_m) == (-1.0, 0.0, 2.0)
    assert aim == Aim("face", 90, -37)  # 3-4-5: 36.87 degrees
    assert floor.modifiers == {"M0": "A"}
    assert floor.accessories == {"G0": Carrier("modifier", "M0")}
    assert floor.cloths == {"V": frozenset({"A"})}
    assert floor.bags == {"B0": Hung("stand", "S0", "column")}
    assert (floor.head_on("S0"), floor.bags_on("stand", "S0")) == ("A", {"B0"})
    bare = floor_of(setup(replace(KEY, modifier="bare")), KIT)
    assert (bare.modifiers, bare.accessories) == ({}, {"G0": Carrier("head", "A")})


def test_a_head_that_is_off_is_not_armed_and_a_boom_has_its_weight_on() -> None:
    boom = replace(KEY, head="B", stand="S4", modifier="M1", accessories=(), bags=())
    floor = floor_of(setup(replace(KEY, power=Power(None)), boom), KIT)
    assert not floor.heads["A"].armed
    assert floor.heads["B"].armed
    assert (floor.stands["S0"].weight_on, floor.stands["S4"].weight_on) == (False, True)


def test_the_face_turns_to_the_head_it_looks_at() -> None:
    turned = setup(KEY, subject=Subject(1.25, looks_at="A"))
    subject = floor_of(turned, KIT).subject
    assert subject is not None
    assert subject.facing_deg == -90


def test_a_panel_looks_at_the_face_or_at_a_head() -> None:
    flat = PanelPlace(panel="P0", side="right", angle_deg=90.0, distance_m=1.0, height_m=1.25)
    assert floor_of(setup(KEY, panels=(flat,)), KIT).panels["P0"].bearing_deg == -90
    to_head = replace(flat, face_to="A", side="left", angle_deg=180.0)
    assert floor_of(setup(KEY, panels=(to_head,)), KIT).panels["P0"].bearing_deg == -45


def test_a_place_that_is_not_real_says_so() -> None:
    with pytest.raises(ValueError, match=r"cannot reach 3 m up; at least 1\.75 m is needed"):
        floor_of(setup(replace(KEY, height_m=3.0)), KIT)
