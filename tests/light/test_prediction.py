from dataclasses import replace
from math import atan, cos, degrees, log2, radians
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.light import anchor
from runbook.light.bounce import Meter, light_at
from runbook.light.heads import light_heads
from runbook.light.prediction import HeadLight, Prediction, pattern, predict
from runbook.light.scene import cosine_between, scene, surfaces_of
from runbook.light.solve import with_powers
from runbook.light.stops import DARK, METER_LEAST, add_light
from runbook.model.kit import Panel
from runbook.model.power import SOLVE
from runbook.model.setup import Background, Exposure, Light, Setup, Subject


def lit(studio: Any, *lights: Light, lux: float = 60.0, **more: Any) -> Prediction:
    setup = studio.setup(*lights, **more)
    return predict(studio.plan(setup, lux=lux), setup)


def head_of(studio: Any, light: Light, **more: Any) -> HeadLight:
    return lit(studio, light, **more).heads[0]


def reads(studio: Any, *lights: Light, **more: Any) -> list[float]:
    """The readings of all heads, then of all panels, DARK where there is none."""
    got = lit(studio, *lights, **more)
    return [DARK if one.reads_stops is None else one.reads_stops for one in (*got.heads, *got.panels)]


def whole(studio: Any, *lights: Light, **more: Any) -> float:
    stops = lit(studio, *lights, **more).whole_stops
    assert stops is not None
    return stops


def test_one_key_by_hand(studio: Any) -> None:
    """Guide number 52, an eighth, two stops of box metered at 2 m, carried to 1.4 m."""
    got = lit(studio, studio.light())
    stops = 2 * log2(52 / 2) - 3 - 2 + log2((0.45**2 + 2**2) / (0.45**2 + 1.4**2))
    (head,) = got.heads
    assert head.reads_stops == pytest.approx(stops)
    assert head.over_stops == pytest.approx(stops - 4)
    assert head.under_key_stops == 0
    assert head.size_deg == pytest.approx(degrees(2 * atan(0.45 / 1.4)))
    assert head.recycle_s == pytest.approx(0.1 + 1.7 / 8)
    assert head.at_aim_stops == head.reads_stops
    assert (head.dial, head.asked_stops, head.measured, head.shadow_edge_m) == (None,) * 4
    assert (got.key.head if got.key else None, got.aperture_stops, got.pattern) == ("A", 4, "Rembrandt")


def test_the_whole_is_the_dome_turned_to_the_camera(studio: Any) -> None:
    got = lit(studio, studio.light(height_m=1.25))
    cosine = cos(radians(45)) * (2.6**2 - 0.25**2) ** 0.5 / 2.6
    expected = (got.heads[0].reads_stops or 0) + log2((1 + cosine) / 2)
    assert got.whole_stops == pytest.approx(expected)
    assert got.whole_over_stops == pytest.approx(expected - 4)


def test_heads_and_panels_add_up_as_light(studio: Any) -> None:
    lights = (studio.light(), studio.light("B", 5, role="fill", side="right", angle_deg=30.0))
    bare = whole(studio, *lights)
    assert bare == pytest.approx(add_light(whole(studio, light) for light in lights))
    filled = lit(studio, *lights, panels=(studio.place(),))
    assert (filled.whole_stops or 0) > bare
    (panel,) = filled.panels
    assert (panel.under_key_stops or 0) > 0
    assert panel.over_stops == pytest.approx((panel.reads_stops or 0) - 4)


def test_a_white_flat_fills_and_a_flag_does_not(studio: Any) -> None:
    places = (studio.place(), studio.place(panel="flag", side="left", angle_deg=120.0))
    flat, flag = lit(studio, studio.light(), panels=places).panels
    assert flat.reads_stops is not None
    assert (flag.reads_stops, flag.over_stops, flag.under_key_stops) == (None, None, None)


def test_a_head_that_is_off_gives_nothing_anywhere(studio: Any) -> None:
    got = lit(studio, studio.light(below=None, aim_reading_f=4.0), panels=(studio.place(),))
    head = got.heads[0]
    assert (head.reads_stops, head.over_stops, head.under_key_stops, head.recycle_s) == (None,) * 4
    assert not head.flare
    assert head.dial is not None and head.dial.in_range  # what to dial once it is on
    assert (got.whole_stops, got.whole_over_stops, got.key, got.pattern) == (None, None, None, "none")
    assert got.panels[0].reads_stops is None
    assert got.ambient_under_stops is not None
    assert lit(studio, studio.light(), lux=0).ambient_under_stops is None


def test_a_head_aimed_at_a_panel_reaches_the_face_by_bounce_and_by_spill(studio: Any) -> None:
    place = studio.place(angle_deg=60.0)
    direct, bounced = reads(studio, studio.light(), panels=(place,))
    spill, more_bounced = reads(studio, studio.light(aim="flat-1"), panels=(place,))
    assert DARK < spill < direct
    assert more_bounced > bounced


def test_which_head_is_the_key(studio: Any) -> None:
    grid = studio.light(aim="background", accessories=("grid-octa",), angle_deg=120.0)
    got = lit(studio, grid, studio.light("B", 5, role="fill"))
    assert (got.heads[0].reads_stops or DARK) < METER_LEAST
    assert got.heads[0].at_aim_stops is not None
    assert got.key is not None and (got.key.head, got.key.panel) == ("B", None)
    named = lit(studio, studio.light("B", 0, role="rim"), studio.light(below=5))
    assert named.key is not None and named.key.head == "A"
    assert named.heads[0].under_key_stops == pytest.approx(-5)


# -- the pattern -----------------------------------------------------------------------------------


def test_the_brightest_source_draws_the_pattern_whatever_its_role(studio: Any) -> None:
    got = lit(studio, studio.light(below=5), studio.light("B", 2, role="fill", angle_deg=10.0))
    assert got.key is not None
    assert (got.key.head, got.pattern) == ("A", "butterfly")


def test_a_rim_as_bright_as_the_key_leaves_the_key_its_pattern(studio: Any) -> None:
    """The camera sees little of what comes from behind: from 150 degrees a meter turned to the
    camera counts a fifteenth of it."""
    got = lit(studio, studio.light(), studio.light("B", 3, role="rim", side="right", angle_deg=150.0))
    assert got.heads[1].reads_stops == pytest.approx(got.heads[0].reads_stops)
    assert got.pattern == "Rembrandt"


@pytest.mark.parametrize(("below", "name"), [(3, "none"), (4, "Rembrandt"), (6, "Rembrandt")])
def test_two_lights_as_bright_from_either_side_draw_no_pattern(studio: Any, below: int, name: str) -> None:
    assert lit(studio, studio.light(), studio.light("B", below, role="fill", side="right")).pattern == name


def test_a_panel_brighter_than_the_spill_of_the_key_leaves_no_pattern(studio: Any) -> None:
    flat = studio.place(side="right", angle_deg=30.0, distance_m=1.2)
    got = lit(studio, studio.light(modifier="dish", aim="flat-1", below=0), panels=(flat,))
    assert got.key is not None and (got.key.head, got.key.panel) == ("A", "flat-1")
    assert got.panels[0].under_key_stops == 0
    assert (got.heads[0].under_key_stops or 0) > 0
    assert got.pattern == "none"


@pytest.mark.parametrize(("modifier", "name"), [("dish", "none"), ("octa-90", "Rembrandt")])
def test_spill_past_the_field_angle_draws_no_pattern_and_a_feathered_edge_does(studio, modifier, name):
    """Aimed past the face, more than half of 70 and less than half of 150 degrees; the flag gives nothing back."""
    flag = studio.place(panel="flag", side="right", angle_deg=30.0, distance_m=1.2)
    got = lit(studio, studio.light(modifier=modifier, aim="flag", below=0), panels=(flag,))
    assert (got.heads[0].reads_stops or -9) > METER_LEAST
    assert got.pattern == name


def test_the_face_turned_changes_the_pattern_and_not_one_reading(studio: Any) -> None:
    lights = (studio.light(), studio.light("B", 4, role="fill", side="right"))
    away = lit(studio, *lights, subject=Subject(1.25, "right", 50.0))
    at_key = lit(studio, *lights, subject=Subject(1.25, looks_at="A"))
    assert (away.pattern, at_key.pattern) == ("split", "butterfly")
    assert numbers(away) == numbers(at_key)


@pytest.mark.parametrize(("turned", "name"), [
    (0, "butterfly"), (15, "butterfly"), (15.1, "loop"), (35, "loop"), (35.1, "Rembrandt"), (60, "Rembrandt"),
    (60.1, "split"), (105, "split"), (105.1, "rim"), (180, "rim"),
])  # fmt: skip
def test_bands_of_turn_after_height(turned: float, name: str) -> None:
    assert pattern(turned, 0.0) == pattern(turned, 30.0) == pattern(turned, 70.0) == name
    assert (pattern(turned, 70.1), pattern(turned, -0.1)) == ("top light", "under light")


# -- heads -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("angle_deg", "over"),
    [(0.0, -2), (90.0, -1)],  # 2 m and 4 m; 2 m and 2.83 m
)
def test_background_by_falloff_alone(studio: Any, angle_deg: float, over: float) -> None:
    bare = studio.light(modifier="tube", angle_deg=angle_deg, height_m=1.25, distance_m=2.0)
    assert lit(studio, bare).background_over_stops == pytest.approx(over)
    assert lit(studio, bare, background=None).background_over_stops is None


def test_a_gobos_edge_on_the_background(studio: Any) -> None:
    dish = studio.light(
        modifier="dish", accessories=("slash",), aim="background", angle_deg=0.0, distance_m=2.0, height_m=1.25
    )
    assert head_of(studio, dish).shadow_edge_m == pytest.approx(0.2 * (4.0 - 0.6) / 0.6)
    away = replace(dish, aim="face", angle_deg=180.0, distance_m=1.0)
    assert head_of(studio, away).shadow_edge_m is None


@pytest.mark.parametrize(("light", "flares"), [
    ({"angle_deg": 170.0}, True),
    ({"angle_deg": 130.0, "accessories": ("grid-octa",)}, False),
    ({}, False),
    ({"angle_deg": 170.0, "below": None}, False),
    ({"modifier": "tube", "angle_deg": 20.0, "distance_m": 2.0}, True),  # all round, and nearer than the lens
    ({"modifier": "tube", "angle_deg": 20.0, "distance_m": 3.2}, False),  # beside the camera
])  # fmt: skip
def test_a_beam_that_holds_the_lens_flares(studio: Any, light: dict[str, Any], flares: bool) -> None:
    assert head_of(studio, studio.light(**light)).flare is flares


def test_a_bare_head_does_not_light_behind_its_reflector(studio: Any) -> None:
    """A bare head on the background, 130 degrees round, gives the face nothing to meter."""
    behind = studio.light(modifier="bare", role="background", aim="background", angle_deg=130.0, below=0)
    assert reads(studio, behind)[0] < METER_LEAST
    assert reads(studio, replace(behind, modifier="tube"))[0] > 9  # f/22 and more, as a naked tube would


def test_what_stands_in_the_picture(studio: Any) -> None:
    behind = studio.light(role="hair", angle_deg=180.0, distance_m=1.5, height_m=1.6)
    assert [one.in_shot is not None for one in lit(studio, studio.light("B"), behind).heads] == [False, True]
    hiding = lit(studio, studio.light("B"), behind, panels=(studio.place(angle_deg=0.0, distance_m=0.5),))
    assert [one.in_shot is not None for one in (*hiding.heads, *hiding.panels)] == [False, False, True]


# -- laws ------------------------------------------------------------------------------------------


def mirrored(setup: Setup) -> Setup:
    def over(thing: Any) -> Any:
        return replace(thing, side="left" if thing.side == "right" else "right")

    facing = "left" if setup.subject.facing_side == "right" else "right"
    return replace(
        setup,
        subject=replace(setup.subject, facing_side=facing),
        lights=tuple(over(light) for light in setup.lights),
        panels=tuple(over(place) for place in setup.panels),
        hung_cloths=tuple(over(hung) for hung in setup.hung_cloths),
    )


angles = st.floats(0, 180)
spots = st.fixed_dictionaries({"side": st.sampled_from(["left", "right"]), "angle_deg": angles})


def numbers(got: Prediction) -> list[float | None]:
    heads = [value for h in got.heads for value in (h.reads_stops, h.size_deg, h.at_aim_stops, h.under_key_stops)]
    panels = [value for p in got.panels for value in (p.reads_stops, p.over_stops)]
    cloths = [value for c in got.cloths for value in (c.scattered_stops, c.reflected_stops)]
    return [*heads, *panels, *cloths, got.whole_stops, got.background_over_stops]


@settings(max_examples=30, deadline=None)
@given(spots, spots, st.tuples(spots, spots), st.floats(0, 90))
def test_a_set_and_its_mirror_image_are_lit_the_same(studio, one_at, other_at, flat, turn):
    lights = (
        studio.light(**one_at, accessories=("grid-octa",)),
        studio.light("B", 4, role="fill", **other_at, modifier="strip", aim="flat-1"),
    )
    more = {"panels": (studio.place(**flat[0]),), "hung_cloths": (studio.hang(**flat[1]),)}
    setup = studio.setup(*lights, **more, subject=Subject(1.25, "left", turn))
    here, there = (predict(studio.plan(one), one) for one in (setup, mirrored(setup)))
    assert numbers(there) == [value if value is None else pytest.approx(value, abs=1e-6) for value in numbers(here)]
    assert here.pattern == there.pattern


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 18), st.integers(0, 18), angles)
def test_a_stop_of_power_is_a_stop_everywhere(studio: Any, low: int, high: int, at: float) -> None:
    def stops(clicks: int) -> list[float | None]:
        got = lit(studio, studio.light(below=f"{clicks}/3", angle_deg=at), panels=(studio.place(),))
        return [got.heads[0].reads_stops, got.whole_stops, got.panels[0].reads_stops]

    up = (high - low) / 3
    expected = [stop if stop is None else pytest.approx(stop + up, abs=1e-9) for stop in stops(high)]
    assert stops(low) == expected


@settings(max_examples=30, deadline=None)
@given(st.floats(0.6, 4), st.floats(0.6, 4))
def test_bringing_it_in_never_dims_it_nor_makes_it_smaller(studio: Any, here: float, there: float) -> None:
    near, far = (head_of(studio, studio.light(distance_m=d)) for d in sorted((here, there)))
    assert (near.reads_stops or DARK) >= (far.reads_stops or DARK)
    assert near.size_deg >= far.size_deg


@settings(max_examples=30, deadline=None)
@given(angles, st.floats(0.6, 3))
def test_a_grid_never_gives_light_off_its_axis(studio: Any, at: float, d: float) -> None:
    box = studio.light(aim="flat-1", angle_deg=at, distance_m=d)
    gridded = replace(box, accessories=("grid-octa",))
    with_grid, without = (reads(studio, light, panels=(studio.place(),))[0] for light in (gridded, box))
    assert with_grid <= without - 0.7 + 1e-9


def test_iso_and_shutter_work_on_what_they_work_on(studio: Any) -> None:
    base, slower, faster_film = (
        lit(studio, studio.light(), exposure=Exposure(4.0, shutter, iso))
        for shutter, iso in (("1/160", 100), ("1/80", 100), ("1/160", 200))
    )
    assert base.ambient_under_stops is not None and base.whole_stops is not None
    assert slower.whole_stops == base.whole_stops
    assert faster_film.whole_stops == pytest.approx(base.whole_stops + 1)
    for brighter in (slower, faster_film):
        assert brighter.ambient_under_stops == pytest.approx(base.ambient_under_stops - 1)


# -- shade -----------------------------------------------------------------------------------------


def test_a_flag_before_a_head_takes_its_light_from_the_face_and_ends_its_flare(studio: Any) -> None:
    rim = studio.light(role="rim", angle_deg=180.0, height_m=1.5, modifier="dish", distance_m=2.0)
    flag = studio.place(panel="flag", angle_deg=180.0, distance_m=1.0, height_m=1.4)
    free, shaded = (lit(studio, rim, panels=panels) for panels in ((), (flag,)))
    assert free.heads[0].flare and not shaded.heads[0].flare
    assert free.heads[0].reads_stops is not None and shaded.heads[0].reads_stops is None
    beside = replace(flag, angle_deg=120.0, distance_m=1.9)
    still = lit(studio, rim, panels=(beside,))
    assert still.heads[0].flare
    assert still.heads[0].reads_stops == pytest.approx(free.heads[0].reads_stops)


def test_a_cut_out_passes_its_open_share_to_face_and_background(studio: Any) -> None:
    half = replace(studio.kit().panels[1], id="flag", open_share=0.5)
    kit = studio.kit(panels=(studio.kit().panels[0], half))
    setup = studio.setup(studio.light(angle_deg=0.0, distance_m=2.0, modifier="dish"))
    board = studio.place(panel="flag", angle_deg=0.0, distance_m=1.0, height_m=1.4)
    free, cut = (predict(studio.plan(one, kit=kit), one) for one in (setup, replace(setup, panels=(board,))))
    assert free.heads[0].reads_stops is not None
    assert cut.heads[0].reads_stops == pytest.approx(free.heads[0].reads_stops - 1)
    assert free.background_reads_stops is not None
    assert cut.background_reads_stops == pytest.approx(free.background_reads_stops - 1)


def test_two_wings_are_one_panel_that_counts_each_by_its_own_middle(studio: Any) -> None:
    """Two flats of one wing where the wings are give the same readings."""
    flat = Panel("vee", 1.2, 2.4, 0.85, wings=2)
    kit = studio.kit(panels=(*studio.kit().panels, flat))
    place = studio.place(panel="vee", angle_deg=60.0, distance_m=1.5, open_deg=100.0)
    setup = studio.setup(studio.light(side="left"), panels=(place,))
    got = predict(studio.plan(setup, kit=kit), setup)
    where, beams = scene(setup), [light_heads(kit, setup, scene(setup))[0].beam]
    wings = surfaces_of(kit, setup)
    (row,) = light_at(beams, wings, Meter(where.face))[0]
    below = 2.0 ** -float(setup.lights[0].power.below_full or 0)
    assert 2.0 ** (got.panels[0].reads_stops or DARK) == pytest.approx((row[1] + row[2]) * below)
    counts = [
        (1 + cosine_between(where.face, at, where.lens)) / 2
        for at in (beams[0].origin, wings[0].plane.middle, wings[1].plane.middle)
    ]
    whole = sum(light * count for light, count in zip(row, counts, strict=True)) * below
    assert 2.0 ** (got.whole_stops or DARK) == pytest.approx(whole)


# -- hung cloths -----------------------------------------------------------------------------------


def test_a_head_behind_a_cloth_reads_with_what_the_cloth_scatters_of_it(studio: Any) -> None:
    free = head_of(studio, studio.light()).reads_stops
    got = lit(studio, studio.light(), hung_cloths=(studio.hang(),))
    (head,), (cloth,) = got.heads, got.cloths
    assert free is not None and head.reads_stops is not None and cloth.scattered_stops is not None
    straight = free + log2(0.5 * 0.4)
    assert head.reads_stops == pytest.approx(add_light((straight, cloth.scattered_stops)), abs=0.01)
    assert straight < head.reads_stops < free
    assert (head.at_aim_stops, cloth.reflected_stops) == (head.reads_stops, None)


def test_what_a_cloth_reflects_is_no_part_of_a_head_s_own_reading_and_counts_in_the_whole(studio: Any) -> None:
    behind = studio.hang(side="right", angle_deg=120.0, distance_m=1.0)
    free, got = lit(studio, studio.light()), lit(studio, studio.light(), hung_cloths=(behind,))
    (cloth,) = got.cloths
    assert got.heads[0].reads_stops == pytest.approx(free.heads[0].reads_stops)
    assert cloth.scattered_stops is None and cloth.reflected_stops is not None
    assert got.whole_stops is not None and free.whole_stops is not None and got.whole_stops > free.whole_stops + 0.01


def test_a_cloth_by_hand_costs_its_loss_wherever_it_hangs(studio: Any) -> None:
    by_hand = studio.light(through=("voile",))
    free, hung = lit(studio, by_hand), lit(studio, by_hand, hung_cloths=(studio.hang(),))
    assert numbers(hung)[:4] == pytest.approx(numbers(free)[:4])
    assert (hung.cloths[0].scattered_stops, hung.cloths[0].reflected_stops) == (None, None)


def test_a_key_that_shines_through_a_cloth_draws_from_where_it_meets_the_cloth(studio: Any) -> None:
    """The middle of the cloth is below the face and nearer to the camera, and the light is not."""
    diffusion = replace(studio.kit().cloth["voile"], scatter=1.0)
    setup = studio.setup(studio.light(angle_deg=50.0), hung_cloths=(studio.hang(angle_deg=30.0, hem_m=0.1),))
    assert predict(studio.plan(setup, kit=studio.kit(cloths=(diffusion,))), setup).pattern == "Rembrandt"


def test_powers_left_out_of_heads_behind_cloths_meet_what_is_asked(studio: Any) -> None:
    key = studio.light(aim_reading_f=2.8)
    rim = studio.light("B", role="rim", side="right", angle_deg=150.0, under_key_stops=1.0)
    hung = (studio.hang(side="right", angle_deg=150.0),)
    setup = studio.setup(replace(key, power=SOLVE), replace(rim, power=SOLVE), hung_cloths=hung)
    plan = with_powers(studio.plan(setup))
    got = predict(plan, plan.setups[setup.id])
    assert all(one.dial and one.dial.in_range and abs(one.dial.left_over_stops) <= 1 / 6 + 1e-6 for one in got.heads)
    assert got.heads[1].under_key_stops == pytest.approx(1.0, abs=1 / 3 + 1e-6)


def test_the_day_s_reading_through_a_hung_cloth_anchors_the_head_without_it(studio: Any) -> None:
    setup = studio.setup(studio.light(), hung_cloths=(studio.hang(),))
    plan = studio.plan(setup, lux=0.0)
    stops = predict(plan, setup).heads[0].reads_stops
    row = anchor(plan, setup, setup.lights[0], stops + 0.5)
    assert row is not None
    without = replace(setup, hung_cloths=())
    for one, more in ((setup, 0.5), (without, 0.5)):
        assert predict(plan, one, [row]).heads[0].reads_stops == pytest.approx(
            predict(plan, one).heads[0].reads_stops + more, abs=1e-3
        )


def test_a_thick_cloth_hides_the_head_and_the_panel_behind_it_and_ends_its_flare(studio: Any) -> None:
    rim = studio.light(role="rim", side="right", angle_deg=175.0, distance_m=1.8, height_m=1.4)
    hung = (studio.hang(side="right", angle_deg=175.0, distance_m=1.0),)
    diffusion = replace(studio.kit().cloth["voile"], scatter=1.0)
    thin, thick = studio.kit(), studio.kit(cloths=(diffusion,))
    setup = studio.setup(rim, hung_cloths=hung, panels=(studio.place(side="left", angle_deg=170.0, distance_m=2.0),))
    for kit, shows in ((thin, True), (thick, False)):
        got = predict(studio.plan(setup, kit=kit), setup)
        assert [one.in_shot is not None for one in (*got.heads, *got.panels)] == [shows, shows]
        assert got.heads[0].flare == shows


@pytest.mark.parametrize(("hung", "in_frame", "veils", "hides"), [
    ({"angle_deg": 0.0}, True, True, False),
    ({"angle_deg": 180.0, "distance_m": 1.0}, False, False, True),
    ({"angle_deg": 90.0, "distance_m": 2.0}, False, False, False),
    ({"angle_deg": 50.0, "distance_m": 0.95}, True, False, False),
])  # fmt: skip
def test_a_cloth_in_the_picture_in_front_of_the_face_or_hiding_the_background(studio, hung, in_frame, veils, hides):
    got = lit(studio, studio.light(), hung_cloths=(studio.hang(**hung),), background=Background(2.0, 0.5))
    (cloth,) = got.cloths
    assert (cloth.in_shot is not None, cloth.veils, got.background_hidden_by) == (
        in_frame,
        veils,
        "voile" if hides else None,
    )
    assert (got.background_level_stops is None) == hides
