"""The set from above: places to scale, angles true, and what becomes of each thing."""

import re
from dataclasses import replace
from math import acos, degrees, dist, hypot
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, floor_of
from runbook.changeover.step_text import Scene
from runbook.changeover.steps import apply
from runbook.drawing.floor_drawing import FloorPlan, fitted_text, floor_plan, floor_plan_between
from runbook.drawing.floor_shapes import FloorPoint, Ghost, Outline, Role, stand_column
from runbook.light.beam import field_spread_deg
from runbook.light.optics import picture_angle_deg
from runbook.light.scene import scene, surfaces_of
from runbook.model.setup import Setup, Subject, View
from tests.day import days, sets

FEATHER: dict[str, Any] = {"feather_deg": 20.0, "feather_to": "camera"}
CENTIMETRE = 0.0075  # places are kept to the centimetre: half a diagonal of it


def drawn(*lights: Any, **more: Any) -> tuple[FloorPlan, Setup]:
    setup = sets.setup(*lights, **more)
    return floor_plan(sets.plan(setup), setup), setup


def of(plan: FloorPlan, role: Role, ghost: Ghost = "") -> list[Outline]:
    return [line for line in plan.outlines if (line.role, line.ghost) == (role, ghost)]


def angle_at_middle(line: Outline) -> float:
    (x0, y0), (x, y), (x1, y1) = line.points
    a, b = (x0 - x, y0 - y), (x1 - x, y1 - y)
    return degrees(acos((a[0] * b[0] + a[1] * b[1]) / hypot(*a) / hypot(*b)))


def test_the_drawing_has_every_column_where_its_placing_step_says() -> None:
    plan, columns = days.demo(), 0
    for setup in plan.order:
        floor = floor_of(setup, plan.kit)
        for step in worded_changeover(EMPTY, floor, Scene(plan.kit, setup), plan.day.place):
            found = re.search(r"column ([\d.]+) m from the mark", step.text)
            if found:
                at = stand_column(floor, plan.kit, step.item)
                assert float(found[1]) == pytest.approx(hypot(*at), abs=0.006), step.text
                columns += 1
    assert columns > 10


SIDE = st.sampled_from(["left", "right"])
ANGLE = st.integers(0, 180).map(float)
DISTANCE = st.floats(1.0, 5.0)


@given(SIDE, ANGLE, DISTANCE, st.floats(0.5, 2.2))
def test_a_modifier_is_where_the_tape_puts_it_and_as_wide_as_it_is(side, angle, distance, height):
    plan, setup = drawn(sets.light(side=side, angle_deg=angle, distance_m=distance, height_m=height))
    (box,) = of(plan, "modifier")
    _, left, right, _ = box.points
    assert dist(left, right) == pytest.approx(0.9)
    front = ((left.x + right.x) / 2, (left.y + right.y) / 2)
    assert dist(front, scene(setup).heads["A"][:2]) < CENTIMETRE


@given(SIDE, ANGLE, DISTANCE)
def test_the_other_side_is_the_mirror_image(side: str, angle: float, distance: float) -> None:
    other = "right" if side == "left" else "left"
    one, _ = drawn(sets.light(side=side, angle_deg=angle, distance_m=distance))
    two, _ = drawn(sets.light(side=other, angle_deg=angle, distance_m=distance))

    for role in ("modifier", "head", "beam"):
        (left,), (right,) = of(one, role), of(two, role)
        turned = [(round(-x, 6) + 0.0, round(y, 6)) for x, y in right.points]
        assert sorted((round(x, 6) + 0.0, round(y, 6)) for x, y in left.points) == sorted(turned)


@pytest.mark.parametrize("more", [
    {}, {"accessories": ("grid",)}, {"accessories": ("grid", "gel")},
    {"modifier": "bare", "accessories": ("gobo",)}, {"modifier": "strip"},
])  # fmt: skip
def test_a_beam_opens_to_the_field_angle(more: dict[str, Any]) -> None:
    light = sets.light(**more)
    plan, setup = drawn(light)
    (beam,) = of(plan, "beam")
    assert angle_at_middle(beam) == pytest.approx(field_spread_deg(sets.kit(), light.modifier, light.accessories))
    lit = scene(setup).heads["A"]
    assert dist(beam.points[1], beam.points[0]) == pytest.approx(hypot(lit.x, lit.y), abs=0.01)


def test_a_head_without_a_field_angle_shines_all_round_and_one_that_is_off_not_at_all() -> None:
    even, _ = drawn(sets.light(modifier="globe"))
    assert len(of(even, "beam")) == 8
    bare, _ = drawn(sets.light(modifier="bare"))
    (beam,) = of(bare, "beam")
    assert angle_at_middle(beam) == pytest.approx(70)
    off, _ = drawn(sets.light(below=None))
    assert of(off, "beam") == []
    assert len(of(off, "modifier")) == 1


@pytest.mark.parametrize(("feather", "text", "bearing"), [({}, "", 90), (FEATHER, "feathered 20° to the camera", 70)])
def test_a_feathered_head_says_so_and_points_there(feather: dict[str, Any], text: str, bearing: int) -> None:
    setup = sets.setup(sets.light(side="left", angle_deg=90.0, **feather))
    plan = sets.plan(setup)
    fitted = fitted_text(setup, setup.lights[0])
    assert text in fitted
    assert ("feathered" in fitted) == bool(text)
    (head,) = floor_of(setup, plan.kit).heads.values()
    assert head.aim is not None
    assert head.aim.bearing_deg == bearing


def test_a_beam_ends_at_what_it_is_aimed_at() -> None:
    flat = sets.panel(distance_m=2.0)
    plan, setup = drawn(sets.light(aim="flat-1"), panels=(flat,))
    (beam,) = of(plan, "beam")
    head, panel = scene(setup).heads["A"], scene(setup).panels["flat-1"]
    assert dist(*beam.points[:2]) == pytest.approx(dist(head[:2], panel[:2]), abs=0.02)


@pytest.mark.parametrize(("lens", "focal"), [("85", 85.0), ("50", 50.0)])
@pytest.mark.parametrize(("orientation", "side_mm"), [("portrait", 24.0), ("landscape", 36.0)])
def test_the_picture_opens_to_the_lens_angle(lens: str, focal: float, orientation: Any, side_mm: float) -> None:
    plan, setup = drawn(view=View(lens, 2.6, 1.5, orientation))
    (edges,) = of(plan, "picture")
    assert angle_at_middle(edges) == pytest.approx(picture_angle_deg(focal, side_mm))
    assert edges.points[1] == pytest.approx(scene(setup).lens[:2])
    left, right = edges.points[0], edges.points[2]
    assert left.x < 0 < right.x
    assert (left.y, right.y) == pytest.approx((-2.0, -2.0))


def test_the_camera_is_near_and_the_background_far() -> None:
    plan, _ = drawn()
    (wall,) = of(plan, "background")
    assert {point.y for point in wall.points} == {-2.0}
    assert all(point.y > 2.5 for line in of(plan, "camera") for point in line.points)
    assert plan.extent.y + plan.extent.high > 2.6
    assert plan.extent.y == -2.0


@given(SIDE, ANGLE, DISTANCE)
def test_a_panel_is_as_wide_as_it_is_and_looks_where_it_should(side: str, angle: float, distance: float) -> None:
    place = sets.panel(side=side, angle_deg=angle, distance_m=distance)
    plan, setup = drawn(panels=(place,))
    edge, front = of(plan, "panel")
    assert dist(edge.points[0], edge.points[-1]) == pytest.approx(1.2)
    (wing,) = surfaces_of(sets.kit(), setup)
    surface = wing.plane
    for end in edge.points:
        off = (end.x - surface.middle.x) * surface.normal.x
        off += (end.y - surface.middle.y) * surface.normal.y
        assert abs(off) < 0.03  # within the degree a direction is kept to
    assert hypot(*front.points[1]) < hypot(*front.points[0])


def test_a_flag_is_drawn_unlike_a_panel_that_bounces() -> None:
    plan, _ = drawn(panels=(sets.panel("flag"),))
    assert len(of(plan, "flag")) == 2
    assert of(plan, "panel") == []


@pytest.mark.parametrize(("side", "sign"), [("left", -1), ("right", 1)])
def test_the_arrow_points_where_the_face_does(side: Any, sign: int) -> None:
    plan, _ = drawn(subject=Subject(1.25, side, 90.0))
    shaft = of(plan, "face")[0]
    assert shaft.points[1].x == pytest.approx(sign * 0.5)
    assert shaft.points[1].y == pytest.approx(0.0)


@given(SIDE, ANGLE, st.floats(1.0, 2.5))
def test_a_booms_base_keeps_out_of_the_picture(side: str, angle: float, distance: float) -> None:
    light = sets.light(stand="boom", side=side, angle_deg=angle, distance_m=distance)
    plan, setup = drawn(light)
    (arm,) = of(plan, "arm")
    assert dist(*arm.points) == pytest.approx(2.4)
    base = next(label for label in plan.labels if label.texts[0] == "boom")
    assert dist((base.x, base.y), arm.points[0]) == pytest.approx(1.6)
    lens = scene(setup).lens
    half = (lens.y - base.y) * 12 / 85
    assert abs(base.x) > half or base.y > lens.y + 0.9


def test_gobos_and_cloths_are_drawn_across_the_beam() -> None:
    gobo, _ = drawn(sets.light(modifier="bare", accessories=("gobo",)))
    (beam,), (bar,) = of(gobo, "beam"), of(gobo, "gobo")
    middle = FloorPoint(*(sum(both) / 2 for both in zip(*bar.points, strict=True)))
    assert dist(middle, beam.points[1]) == pytest.approx(0.6)
    both = (sets.light("A", "S1", through=("voile",)), sets.light("B", "S2", angle_deg=120.0, through=("voile",)))
    veiled, _ = drawn(*both)
    assert len(of(veiled, "cloth")) == 2
    assert [label.texts[0] for label in veiled.labels].count("voile") == 1


def test_heads_are_named_with_their_power() -> None:
    plan, _ = drawn(sets.light(below=3), panels=(sets.panel(),))
    assert {label.texts[0] for label in plan.labels} == {"A 1/8", "flat-1", "85 mm", "background"}


# -- what becomes of it ---------------------------------------------------------------------------


def test_on_an_empty_floor_everything_arrives_and_at_the_wrap_everything_leaves() -> None:
    setup = sets.setup(sets.light(), panels=(sets.panel(),))
    plan = sets.plan(setup)
    to_come = floor_plan(plan, setup, EMPTY)
    assert to_come.moves_text == "everything arrives"
    assert {line.ghost for line in to_come.outlines} == {"to"}
    gone = floor_plan(plan, None, floor_of(setup, plan.kit))
    assert gone.moves_text == "everything leaves"
    assert {line.ghost for line in gone.outlines} == {"from"}
    assert not of(gone, "beam", "from")


def test_moves_are_named_and_drawn_from_and_to() -> None:
    _, two, three = sets.three()
    plan = sets.plan(two, three)
    seen = floor_plan(plan, three, floor_of(two, plan.kit))
    assert seen.moves_text == "A moves, flat-1 leaves"
    shaft = of(seen, "move")[0]
    assert shaft.points[0].x < 0 < shaft.points[1].x
    (left,), (right,) = of(seen, "modifier", "from"), of(seen, "modifier", "to")
    assert max(point.x for point in left.points) < 0 < min(point.x for point in right.points)
    assert len(of(seen, "modifier")) == 1  # D, who stays
    assert {label.texts[0] for label in seen.labels if label.tone == "from"} == {"A moves", "flat-1 leaves"}


LIT = sets.setup(sets.light(), panels=(sets.panel(),))


@pytest.mark.parametrize(("before", "after", "moves"), [
    (LIT, LIT, ""),
    (sets.setup(sets.light()), sets.setup(sets.light(height_m=2.1)), "A moves"),  # the tape reaches less far
    (sets.setup(sets.light()), sets.setup(sets.light(height_m=0.5)), "A down"),  # as far under the face as over
    (sets.setup(sets.light()), sets.setup(sets.light(modifier="strip")), "A changes"),
    (sets.setup(sets.light()), sets.setup(sets.light(accessories=("grid",))), "A changes"),
    (sets.setup(sets.light()), sets.setup(sets.light(below=5)), ""),
    (sets.setup(), sets.setup(subject=Subject(1.25, "left", 40.0)), "subject turns"),
    # a stand is named where it does not go with its head
    (sets.setup(sets.light()), sets.setup(sets.light("A", "S2", side="right")), "A moves, S2 arrives, S1 leaves"),
])  # fmt: skip
def test_what_is_different_from_setup_to_setup(before: Setup, after: Setup, moves: str) -> None:
    plan = sets.plan(after)
    seen = floor_plan(plan, after, floor_of(before, plan.kit))
    assert seen.moves_text == moves
    if not moves:  # what stays is plain
        assert seen.outlines == floor_plan(plan, after).outlines
        assert {line.ghost for line in seen.outlines} == {""}
    if moves == "subject turns":  # and keeps its place
        assert len(of(seen, "face", "from")) == len(of(seen, "face", "to")) == 2
        assert of(seen, "subject", "from") == []


def test_every_floor_on_the_way_can_be_drawn_and_only_the_last_is_still() -> None:
    one, two, three = sets.three()
    plan = sets.plan(one, two, three)
    for start, goal in ((None, two), (two, three), (three, None)):
        now = floor_of(start, plan.kit) if start else EMPTY
        end = floor_of(goal, plan.kit) if goal else EMPTY
        for step in worded_changeover(now, end, Scene(plan.kit, goal), plan.day.place):
            assert floor_plan_between(plan.kit, now, end).extent.wide >= 2
            now = apply(now, step)
        assert floor_plan_between(plan.kit, now, end).moves_text == ""


def test_two_wings_and_a_tilted_panel_are_drawn_as_they_stand() -> None:
    kit = replace(sets.kit(), panels=tuple(replace(panel, wings=2) for panel in sets.kit().panels))
    place = sets.panel(open_deg=60.0)
    setup = sets.setup(panels=(place,))
    plan = floor_plan(replace(sets.plan(setup), kit=kit), setup)
    wings, _ = of(plan, "panel")
    one, hinge, other = wings.points
    assert [dist(one, hinge), dist(other, hinge), dist(one, other)] == pytest.approx([1.2] * 3, abs=0.01)
    tilted, _ = of(drawn(panels=(sets.panel(tilt_deg=30.0),))[0], "panel")
    assert len(tilted.points) == 4
    assert dist(tilted.points[1], tilted.points[2]) == pytest.approx(1.2)
    up = surfaces_of(sets.kit(), sets.setup(panels=(sets.panel(tilt_deg=30.0),)))[0].plane.normal.z
    assert dist(tilted.points[0], tilted.points[1]) == pytest.approx(2.4 * up, abs=0.11)  # to five degrees


def test_a_panel_on_a_stand_and_one_in_hands_are_drawn_and_named() -> None:
    on_stand = sets.panel("flag", held_by="S2", angle_deg=60.0, height_m=1.5)
    plan, setup = drawn(sets.light(), panels=(on_stand, sets.panel(held_by="first", height_m=1.4)))
    kit, floor = sets.kit(), floor_of(setup, sets.kit())
    spot = floor.panel_spot("flag")
    # the column is 0.1 m behind the panel's middle, and the panel names its stand
    column = stand_column(floor, kit, "S2")
    assert dist(column, (spot.x, spot.y)) == pytest.approx(0.1)
    assert hypot(*column) == pytest.approx(hypot(spot.x, spot.y) + 0.1, abs=CENTIMETRE)
    names = [label.texts[0] for label in plan.labels]
    assert "flag" in names and "flat-1, first holds it" in names and "S2" not in names
