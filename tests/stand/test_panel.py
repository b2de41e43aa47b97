from __future__ import annotations

from math import inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.plan.day import Place
from runbook.plan.kit import Panel
from runbook.plan.setup import PanelPlace
from runbook.stand.panel import PanelVerdict, is_blown, judge_panel, judge_panels, soonest_over
from runbook.stand.panel_words import asks_of_panels, panel_words
from tests.stand.rigs import a_kit, a_light, a_plan, a_setup, bags, numbers


def a_panel(**more: object) -> Panel:
    values: dict[str, object] = {
        "id": "flat",
        "width_m": 1.2,
        "height_m": 2.4,
        "reflectance": 0.85,
        "mass_kg": 9.0,
    }
    return Panel(**(values | more))  # type: ignore[arg-type]


def in_gust(
    gust: float, bags_kg: float = 5.0, height_m: float = 1.2, **more: object
) -> PanelVerdict:
    return judge_panel(a_panel(**more), height_m, bags_kg, Place(indoors=False, gust_ms=gust))


PANELS = st.builds(
    lambda width, height, mass: a_panel(width_m=width, height_m=height, mass_kg=mass),
    numbers(0.3, 3),
    numbers(0.3, 3),
    numbers(0.5, 20),
)


def test_what_a_v_flat_can_hold_at_the_most() -> None:
    # by hand: 14 kg at 1.2 m hold 164.75 N m, so 137.29 N at the middle 1.2 m up, and
    # v = sqrt(137.29 / (0.613 * 1.2 * 2.88)) = 8.05 m/s; at 10 m/s it is pushed with 211.9 N
    flat = in_gust(10.0)
    assert flat.push_n == pytest.approx(211.9, abs=0.05)
    assert flat.over_ms == pytest.approx(8.050, abs=1e-3)
    assert flat.likely_ms == pytest.approx(8.050 / sqrt(2), abs=1e-3)


def test_the_fate_of_a_panel_by_the_gust() -> None:
    # past 8.05 it goes, past 5.69 it may, from 60 % of that, 3.42, it is watched
    gusts = (3.4, 3.5, 5.6, 5.8, 8.0, 8.1)
    assert [in_gust(gust).fate for gust in gusts] == [
        "ok",
        "watch",
        "watch",
        "may go over",
        "may go over",
        "goes over",
    ]
    assert [in_gust(gust).ok for gust in (8.0, 8.1)] == [True, False]


@given(PANELS, numbers(0, 20), numbers(0.1, 3), numbers(0.1, 1), numbers(0, 1.5))
def test_no_feet_inside_its_width_hold_what_is_past_the_bound(
    panel: Panel, bags_kg: float, height_m: float, of_width: float, over_by: float
) -> None:
    """Moments about any edge that its weight is no further from than its width."""
    over = judge_panel(panel, height_m, bags_kg, Place()).over_ms
    assert over is not None
    windy = judge_panel(panel, height_m, bags_kg, Place(indoors=False, gust_ms=over + over_by))
    turns = windy.push_n * height_m
    holds = (panel.mass_kg + bags_kg) * 9.80665 * of_width * panel.width_m
    assert turns >= holds * (1 - 1e-9)
    assert windy.fate == ("goes over" if over_by else "may go over")


@given(PANELS, numbers(0, 10), numbers(0.1, 3), numbers(0.1, 10))
def test_a_bag_more_never_makes_it_go_sooner(
    panel: Panel, bags_kg: float, height_m: float, more: float
) -> None:
    before = judge_panel(panel, height_m, bags_kg, Place()).over_ms
    after = judge_panel(panel, height_m, bags_kg + more, Place()).over_ms
    assert before is not None
    assert after is not None
    assert after > before


def test_lying_on_the_floor_or_unweighed_it_has_no_figure() -> None:
    assert in_gust(30.0, height_m=0.0).over_ms == in_gust(30.0, height_m=0.0).likely_ms == inf
    assert in_gust(30.0, height_m=0.0).fate == "ok"
    unknown = in_gust(2.0, mass_kg=0.0)
    assert (unknown.over_ms, unknown.fate) == (None, "may go over")
    assert in_gust(1.5, mass_kg=0.0).fate == "ok"


def test_the_panels_of_a_setup_are_judged_with_their_bags() -> None:
    placed = PanelPlace("flat", "left", 80, 0.8, 1.2, bags=("B1", "B2"))
    setup = a_setup(a_light(), panels=(placed,))
    kit = a_kit(panels=(a_panel(),), bags=bags(2.0, 3.0))
    place = Place(indoors=False, gust_ms=10.0)
    assert judge_panels(a_plan(setup, kit=kit, place=place), setup) == (in_gust(10.0),)


def test_there_is_a_wind_to_mind_outdoors_and_before_a_fan() -> None:
    assert [is_blown(place) for place in (Place(), Place(indoors=False), Place(fan_ms=2.0))] == [
        False,
        True,
        True,
    ]


def test_the_first_to_go_is_named_first_and_those_alike_together() -> None:
    panels = (
        in_gust(10.7),
        in_gust(10.7, id="two"),
        in_gust(10.7, 0.0, id="bare"),
        in_gust(10.7, 20.0, id="held"),
        in_gust(10.7, mass_kg=0.0, id="odd"),
        in_gust(10.7, 60.0, id="sunk"),
    )
    assert [each.panel for each in soonest_over(panels)] == [
        "odd",
        "bare",
        "flat",
        "two",
        "held",
        "sunk",
    ]
    assert asks_of_panels(panels) == (
        (
            "bare (goes over for certain past 6.5 m/s) take down first, now",
            "flat, two (goes over for certain past 8.1 m/s) take down also, now",
        ),
        (
            "odd (its mass is not in the kit) a person on it, or down",
            "held (goes over for certain past 11.6 m/s) a person on it, or down",
            "sunk (goes over for certain past 17.9 m/s) watched",
        ),
    )


def test_all_there_is_to_say_of_a_panel() -> None:
    assert panel_words(in_gust(10.7)) == (
        "take it down first",
        "10.7 m/s push it with 243 N, 24.7 kgf, 1.2 m up",
        "goes over for certain past 8.1 m/s, were its 9 kg and 5 kg of bags a whole width, 1.2 m, "
        "from the edge it turns over",
        "its feet are not in the plan: over the middle of feet 1.2 m deep it goes past 5.7 m/s",
    )
    pounds = "; ".join(panel_words(in_gust(10.7), "imperial"))
    assert "23.9 mph push it with 54.5 lbf, 3 ft 11 in up" in pounds
    assert "past 18.0 mph, were its 19.8 lb and 11 lb of bags" in pounds
    assert panel_words(in_gust(2.0, height_m=0.0))[-1] == "it lies on the floor"
    assert "weigh it, and write mass_kg" in "; ".join(panel_words(in_gust(2.0, mass_kg=0.0)))
