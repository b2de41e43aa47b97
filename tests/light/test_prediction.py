from __future__ import annotations

from dataclasses import replace
from math import atan, cos, degrees, log2, pi, radians
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.light.prediction import Prediction, pattern, predict
from runbook.light.scene import FaceDirection
from runbook.light.stops import DARK, METER_LEAST, add_light
from runbook.model.kit import Measured
from runbook.model.setup import Exposure, PanelPlace, Setup, Subject


def one(studio: Any, setup: Setup, lux: float = 60.0) -> Prediction:
    return predict(studio.plan(setup, lux=lux), setup)


def test_one_key_by_hand(studio: Any) -> None:
    """Guide number 52, an eighth, two stops of box metered at 2 m, carried to 1.4 m."""
    got = one(studio, studio.setup(studio.light()))
    reads = 2 * log2(52 / 2) - 3 - 2 + log2((0.45**2 + 2**2) / (0.45**2 + 1.4**2))
    (head,) = got.heads
    assert head.reads_stops == pytest.approx(reads)
    assert head.reads_f == pytest.approx(2 ** (reads / 2))
    assert head.over_stops == pytest.approx(reads - 4)
    assert head.under_key_stops == 0
    assert head.off_axis_deg == pytest.approx(0, abs=1e-4)
    assert head.size_deg == pytest.approx(degrees(2 * atan(0.45 / 1.4)))
    assert head.recycle_s == pytest.approx(0.1 + 1.7 / 8)
    assert head.at_aim_stops == head.reads_stops
    assert (head.dial, head.asked_stops, head.measured, head.shadow_edge_m) == (None,) * 4
    assert (got.key.head if got.key else None, got.aperture_f, got.pattern) == ("A", 4, "Rembrandt")


def test_the_whole_is_the_dome_turned_to_the_camera(studio: Any) -> None:
    light = studio.light(height_m=1.25)
    setup = studio.setup(light)
    got = one(studio, setup)
    level = setup.view.distance_m**2 - 0.25**2
    cosine = cos(radians(45)) * level**0.5 / setup.view.distance_m
    assert got.heads[0].reads_stops is not None
    want = got.heads[0].reads_stops + log2((1 + cosine) / 2)
    assert got.whole_stops == pytest.approx(want)
    assert got.whole_over_stops == pytest.approx(want - 4)
    assert got.whole_f == pytest.approx(2 ** (want / 2))


def test_heads_and_panels_add_up_as_light(studio: Any) -> None:
    lights = (studio.light(), studio.light("B", 5, role="fill", side="right", angle_deg=30.0))
    bare = one(studio, studio.setup(*lights))
    alone = [one(studio, studio.setup(light)).whole_stops for light in lights]
    assert bare.whole_stops == pytest.approx(add_light([stops for stops in alone if stops]))
    filled = one(studio, studio.setup(*lights, panels=(studio.place(),)))
    assert filled.whole_stops is not None and bare.whole_stops is not None
    assert filled.whole_stops > bare.whole_stops
    panel = filled.panels[0]
    assert panel.reads_stops is not None and panel.over_stops is not None
    assert panel.under_key_stops is not None and panel.under_key_stops > 0
    assert panel.over_stops == pytest.approx(panel.reads_stops - 4)


def test_a_white_flat_fills_and_a_flag_does_not(studio: Any) -> None:
    light = studio.light()
    places = (studio.place(), studio.place(panel="flag", side="left", angle_deg=120.0))
    flat, flag = one(studio, studio.setup(light, panels=places)).panels
    assert flat.reads_f is not None
    assert (flag.reads_f, flag.over_stops, flag.under_key_stops) == (None, None, None)


def test_a_head_that_is_off_gives_nothing_anywhere(studio: Any) -> None:
    setup = studio.setup(studio.light(below=None, aim_reading_f=4.0), panels=(studio.place(),))
    got = one(studio, setup)
    head = got.heads[0]
    assert (head.reads_f, head.over_stops, head.under_key_stops, head.recycle_s) == (None,) * 4
    assert not head.flare
    assert head.dial is not None and head.dial.in_range  # what to dial once it is on
    assert (got.whole_f, got.whole_over_stops, got.key, got.pattern) == (None, None, None, "none")
    assert got.panels[0].reads_f is None
    assert got.ambient_under_stops is not None


def test_a_head_aimed_at_a_panel_reaches_the_face_by_bounce_and_by_spill(studio: Any) -> None:
    place = studio.place(angle_deg=60.0)
    at_face = one(studio, studio.setup(studio.light(), panels=(place,)))
    at_flat = one(studio, studio.setup(studio.light(aim="flat-1"), panels=(place,)))
    assert at_flat.heads[0].off_axis_deg > 10
    assert at_flat.heads[0].reads_f is not None and at_face.heads[0].reads_f is not None
    assert at_flat.heads[0].reads_f < at_face.heads[0].reads_f
    assert at_flat.panels[0].reads_f is not None and at_face.panels[0].reads_f is not None
    assert at_flat.panels[0].reads_f > at_face.panels[0].reads_f


def test_a_key_that_only_bounces_is_not_the_key(studio: Any) -> None:
    grid = studio.light(aim="background", accessories=("grid-octa",), angle_deg=120.0)
    fill = studio.light("B", 5, role="fill")
    got = one(studio, studio.setup(grid, fill))
    assert got.heads[0].reads_stops is None or got.heads[0].reads_stops < -2
    assert got.heads[0].at_aim_stops is not None
    assert got.key is not None and (got.key.head, got.key.panel) == ("B", None)


def test_the_light_named_key_is_the_key_though_another_is_brighter(studio: Any) -> None:
    got = one(studio, studio.setup(studio.light("B", 0, role="rim"), studio.light(below=5)))
    assert got.key is not None and got.key.head == "A"
    assert got.heads[0].under_key_stops == pytest.approx(-5)


def test_the_brightest_source_draws_the_pattern_whatever_its_role(studio: Any) -> None:
    named = studio.light(below=5)
    brighter = studio.light("B", 2, role="fill", angle_deg=10.0)
    got = one(studio, studio.setup(named, brighter))
    assert got.key is not None
    assert (got.key.head, got.pattern) == ("A", "butterfly")


def test_a_rim_as_bright_as_the_key_leaves_the_key_its_pattern(studio: Any) -> None:
    """The camera sees little of what comes from behind: from 150 degrees a meter turned to the
    camera counts a fifteenth of it."""
    rim = studio.light("B", 3, role="rim", side="right", angle_deg=150.0)
    got = one(studio, studio.setup(studio.light(), rim))
    assert got.heads[1].reads_stops == pytest.approx(got.heads[0].reads_stops)
    assert got.pattern == "Rembrandt"


def test_two_lights_as_bright_from_either_side_draw_no_pattern(studio: Any) -> None:
    def lit(below: int) -> str:
        fill = studio.light("B", below, role="fill", side="right")
        return one(studio, studio.setup(studio.light(), fill)).pattern

    assert [lit(below) for below in (3, 4, 6)] == ["none", "Rembrandt", "Rembrandt"]


def test_a_panel_brighter_than_the_spill_of_the_key_leaves_no_pattern(studio: Any) -> None:
    flat = studio.place(side="right", angle_deg=30.0, distance_m=1.2, face_to="face")
    spill = studio.light(modifier="dish", accessories=(), aim="flat-1", below=0)
    got = one(studio, studio.setup(spill, panels=(flat,)))
    assert got.key is not None and (got.key.head, got.key.panel) == ("A", "flat-1")
    assert got.panels[0].under_key_stops == 0
    assert (got.heads[0].under_key_stops or 0) > 0
    assert got.pattern == "none"


def test_spill_past_the_field_angle_draws_no_pattern_and_a_feathered_edge_does(studio: Any) -> None:
    """The flag beside the face gives nothing back: both light the face all by themselves."""
    flag = studio.place(panel="flag", side="right", angle_deg=30.0, distance_m=1.2)
    far = studio.light(modifier="dish", aim="flag", below=0)
    feathered = studio.light(aim="flag", below=0)
    got = one(studio, studio.setup(far, panels=(flag,)))
    assert got.heads[0].off_axis_deg > 35  # half of the dish's 70
    assert (got.heads[0].reads_stops or -9) > -2
    assert got.pattern == "none"
    got = one(studio, studio.setup(feathered, panels=(flag,)))
    assert got.heads[0].off_axis_deg < 75  # half of the box's 150
    assert got.pattern == "Rembrandt"


def test_cloths_in_the_beam_cost_what_they_say(studio: Any) -> None:
    plain = one(studio, studio.setup(studio.light())).heads[0].reads_stops
    veiled = one(studio, studio.setup(studio.light(through=("voile",)))).heads[0].reads_stops
    assert plain is not None and veiled is not None
    assert plain - veiled == pytest.approx(1)


def test_a_dial_is_given_for_what_is_asked(studio: Any) -> None:
    key = studio.light(aim_reading_f=5.6)
    fill = studio.light("B", 5, role="fill", under_key_stops=2.0)
    got = one(studio, studio.setup(key, fill))
    first, second = got.heads
    assert first.reads_stops is not None and second.reads_stops is not None
    assert first.asked_stops == 5
    assert second.asked_stops == 3  # two under the f/5.6 asked of the key, wherever it is set
    for head in (first, second):
        assert head.dial is not None and head.asked_stops is not None
        assert head.dial.power.below_full is not None and head.power.below_full is not None
        turned = float(head.power.below_full - head.dial.power.below_full)
        assert head.reads_stops is not None
        given_then = head.reads_stops + turned
        assert given_then - head.asked_stops == pytest.approx(head.dial.left_over_stops)


def test_readings_of_the_day_anchor_a_head(studio: Any) -> None:
    setup = studio.setup(studio.light())
    plan = studio.plan(setup)
    row = Measured("A", "1/8", 1.4, 5.6, "octa-90")
    anchored = predict(plan, setup, measured=(row,)).heads[0]
    assert anchored.reads_stops == pytest.approx(5.0)
    assert anchored.measured == row


def test_background_by_falloff_alone_and_as_lit(studio: Any) -> None:
    bare = studio.light(modifier="tube", angle_deg=0.0, height_m=1.25, distance_m=2.0)
    got = one(studio, studio.setup(bare))
    assert got.background_over_stops == pytest.approx(-2)  # 2 m and 4 m
    assert got.background_lit_stops == pytest.approx((got.heads[0].reads_stops or 0) - 2)
    behind = studio.light("B", role="background", aim="background", side="right", angle_deg=150.0, distance_m=1.5)
    lit = one(studio, studio.setup(bare, behind))
    assert lit.background_over_stops == got.background_over_stops
    assert (lit.background_lit_stops or 0) > (got.background_lit_stops or 0)
    from_the_side = replace(bare, angle_deg=90.0)  # 2 m beside the face: 45 degrees on the wall
    slanted = one(studio, studio.setup(from_the_side))
    assert slanted.background_over_stops == pytest.approx(-1)
    assert slanted.background_lit_stops == pytest.approx((slanted.heads[0].reads_stops or 0) - 1 - 0.5)
    none = one(studio, studio.setup(bare, background=None))
    assert (none.background_over_stops, none.background_lit_stops) == (None, None)


def test_a_gobos_edge_on_the_background(studio: Any) -> None:
    dish = studio.light(
        modifier="dish", accessories=("slash",), aim="background", angle_deg=0.0, distance_m=2.0, height_m=1.25
    )
    got = one(studio, studio.setup(dish)).heads[0]
    assert got.shadow_edge_m == pytest.approx(0.2 * (4.0 - 0.6) / 0.6)
    away = replace(dish, aim="face", angle_deg=180.0, distance_m=1.0)
    assert one(studio, studio.setup(away)).heads[0].shadow_edge_m is None


def test_a_rim_light_flares_and_a_gridded_one_does_not(studio: Any) -> None:
    rim = studio.light(role="rim", angle_deg=170.0, modifier="octa-90")
    assert one(studio, studio.setup(rim)).heads[0].flare
    gridded = replace(rim, accessories=("grid-octa",), angle_deg=130.0)
    assert not one(studio, studio.setup(gridded)).heads[0].flare
    assert not one(studio, studio.setup(studio.light())).heads[0].flare
    assert not one(studio, studio.setup(replace(rim, power=studio.power(None)))).heads[0].flare
    bare = studio.light(modifier="tube", angle_deg=20.0, distance_m=2.0)
    assert one(studio, studio.setup(bare)).heads[0].flare  # all round, and nearer than the lens
    beside_camera = replace(bare, distance_m=3.2)
    assert not one(studio, studio.setup(beside_camera)).heads[0].flare


def test_a_bare_head_does_not_light_behind_its_reflector(studio: Any) -> None:
    """A bare head on the background, 130 degrees round, gives the face nothing to meter."""
    behind = studio.light(modifier="bare", role="background", aim="background", angle_deg=130.0, below=0)
    (head,) = one(studio, studio.setup(behind)).heads
    assert (head.reads_stops or DARK) < METER_LEAST
    all_round = one(studio, studio.setup(replace(behind, modifier="tube"))).heads[0]
    assert (all_round.reads_stops or 0) > 9  # f/22 and more, as a naked tube would


def test_what_stands_in_the_picture(studio: Any) -> None:
    behind = studio.light(role="hair", angle_deg=180.0, distance_m=1.5, height_m=1.6)
    place = studio.place(angle_deg=0.0, distance_m=0.5)
    got = one(studio, studio.setup(studio.light("B"), behind, panels=(place,)))
    assert [head.in_frame for head in got.heads] == [False, True]
    assert got.panels[0].in_frame


def test_no_ambient_in_the_dark_and_none_without_background(studio: Any) -> None:
    assert one(studio, studio.setup(studio.light()), lux=0).ambient_under_stops is None


def mirrored(setup: Setup) -> Setup:
    def over(thing: Any) -> Any:
        return replace(thing, side="left" if thing.side == "right" else "right")

    facing = setup.subject
    subject = replace(facing, facing_side="left" if facing.facing_side == "right" else "right")
    return Setup(
        id=setup.id,
        exposure=setup.exposure,
        view=setup.view,
        subject=subject,
        background=setup.background,
        lights=tuple(over(light) for light in setup.lights),
        panels=tuple(over(place) for place in setup.panels),
    )


Spot = dict[str, Any]
angles = st.floats(0, 180)
spots = st.fixed_dictionaries({"side": st.sampled_from(["left", "right"]), "angle_deg": angles})


def numbers(got: Prediction) -> list[Any]:
    heads = [(h.reads_stops, h.size_deg, h.at_aim_stops, h.under_key_stops) for h in got.heads]
    panels = [(p.reads_stops, p.over_stops) for p in got.panels]
    flat = [value for row in heads + panels for value in row]
    return [*flat, got.whole_stops, got.background_lit_stops, got.background_over_stops]


@settings(max_examples=30, deadline=None)
@given(spots, spots, spots, st.floats(0, 90))
def test_a_set_and_its_mirror_image_are_lit_the_same(
    studio: Any, one_at: Spot, other_at: Spot, panel_at: Spot, turn: float
) -> None:
    lights = (
        studio.light(**one_at, accessories=("grid-octa",)),
        studio.light("B", 4, role="fill", **other_at, modifier="strip", aim="flat-1"),
    )
    panels: tuple[PanelPlace, ...] = (studio.place(**panel_at),)
    setup = studio.setup(*lights, panels=panels, subject=Subject(1.25, "left", turn))
    here, there = one(studio, setup), one(studio, mirrored(setup))
    for one_way, other in zip(numbers(here), numbers(there), strict=True):
        assert (one_way is None) == (other is None)
        if one_way is not None:
            assert other == pytest.approx(one_way, abs=1e-6)
    assert here.pattern == there.pattern


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 18), st.integers(0, 18), angles)
def test_a_stop_of_power_is_a_stop_everywhere(studio: Any, low: int, high: int, at: float) -> None:
    def lit(clicks: int) -> Prediction:
        light = studio.light(below=f"{clicks}/3", angle_deg=at)
        return one(studio, studio.setup(light, panels=(studio.place(),)))

    dim, bright = lit(max(low, high)), lit(min(low, high))
    up = abs(low - high) / 3
    for one_way, other in (
        (dim.heads[0].reads_stops, bright.heads[0].reads_stops),
        (dim.whole_stops, bright.whole_stops),
        (dim.panels[0].reads_stops, bright.panels[0].reads_stops),
        (dim.background_lit_stops, bright.background_lit_stops),
    ):
        assert (one_way is None) == (other is None)
        if one_way is not None:
            assert other == pytest.approx(one_way + up, abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.6, 4), st.floats(0.6, 4))
def test_bringing_it_in_never_dims_it_nor_makes_it_smaller(studio: Any, here: float, there: float) -> None:
    near, far = (one(studio, studio.setup(studio.light(distance_m=d))).heads[0] for d in sorted((here, there)))
    assert near.reads_stops is not None and far.reads_stops is not None
    assert near.reads_stops >= far.reads_stops
    assert near.size_deg >= far.size_deg


@settings(max_examples=30, deadline=None)
@given(angles, st.floats(0.5, 3))
def test_a_grid_never_gives_light_off_its_axis(studio: Any, at: float, d: float) -> None:
    place = studio.place()
    open_box = studio.light(aim="flat-1", angle_deg=at, distance_m=max(d, 0.6))
    gridded = replace(open_box, accessories=("grid-octa",))
    with_grid = one(studio, studio.setup(gridded, panels=(place,))).heads[0].reads_stops
    without = one(studio, studio.setup(open_box, panels=(place,))).heads[0].reads_stops
    if with_grid is not None:
        assert without is not None
        assert with_grid <= without - 0.7 + 1e-9


def test_iso_and_shutter_work_on_what_they_work_on(studio: Any) -> None:
    light = studio.light()
    base = one(studio, studio.setup(light))
    faster = one(studio, studio.setup(light, exposure=Exposure(4.0, "1/80", 100)))
    double = one(studio, studio.setup(light, exposure=Exposure(4.0, "1/160", 200)))
    assert base.ambient_under_stops is not None and base.whole_stops is not None
    assert faster.whole_stops == base.whole_stops
    assert faster.ambient_under_stops == pytest.approx(base.ambient_under_stops - 1)
    assert double.whole_stops == pytest.approx(base.whole_stops + 1)
    assert double.ambient_under_stops == pytest.approx(base.ambient_under_stops - 1)


def test_the_law_of_a_feathered_beam(studio: Any) -> None:
    """The dish feathered past the face: cos to the power that leaves a tenth at 35 degrees."""
    place = studio.place(angle_deg=90.0, distance_m=0.5, height_m=1.25)
    light = studio.light(modifier="dish", aim="flat-1", height_m=1.25, distance_m=1.5)
    straight = one(studio, studio.setup(replace(light, aim="face"), panels=(place,))).heads[0]
    got = one(studio, studio.setup(light, panels=(place,))).heads[0]
    off = got.off_axis_deg * pi / 180
    power = log2(0.1) / log2(cos(radians(35)))
    assert got.reads_stops is not None and straight.reads_stops is not None
    assert got.reads_stops - straight.reads_stops == pytest.approx(power * log2(cos(off)))


# Common practice, no source: bringing the box in lets the power come down.
def test_bringing_the_box_in_lets_the_power_come_down(studio: Any) -> None:
    far, near = (
        one(studio, studio.setup(studio.light(distance_m=d, aim_reading_f=4.0))).heads[0].dial for d in (2.0, 1.0)
    )
    assert far is not None and near is not None
    assert near.power < far.power


def test_the_face_turned_changes_the_pattern_and_not_one_reading(studio: Any) -> None:
    lights = (studio.light(), studio.light("B", 4, role="fill", side="right"))
    away = one(studio, studio.setup(*lights, subject=Subject(1.25, "right", 50.0)))
    at_key = one(studio, studio.setup(*lights, subject=Subject(1.25, looks_at="A")))
    assert (away.pattern, at_key.pattern) == ("split", "butterfly")
    assert numbers(away) == numbers(at_key)


@pytest.mark.parametrize(
    ("turned", "name"),
    [
        (0, "butterfly"),
        (15, "butterfly"),
        (15.1, "loop"),
        (35, "loop"),
        (35.1, "Rembrandt"),
        (60, "Rembrandt"),
        (60.1, "split"),
        (105, "split"),
        (105.1, "rim"),
        (180, "rim"),
    ],
)
def test_bands_of_turn(turned: float, name: str) -> None:
    assert pattern(FaceDirection(turned, 30.0)) == name


@given(st.floats(0, 180))
def test_height_rules_before_turn(turned: float) -> None:
    assert pattern(FaceDirection(turned, 70.1)) == "top light"
    assert pattern(FaceDirection(turned, -0.1)) == "under light"


def test_level_with_the_face_and_just_at_the_top_are_neither() -> None:
    assert pattern(FaceDirection(45, 0)) == pattern(FaceDirection(45, 70)) == "Rembrandt"
