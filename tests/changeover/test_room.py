"""Room on the floor: spots that are taken, and what the running setup needs clear."""

from dataclasses import replace
from math import atan2, degrees, dist, hypot

import pytest
from hypothesis import given

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import Floor, PanelSpot, floor_of
from runbook.changeover.room import ARM_M, body_of
from runbook.changeover.steps import Step
from runbook.model.kit import Kit
from runbook.model.setup import HungCloth, Light, PanelPlace, Setup
from tests.changeover.floors import PLACE, kit_of
from tests.changeover.test_changeover import pairs
from tests.changeover.test_floor import KEY, setup

PLAIN = kit_of((False,) * 5, (False,) * 5)
# a beam of 60 degrees, as a reflector gives it: the modifiers of these kits light all round
KIT = replace(PLAIN, modifiers=tuple(replace(box, spread_deg=60.0) for box in PLAIN.modifiers))
BOOM = kit_of((False, True, False, False, False), (False,) * 5)
LOW = replace(KEY, bags=(), through=(), accessories=(), height_m=1.25, distance_m=2.0)


def beside(light: Light, **changes: object) -> Setup:
    """A setup with the key and another light."""
    other = replace(light, head="B", stand="S1", modifier="M1", side="right")
    return setup(light, replace(other, **changes))  # type: ignore[arg-type]


def with_panels(*panels: PanelPlace) -> Setup:
    return replace(setup(LOW), panels=panels)


def changed(start: Setup, goal: Setup, kit: Kit = KIT) -> tuple[Step, ...]:
    return changeover(floor_of(start, kit), floor_of(goal, kit), kit, PLACE)


FAR = replace(LOW, distance_m=4.0)


@pytest.mark.parametrize(("start", "goal", "placed"), [
    # beside the camera, behind its lens, and outside the key's beam
    (setup(LOW), beside(LOW, angle_deg=20.0, distance_m=4.0), {"S1"}),
    # within arm's reach of the subject, though in no beam and not in the picture
    (setup(), setup(replace(LOW, angle_deg=45.0, distance_m=1.2, side="right")), set()),
    (setup(), setup(replace(LOW, angle_deg=45.0, distance_m=2.0, side="right")), {"S0"}),
    (setup(LOW), beside(LOW, angle_deg=175.0, distance_m=3.0), set()),  # in the picture
    # between the key at camera-left 90 degrees and the face
    (setup(FAR), beside(FAR, side="left", angle_deg=85.0, distance_m=2.0), set()),
    (setup(LOW), with_panels(PanelPlace("P1", "right", 80.0, 3.5, 1.25)), set()),  # it would send the beam back
    (setup(LOW), with_panels(PanelPlace("P1", "left", 10.0, 5.0, 1.25)), {"P1"}),
])  # fmt: skip
def test_only_what_is_in_nobody_s_way_is_placed_ahead(start: Setup, goal: Setup, placed: set[str]) -> None:
    assert {step.item for step in changed(start, goal) if step.ahead and step.verb == "place"} == placed


def test_a_boom_is_not_placed_ahead() -> None:
    goal = beside(LOW, angle_deg=20.0, distance_m=4.0)
    assert not any(step.ahead for step in changed(setup(LOW), goal, replace(KIT, stands=BOOM.stands)))


@given(pairs())
def test_what_comes_ahead_is_clear_of_subject_picture_and_beams(case: tuple[Kit, Floor, Floor]) -> None:
    wide, start, goal = case
    boxes = tuple(replace(box, spread_deg=50.0) for box in wide.modifiers)
    kit = replace(wide, modifiers=boxes)
    for step in changeover(start, goal, kit, PLACE):
        if step.ahead and step.verb == "place":
            assert _clear(step, start, goal)


def _clear(step: Step, start: Floor, goal: Floor) -> bool:
    """By the middle of the thing alone, and half the angles: whoever fails this is in the way."""
    at = goal.hung[step.item] if step.kind == "cloth" else goal.panel_spot(step.item) if step.kind == "panel" else None
    at = at or goal.stands[step.item].spot
    assert start.view is not None
    camera_m = start.view.distance_m
    in_picture = at.y < camera_m and abs(degrees(atan2(at.x, camera_m - at.y))) < 8.0
    in_beam = False
    for head in start.heads.values():
        if head.armed and head.aim is not None and head.aim.target == "face":
            spot = start.stands[str(head.stand)].spot
            off = degrees(atan2(at.x - spot.x, at.y - spot.y)) - head.aim.bearing_deg
            near = dist((at.x, at.y), (spot.x, spot.y)) < hypot(spot.x, spot.y)
            in_beam |= near and abs((off + 180) % 360 - 180) < 20.0
    return hypot(at.x, at.y) >= ARM_M and not in_picture and not in_beam


# --- spots that are taken


def test_of_two_things_that_swap_spots_one_leaves_the_set_for_a_while() -> None:
    left, right = (PanelPlace(panel, side, 60.0, 1.5, 1.25) for panel, side in (("P0", "left"), ("P1", "right")))
    panels = changed(with_panels(left, right), with_panels(replace(left, side="right"), replace(right, side="left")))
    assert [step.key[::2] for step in panels if step.kind == "panel"] == [
        ("strike", "P0"),
        ("move", "P1"),
        ("place", "P0"),
    ]


def test_nothing_is_ahead_where_nobody_knows_what_the_camera_sees() -> None:
    start, goal = (floor_of(each, KIT) for each in (setup(LOW), beside(LOW, angle_deg=20.0, distance_m=4.0)))
    for floor, some in ((start, True), (replace(start, lens=None), False)):
        assert any(step.ahead for step in changeover(floor, goal, KIT, PLACE)) is some


def test_a_pair_of_wings_takes_up_both_its_foot_lines() -> None:
    panel = replace(KIT.panels[0], wings=2, width_m=1.2)
    kit = replace(KIT, panels=(panel,))
    floor = Floor(panels={panel.id: PanelSpot(2.0, 0.0, 1.2, -90, 0, 90)})
    body = body_of("panel", panel.id, floor, kit)
    tip = 1.2 * 0.5**0.5
    for x, y in ((2.0, 0.0), (2.0 - tip, tip), (2.0 - tip, -tip), (2.0 - tip / 2, tip / 2)):
        assert min(hypot(x - a, y - b) for a, b in body.points) < 0.11
    assert all(a <= 2.0 + 1e-9 for a, _ in body.points)


def test_a_cloth_is_hung_ahead_only_where_no_beam_is() -> None:
    def ahead(angle_deg: float) -> set[str]:
        goal = setup(LOW, hung_cloths=(HungCloth("V", "right", angle_deg, 5.0, 0.25),))
        return {step.item for step in changed(setup(LOW), goal) if step.ahead}

    assert ahead(90.0) == set()  # the key at camera-left 90 degrees shines on it
    assert ahead(5.0) == {"V"}
