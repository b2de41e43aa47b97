"""The floor of a setup: what stands where."""

from dataclasses import replace
from fractions import Fraction

import pytest

from runbook.changeover.floor import Aim, Carrier, ClothSpot, Hung, PanelOn, floor_of, held_by
from runbook.model.power import Power
from runbook.model.setup import Exposure, HungCloth, Light, PanelPlace, Setup, Subject, View
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


def held(by: str | None, **more: object) -> PanelPlace:
    """A panel 1.2 m to the right of the face, at 1.6 m, that faces it."""
    given: dict[str, object] = {"side": "right", "angle_deg": 90.0, "distance_m": 1.25, "height_m": 1.6} | more
    return PanelPlace("P0", held_by=by, **given)  # type: ignore[arg-type]


def test_a_panel_on_a_stand_is_where_the_stand_holds_it_and_one_in_hands_where_the_person_is() -> None:
    floor = floor_of(setup(panels=(held("S1", bags=("B1",)),)), KIT)
    assert (floor.load_on("S1"), floor.bags_on("stand", "S1")) == (("panel", "P0"), {"B1"})
    assert floor.panels["P0"] == PanelOn("S1", -90, -15)  # 0.35 m down in 1.2 m: 16 degrees, in steps of 5
    spot = floor.panel_spot("P0")
    assert (spot.x, spot.y, spot.height_m, spot.by) == (1.2, 0.0, 1.6, "")
    assert not floor.stands["S1"].weight_on
    assert floor_of(setup(panels=(held("S4"),)), KIT).stands["S4"].weight_on
    in_hands = floor_of(setup(panels=(held("first"),)), KIT)
    assert (in_hands.stands, in_hands.panel_spot("P0").by) == ({}, "first")
    assert [held_by(at) for at in (*in_hands.panels.values(), *floor.panels.values())] == ["first", ""]


RAIL = HungCloth("V", "left", 90.0, 2.0, 0.25, held_by=("S1", "S2"), bags=("B1", "B2", "B3"))


def test_a_rail_has_a_stand_at_each_end_and_their_bags_in_turn() -> None:
    floor = floor_of(setup(replace(KEY, through=("V",)), hung_cloths=(RAIL,)), KIT)
    # 2 m side-on left, its middle as high as the face, 1.5 m wide across the line to the face
    assert floor.hung == {"V": ClothSpot(-2.0, 0.0, 2.25, 90, ("S1", "S2"))}
    stands = [floor.stands[name] for name in ("S1", "S2")]
    assert [(at.spot.x, at.spot.y, at.height_m, at.rail) for at in stands] == [
        (-2.0, 0.75, 2.25, "V"),
        (-2.0, -0.75, 2.25, "V"),
    ]
    assert [floor.bags_on("stand", name) for name in ("S1", "S2")] == [{"B1", "B3"}, {"B2"}]
    assert floor.cloths == {}  # what a light passes by hand hangs only once
