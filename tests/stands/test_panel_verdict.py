from __future__ import annotations

from math import atan, degrees, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.day import Place
from runbook.model.kit import Panel
from runbook.model.setup import PanelPlace
from runbook.stands.remedy import panel_lines, panel_remedy
from runbook.stands.verdict import PanelVerdict, has_wind, judge_panel, judge_panels, panels_to_show
from runbook.stands.verdict_text import panel_limit_text, panel_state
from tests.stands.rigs import a_kit, a_light, a_plan, a_setup, bags, numbers


def a_panel(**more: object) -> Panel:
    values: dict[str, object] = {
        "id": "flat",
        "width_m": 1.2,
        "height_m": 2.4,
        "reflectance": 0.85,
        "mass_kg": 9.0,
        "foot_radius_m": 0.25,
    }
    return Panel(**(values | more))  # type: ignore[arg-type]


def in_gust(gust: float, bags_kg: float = 5.0, height_m: float = 1.2, **more: object) -> PanelVerdict:
    return judge_panel(a_panel(**more), height_m, bags_kg, Place(indoors=False, gust_ms=gust))


PANELS = st.builds(
    lambda width, height, mass, feet: a_panel(width_m=width, height_m=height, mass_kg=mass, foot_radius_m=feet),
    numbers(0.3, 3),
    numbers(0.3, 3),
    numbers(0.5, 20),
    numbers(0.1, 0.8),
)


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


def test_panels_and_stands_carry_the_same_factor() -> None:
    panel = in_gust(1.0).wind
    assert panel is not None
    assert (panel.tips / panel.limit) ** 2 == pytest.approx(1.5)
    assert [in_gust(gust).ok for gust in (2.9, 3.1)] == [True, False]


@given(PANELS, numbers(0, 20), numbers(0.1, 3), numbers(0.01, 20))
def test_a_panel_that_is_ok_holds_one_and_a_half_times_the_wind(
    panel: Panel, bags_kg: float, height_m: float, gust: float
) -> None:
    verdict = judge_panel(panel, height_m, bags_kg, Place(indoors=False, gust_ms=gust))
    assert panel.foot_radius_m is not None
    holds = (panel.mass_kg + bags_kg) * 9.80665 * panel.foot_radius_m
    if verdict.ok:
        assert holds >= 1.5 * verdict.wind_push_n * height_m * (1 - 1e-9)


@given(PANELS, numbers(0, 10), numbers(0.1, 3), numbers(0.1, 10))
def test_a_bag_more_never_makes_a_panel_go_sooner(panel: Panel, bags_kg: float, height_m: float, more: float) -> None:
    before = judge_panel(panel, height_m, bags_kg, Place())
    after = judge_panel(panel, height_m, bags_kg + more, Place())
    assert before.wind is not None
    assert after.wind is not None
    assert after.wind.limit > before.wind.limit


@given(PANELS, numbers(0.1, 3))
def test_the_bags_a_panel_needs_make_it_stand(panel: Panel, height_m: float) -> None:
    needed = judge_panel(panel, height_m, 0.0, Place()).bags_needed_kg
    if needed is not None:
        assert judge_panel(panel, height_m, needed + 1e-6, Place()).ok


def test_a_panel_without_known_feet_or_mass_is_never_ok() -> None:
    for place in (Place(), Place(indoors=False)):
        for missing in ({"foot_radius_m": None}, {"mass_kg": 0.0}):
            verdict = judge_panel(a_panel(**missing), 1.2, 20.0, place)
            assert not verdict.ok
            assert verdict.wind is None
            assert next(iter(missing)) in panel_remedy(verdict)
    assert in_gust(0.0, foot_radius_m=None).faults == ("feet",)
    assert in_gust(0.0, foot_radius_m=None, mass_kg=0.0).faults == ("mass", "feet")


def test_nothing_tips_a_panel_that_lies_on_the_floor() -> None:
    lying = in_gust(30.0, height_m=0.0, foot_radius_m=None)
    assert (lying.ok, lying.wind, lying.lean_deg) == (True, None, None)
    assert panel_limit_text(lying) == "lies on the floor"


def test_a_panel_long_to_the_wind_catches_more() -> None:
    # 0.613 * 2^2 * 2.0 * 1.44 m2
    assert in_gust(2.0, width_m=0.6).wind_push_n == pytest.approx(7.06, abs=0.01)


def test_the_panels_of_a_setup_are_judged_with_their_bags() -> None:
    placed = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=("B1", "B2"))
    setup = a_setup(a_light(), panels=(placed,))
    kit = a_kit(panels=(a_panel(),), bags=bags(2.0, 3.0))
    place = Place(indoors=False, gust_ms=10.0)
    assert judge_panels(a_plan(setup, kit=kit, place=place), setup) == (in_gust(10.0),)


def test_there_is_a_wind_to_mind_outdoors_and_before_a_fan() -> None:
    assert [has_wind(place) for place in (Place(), Place(indoors=False), Place(fan_ms=2.0))] == [False, True, True]


def test_the_panels_to_look_at_first() -> None:
    panels = (in_gust(0.0, 20.0, id="held"), in_gust(0.0), in_gust(0.0, id="odd", mass_kg=0.0))
    assert [each.panel for each in panels_to_show(panels, Place(indoors=False))] == ["odd", "flat", "held"]
    assert [each.panel for each in panels_to_show(panels, Place())] == ["odd"]


def test_a_panel_in_words() -> None:
    assert panel_state(in_gust(10.7)) == "NOT OK: wind"
    assert panel_state(in_gust(1.0)) == "ok"
    assert panel_lines(in_gust(10.7)) == (
        "take it down, or tie it",
        "tips at 17.2° of lean",
        "gusts of 10.7 m/s push it with 24.7 kgf at 1.2 m",
        "gust limit 3.0 m/s",
    )
    pounds = "; ".join(panel_lines(in_gust(10.7), "imperial"))
    assert "23.9 mph push it with 54.5 lbf at 3 ft 11 in" in pounds
    thin = in_gust(0.0, 0.0, foot_radius_m=0.15)
    assert thin.faults == ("lean",)
    assert panel_remedy(thin).startswith("hang 4.")
