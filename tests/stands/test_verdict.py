from dataclasses import replace
from math import atan, atan2, cos, degrees, hypot, radians, sin, sqrt
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.model.day import Crew, Place, Plan
from runbook.model.kit import Accessory, Panel
from runbook.model.setup import PanelPlace, Setup
from runbook.stands import verdict as verdicts
from runbook.stands.remedy import panel_lines, panel_remedy
from runbook.stands.statics import Rig
from runbook.stands.verdict_text import panel_limit_text, panel_state
from tests.stands import rigs
from tests.stands.polygon import centre_of, factor_of, margin_m, point_masses, regular_feet


@given(rigs.RIGS)
def test_hanging_what_is_needed_makes_it_stand(rig: Rig) -> None:
    needed = verdicts.judge(rig, rigs.PLACE).bags_needed_kg
    assume(needed is not None and needed > 1e-6)
    assert needed is not None
    verdict = verdicts.judge(replace(rig, bags=rigs.bags(needed / 2, needed / 2)), rigs.PLACE)
    assert verdict.lean_deg >= rigs.PLACE.tilt_limit_deg - 1e-6
    assert verdict.factor is None or verdict.factor >= 1.5 - 1e-6
    more = replace(rig, bags=rigs.bags(needed / 2 + 1e-6, needed / 2 + 1e-6))
    assert not {"lean", "factor"} & set(verdicts.judge(more, rigs.PLACE).faults)


@given(rigs.RIGS)
def test_past_the_most_that_helps_it_tips_the_other_way(rig: Rig) -> None:
    # the far foot of a tripod is further out than the edge behind it
    tripod = replace(rig.stand, legs=3)
    rig = replace(rig, stand=tripod, bags_at="far legs", leg_under_load=False)
    verdict = verdicts.judge(rig, rigs.PLACE)
    assume(verdict.bags_needed_kg is not None)
    most = verdict.bags_most_kg
    assert most is not None
    assert "lean" not in verdicts.judge(replace(rig, bags=rigs.bags(max(most - 1e-6, 0.0))), rigs.PLACE).faults
    over = verdicts.judge(replace(rig, bags=rigs.bags(most + 1e-3)), rigs.PLACE)
    assert "lean" in over.faults
    assert over.bags_needed_kg == verdict.bags_needed_kg


@given(rigs.RIGS, rigs.numbers(0.1, 0.9))
def test_lowering_never_makes_it_worse(rig: Rig, share: float) -> None:
    high = verdicts.judge(rig, rigs.PLACE)
    low = verdicts.judge(replace(rig, height_m=share * rig.height_m), rigs.PLACE)
    assert low.factor == high.factor
    if high.lean_deg > 0:
        assert low.lean_deg >= high.lean_deg - 1e-9
        assert low.push_n >= high.push_n - 1e-9
        assert low.wind_limit_ms >= high.wind_limit_ms - 1e-9
    if high.bags_needed_kg is not None:
        assert low.bags_needed_kg is not None
        assert low.bags_needed_kg <= high.bags_needed_kg + 1e-6


@given(rigs.RIGS, rigs.numbers(0.5, 10))
def test_another_bag_at_the_column_never_hurts(rig: Rig, kg: float) -> None:
    rig = replace(rig, bags_at="column")
    before = verdicts.judge(rig, rigs.PLACE)
    after = verdicts.judge(replace(rig, bags=rig.bags + rigs.bags(kg)), rigs.PLACE)
    assume(before.lean_deg > 0)
    assert after.lean_deg >= before.lean_deg - 1e-9
    assert after.push_n >= before.push_n - 1e-9
    assert after.bags_needed_kg == before.bags_needed_kg
    assert set(after.faults) <= set(before.faults)


def test_a_verdict_in_numbers() -> None:
    grid = Accessory("grid", "grid", ("octa",), mass_kg=0.4)
    rig = Rig(rigs.a_stand(), 2.0, rigs.a_head(), rigs.a_box(), (grid,), rigs.bags(7.0))
    verdict = verdicts.judge(rig, rigs.PLACE)
    # by hand: M 13.8 kg, x = 1.7 * 0.225 / 13.8, z = (3.1 * 0.7 + 3.7 * 2 + 7 * 0.1) / 13.8
    assert verdict.lean_deg == pytest.approx(degrees(atan2(0.26 * 13.8 - 0.3825, 10.27)))
    assert verdict.lean_deg == pytest.approx(17.33, abs=0.01)
    assert verdict.push_n == pytest.approx((0.26 * 13.8 - 0.3825) * 9.80665 / 2.0)
    assert verdict.factor is None
    assert (verdict.bags_kg, verdict.load_max_kg) == (7.0, 9.0)
    assert verdict.load_kg == pytest.approx(3.7)
    # lean: (M0 0.26 - 0.3825 - tan 10 deg * 9.57) + m (0.26 - 0.1 tan 10 deg) = 0
    assert verdict.bags_needed_kg == pytest.approx(0.30195 / 0.242367, abs=1e-4)
    assert verdict.counterweight_needed_kg is None
    assert verdict.ok
    assert not verdicts.judge(replace(rig, bags=()), rigs.PLACE).ok


def test_a_gust_past_the_limit_is_a_fault_though_it_does_not_yet_tip() -> None:
    rig = Rig(rigs.a_stand(), 2.0, rigs.a_head(), rigs.a_box(), (), rigs.bags(7.0))
    wind = verdicts.judge(rig, rigs.PLACE).wind
    assert wind.limit < wind.tips

    def faults(gust: float) -> tuple[str, ...]:
        return verdicts.judge(rig, Place(indoors=False, gust_ms=gust)).faults

    assert faults(wind.limit * 0.999) == ()
    # the 1.5 in hand are gone, and 1.22 times that gust would still not tip it
    assert faults(wind.limit * 1.001) == ("wind",)
    assert faults((wind.limit + wind.tips) / 2) == ("wind",)
    between = Place(indoors=False, gust_ms=(wind.limit + wind.tips) / 2)
    assert not verdicts.judge(rig, between).ok


def test_the_lean_a_day_asks_for_is_asked_to_the_last_hundredth() -> None:
    rig = Rig(rigs.a_stand(), 2.0, rigs.a_head(), rigs.a_box(), (), rigs.bags(7.0))
    lean = verdicts.judge(rig, rigs.PLACE).lean_deg
    just, over = (replace(rigs.PLACE, tilt_limit_deg=lean + more) for more in (-0.01, 0.01))
    assert verdicts.judge(rig, just).faults == ()
    assert verdicts.judge(rig, over).faults == ("lean",)
    needed = verdicts.judge(rig, over).bags_needed_kg
    assert needed is not None
    # one hundredth of a degree is a few grams of bag: no other limit gives that
    assert 7.0 < needed < 7.1
    assert verdicts.judge(rig, just).bags_needed_kg == pytest.approx(7.0, abs=0.1)


def test_a_factor_under_what_is_published_stops_and_one_over_it_does_not() -> None:
    # by hand: the stand's mass m holds at 0.26 m, 5 kg tip 0.34 m past the edge: m 0.26 / 1.7
    def factor_of_stand(mass_kg: float) -> tuple[float, bool]:
        rig = Rig(rigs.a_stand(mass_kg=mass_kg), 0.5, None, rigs.a_box(5.0, 1.2))
        verdict = verdicts.judge(rig, replace(rigs.PLACE, tilt_limit_deg=0.0))
        assert verdict.factor is not None
        return round(verdict.factor, 4), "factor" in verdict.faults

    holds, tips = 0.26, 5.0 * 0.34
    assert factor_of_stand(1.29 * tips / holds) == (1.29, True)
    assert factor_of_stand(1.31 * tips / holds) == (1.31, False)


def test_what_fails_is_named() -> None:
    heavy = Rig(rigs.a_stand(load_max_kg=2.0), 2.6, rigs.a_head(4.0), rigs.a_box(4.0, 1.4))
    verdict = verdicts.judge(heavy, Place(indoors=False, gust_ms=9.0))
    assert verdict.faults == ("lean", "factor", "load", "wind")
    assert not verdict.ok


def test_a_boom_needs_a_counterweight() -> None:
    rig = Rig(rigs.a_boom(), 2.4, rigs.a_head(1.3), rigs.a_box(1.3, 0.15), (), rigs.bags(7.0))
    assert verdicts.judge(rig, rigs.PLACE).counterweight_needed_kg == pytest.approx(6.0)
    assert verdicts.judge(rig, rigs.PLACE).factor is None
    unbalanced = verdicts.judge(replace(rig, counterweight_on=False), rigs.PLACE)
    # 4.2 kg 1.14 m out: falls over the edge at 0.325 m unless much more is hung
    assert unbalanced.factor == pytest.approx((8.5 + 7.0) * 0.325 / (4.2 * (4.8 / 4.2 - 0.325)))
    with pytest.raises(ValueError, match="no arm"):
        verdicts.judge(replace(rig, stand=rigs.a_boom(arm_m=None)), rigs.PLACE)


@given(rigs.RIGS)
def test_far_bags_are_judged_where_they_hang(rig: Rig) -> None:
    """The lean over the real feet, turned as planned, with every bag on its leg."""
    rig = replace(rig, bags_at="far legs", leg_under_load=True)
    points = point_masses(rig)
    centre = centre_of(points)
    feet = regular_feet(rig.stand.legs, rig.stand.foot_radius_m)
    margin = margin_m(feet, centre.x, centre.y)
    assert verdicts.judge(rig, rigs.PLACE).lean_deg == pytest.approx(degrees(atan2(margin, centre.z)), abs=1e-6)
    factor, known = verdicts.judge(rig, rigs.PLACE).factor, factor_of(feet, points)
    if factor is not None:
        assert known is not None
        assert factor <= known * (1 + 1e-9)


@given(rigs.RIGS, rigs.numbers(0.0, 15.0))
def test_only_a_balanced_boom_may_be_let_go(rig: Rig, kg: float) -> None:
    assume(rig.stand.is_boom)
    rig = replace(rig, stand=replace(rig.stand, counterweight_kg=kg))
    needed = verdicts.judge(rig, rigs.PLACE).counterweight_needed_kg
    assert needed is not None
    off, allowed = abs(needed - kg), max(0.25, 0.05 * needed)
    assume(abs(off - allowed) > 1e-6)
    assert ("balance" in verdicts.judge(rig, rigs.PLACE).faults) == (off > allowed)


a_panel = rigs.builder(Panel, id="flat", width_m=1.2, height_m=2.4, reflectance=0.85, mass_kg=9.0, foot_radius_m=0.25)


def in_gust(gust: float, bags_kg: float = 5.0, height_m: float = 1.2, **more: object) -> verdicts.PanelVerdict:
    return verdicts.judge_panel(a_panel(**more), height_m, bags_kg, Place(indoors=False, gust_ms=gust))


PANELS = st.builds(
    lambda width, height, mass, feet: a_panel(width_m=width, height_m=height, mass_kg=mass, foot_radius_m=feet),
    rigs.numbers(0.3, 3), rigs.numbers(0.3, 3), rigs.numbers(0.5, 20), rigs.numbers(0.1, 0.8),
)  # fmt: skip


def test_a_v_flat_on_its_feet() -> None:
    # by hand: 14 kg at 0.25 m hold 34.32 N m, 28.60 N at the middle 1.2 m up, so it tips at
    # v = sqrt(28.60 / (0.613 * 1.2 * 2.88)) = 3.675 m/s; the limit has 1.5 in hand
    flat = in_gust(10.0)
    assert flat.wind is not None
    assert flat.wind.tips == pytest.approx(3.675, abs=1e-3)
    assert flat.wind.limit == pytest.approx(3.675 / sqrt(1.5), abs=1e-3)
    assert flat.wind_push_n == pytest.approx(211.9, abs=0.05)
    assert flat.push_n == pytest.approx(28.60, abs=0.01)
    # its mass centre is (9 * 1.2 + 5 * 0.1) / 14 m up
    assert flat.lean_deg == pytest.approx(degrees(atan(0.25 * 14 / 11.3)), abs=1e-6)
    assert flat.faults == ("wind",)
    # a panel long to the wind catches more: 0.613 * 2^2 * 2.0 * 1.44 m2
    assert in_gust(2.0, width_m=0.6).wind_push_n == pytest.approx(7.06, abs=0.01)


@given(PANELS, rigs.numbers(0, 20), rigs.numbers(0.1, 3), rigs.numbers(0.01, 20))
def test_a_panel_that_is_ok_holds_one_and_a_half_times_the_wind(panel, bags_kg, height_m, gust):
    verdict = verdicts.judge_panel(panel, height_m, bags_kg, Place(indoors=False, gust_ms=gust))
    assert panel.foot_radius_m is not None
    holds = (panel.mass_kg + bags_kg) * 9.80665 * panel.foot_radius_m
    if verdict.ok:
        assert holds >= 1.5 * verdict.wind_push_n * height_m * (1 - 1e-9)


@given(PANELS, rigs.numbers(0.1, 3))
def test_the_bags_a_panel_needs_make_it_stand(panel: Panel, height_m: float) -> None:
    needed = verdicts.judge_panel(panel, height_m, 0.0, Place()).bags_needed_kg
    if needed is not None:
        assert verdicts.judge_panel(panel, height_m, needed + 1e-6, Place()).ok


def test_a_panel_without_known_feet_or_mass_is_never_ok() -> None:
    for place in (Place(), Place(indoors=False)):
        for missing in ({"foot_radius_m": None}, {"mass_kg": 0.0}):
            verdict = verdicts.judge_panel(a_panel(**missing), 1.2, 20.0, place)
            assert not verdict.ok
            assert verdict.wind is None
            assert next(iter(missing)) in panel_remedy(verdict)
    assert in_gust(0.0, foot_radius_m=None).faults == ("feet",)
    assert in_gust(0.0, foot_radius_m=None, mass_kg=0.0).faults == ("mass", "feet")


def test_nothing_tips_a_panel_that_lies_on_the_floor() -> None:
    lying = in_gust(30.0, height_m=0.0, foot_radius_m=None)
    assert (lying.ok, lying.wind, lying.lean_deg) == (True, None, None)
    assert panel_limit_text(lying) == "lies on the floor"


def test_the_panels_of_a_setup_are_judged_with_their_bags() -> None:
    placed = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=("B1", "B2"))
    setup = rigs.a_setup(rigs.a_light(), panels=(placed,))
    kit = rigs.a_kit(panels=(a_panel(),), bags=rigs.bags(2.0, 3.0))
    place = Place(indoors=False, gust_ms=10.0)
    assert verdicts.judge_panels(rigs.a_plan(setup, kit=kit, place=place), setup) == (in_gust(10.0),)


def test_there_is_a_wind_to_mind_outdoors_and_before_a_fan() -> None:
    assert [verdicts.has_wind(place) for place in (Place(), Place(indoors=False), Place(fan_ms=2.0))] == [
        False,
        True,
        True,
    ]


def test_the_panels_to_look_at_first() -> None:
    panels = (in_gust(0.0, 20.0, id="held"), in_gust(0.0), in_gust(0.0, id="odd", mass_kg=0.0))
    assert [each.panel for each in verdicts.panels_to_show(panels, Place(indoors=False))] == ["odd", "flat", "held"]
    assert [each.panel for each in verdicts.panels_to_show(panels, Place())] == ["odd"]


def test_a_panel_in_words() -> None:
    assert panel_state(in_gust(10.7)) == "NOT OK: wind"
    assert panel_state(in_gust(1.0)) == "ok"
    assert panel_lines(in_gust(10.7)) == (
        "take it down, or tie it",
        "tips at 17.2° of lean",
        "gusts of 10.7 m/s push it with 24.7 kgf at 1.2 m",
        "gust limit 3.0 m/s",
    )
    # in hands: 9 kg, 1.2 x 2.4 m; at 3 m/s a push of 19 N, under the weight of 3 kg, at 10.7 m/s far over it
    calm, windy = (
        verdicts.judge_panel(a_panel(), 1.2, 0.0, Place(indoors=False, gust_ms=gust), held_by="first")
        for gust in (3.0, 10.7)
    )
    assert (calm.faults, windy.faults) == ((), ("wind",))
    assert (panel_state(calm), panel_state(windy)) == (
        "held by first, no stand",
        "held by first, no stand, NOT OK: wind",
    )
    assert panel_lines(calm)[-1] == "first holds 9 kg; one person holds 3 kg for long"
    pounds = "; ".join(panel_lines(in_gust(10.7), "imperial"))
    assert "23.9 mph push it with 54.5 lbf at 3 ft 11 in" in pounds
    thin = in_gust(0.0, 0.0, foot_radius_m=0.15)
    assert thin.faults == ("lean",)
    assert panel_remedy(thin).startswith("hang 4.")


def opened(
    angle: float | None, bags_kg: float = 0.0, height_m: float = 1.2, gust: float = 0.0, **more: object
) -> verdicts.PanelVerdict:
    flat = a_panel(**({"wings": 2, "foot_radius_m": None} | more))
    return verdicts.judge_panel(flat, height_m, bags_kg, Place(indoors=False, gust_ms=gust), angle)


def test_a_pair_of_wings_stands_on_the_triangle_of_its_foot_lines() -> None:
    # by hand: the centre is 0.6 * cos 45 from the hinge along the bisector, 0.6 * cos 45 * sin 45 = 0.3 m from a foot
    # line and 0.6 * cos 45 = 0.42 m from the open side; 9 kg at 1.2 m
    flat = opened(90.0)
    assert flat.lean_deg == pytest.approx(degrees(atan(0.3 / 1.2)))
    assert flat.push_n == pytest.approx(9 * 9.80665 * 0.3 / 1.2)
    assert flat.ok


@given(rigs.numbers(0.0, 180.0), rigs.numbers(0.3, 2.0), rigs.numbers(0.5, 3.0))
def test_its_base_is_the_least_way_from_the_centre_to_an_edge_of_that_triangle(angle, width, height):
    flat = a_panel(width_m=width, height_m=height, wings=2)
    half = radians(angle / 2)
    ends = [(width * sin(half) * side, width * cos(half)) for side in (-1, 1)]
    centre = (0.0, width / 2 * cos(half))
    edges = [((0.0, 0.0), ends[0]), ((0.0, 0.0), ends[1]), (ends[0], ends[1])]
    least = min(off_line(centre, *edge) for edge in edges)
    assert verdicts.wings_base_m(flat, height / 2, angle) == pytest.approx(least, abs=1e-9)
    assert verdicts.wings_base_m(flat, height / 2 + 0.1, angle) == 0


def off_line(point: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> float:
    x, y = end[0] - start[0], end[1] - start[1]
    length = hypot(x, y)
    if not length:
        return hypot(point[0] - start[0], point[1] - start[1])
    return abs((point[0] - start[0]) * y - (point[1] - start[1]) * x) / length


@pytest.mark.parametrize(
    "more", [{"angle": 0.0}, {"angle": 180.0}, {"angle": 25.0}, {"angle": 90.0, "height_m": 1.4}, {"angle": None}]
)
def test_a_closed_flat_lifted_or_single_panel_without_feet_is_never_ok(more: dict[str, Any]) -> None:
    for bags_kg in (0.0, 20.0):
        verdict = opened(**more, bags_kg=bags_kg)
        assert not verdict.ok
        assert panel_remedy(verdict)


def test_bags_do_not_hold_a_pair_of_wings_but_its_own_feet_do() -> None:
    """A bag hangs on a line the pair can turn over."""
    thin = opened(25.0)
    assert (thin.faults, thin.bags_needed_kg) == (("lean",), None)
    assert "open it" in panel_remedy(thin)
    assert opened(90.0, bags_kg=7.0).push_n == pytest.approx(opened(90.0).push_n)
    on_feet = opened(25.0, foot_radius_m=0.25)
    assert on_feet.lean_deg == pytest.approx(degrees(atan(0.25 / 1.2)))
    assert on_feet.ok


@given(rigs.numbers(1.0, 179.0), rigs.numbers(0.0, 360.0))
def test_no_wind_meets_more_of_two_wings_than_is_reckoned(angle: float, wind_deg: float) -> None:
    normals = (radians(90 - angle / 2), radians(-90 + angle / 2))
    shown = sum(1.2 * 2.4 * abs(cos(radians(wind_deg) - normal)) for normal in normals)
    verdict = opened(angle, gust=5.0)
    assert verdict.wind_push_n >= 0.613 * 25 * 1.42 * shown * (1 - 1e-9)


REFLECTOR = Panel("R1", 1.2, 1.8, 0.8, mass_kg=2.5)
FLAG = Panel("flag", 0.6, 0.9, 0.0, mass_kg=0.9)


def held_setup(panel: Panel, held_by: str, height_m: float = 1.6, **more: Any) -> tuple[Plan, Setup]:
    setup = rigs.a_setup(panels=(PanelPlace(panel.id, "left", 30, 2.0, height_m, held_by=held_by, **more),))
    return rigs.a_plan(setup, kit=rigs.a_kit(panels=(panel,)), crew=(Crew("first"),)), setup


def test_a_reflector_on_a_stand_in_numbers() -> None:
    # by hand, moments as in docs/stands.md: 2.5 kg act 0.1 m in front of the column of 3.1 kg, at 1.6 m; its feet are
    # on a circle of 0.52 m, so an edge is 0.26 m away; the column acts at 35 % of 1.6 m
    verdict = verdict_of(REFLECTOR, "S1")
    assert (verdict.stand, verdict.head, verdict.carries) == ("S1", None, "R1")
    assert verdict.lean_deg == pytest.approx(degrees(atan2(0.26 * 5.6 - 0.25, 3.1 * 0.56 + 2.5 * 1.6)))
    assert verdict.lean_deg == pytest.approx(11.87, abs=0.01)
    assert verdict.push_n == pytest.approx((0.26 * 5.6 - 0.25) * 9.80665 / 1.6)
    assert (verdict.load_kg, verdict.factor, verdict.faults) == (pytest.approx(2.5), None, ())
    # F = 0.613 v2 Cd A: 1.2 x 2.16 m2 of panel, and 1.2 x 0.03 m x 0.8 m of column
    assert verdict.wind.tips == pytest.approx(sqrt(7.392 / (0.613 * (2.592 + 0.0288))), abs=1e-3)
    bagged = verdict_of(REFLECTOR, "S1", bags=("B1",))
    assert bagged.bags_kg == 7.0
    assert bagged.lean_deg == pytest.approx(degrees(atan2(0.26 * 12.6 - 0.25, 5.736 + 0.7)))


def verdict_of(panel: Panel, stand: str, **more: Any) -> verdicts.Verdict:
    (verdict,) = verdicts.judge_setup(*held_setup(panel, stand, **more))
    return verdict


def test_a_flag_on_a_boom_in_numbers() -> None:
    # a seesaw (College Physics, example 9.1) with a heavy plank: 0.9 kg at 1.6 m, and 1.6 kg of arm whose middle is
    # 0.4 m out, against the counterweight at 0.8 m: (1.44 + 0.64) / 0.8
    verdict = verdict_of(FLAG, "boom")
    assert verdict.counterweight_needed_kg == pytest.approx(2.6)
    assert verdict.load_kg == pytest.approx(0.9 + 1.6 + 6.0)
    assert "balance" in verdict.faults


def test_two_wings_on_a_stand_pull_half_a_wing_further() -> None:
    wings = replace(REFLECTOR, wings=2)
    near, far = (verdict_of(panel, "S1", open_deg=angle) for panel, angle in ((REFLECTOR, None), (wings, 60.0)))
    # the stand's mass centre goes out by 2.5 kg x 0.6 m x cos 30 deg over 5.6 kg
    assert near.push_n - far.push_n == pytest.approx(2.5 * 0.6 * cos(radians(30)) * 9.80665 / 1.6)


def test_a_held_panel_has_no_figures_of_its_own_and_says_what_holds_it() -> None:
    for holder, state in (("S1", "on S1"), ("first", "held by first, no stand")):
        (panel,) = verdicts.judge_panels(*held_setup(REFLECTOR, holder))
        assert (panel.lean_deg, panel.wind, panel_state(panel)) == (None, None, state)
        # the one on a stand is there with its stand
        assert verdicts.panels_to_show((panel,), Place(indoors=False)) == ((panel,) if holder == "first" else ())
    assert verdicts.judge_setup(*held_setup(REFLECTOR, "first")) == ()
