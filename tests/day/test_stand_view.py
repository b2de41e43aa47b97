"""What really stands, judged, and what to say of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day.day_audit import problems_of
from runbook.day.stand_facts import stand_row
from runbook.day.stand_view import StandsView, stands_view
from runbook.model.day import Plan
from runbook.model.units import Units
from runbook.stands.verdict import judge_setup
from runbook.stands.verdict_text import bags_needed_text
from tests.day.days import begun, demo, do_next, do_until, make_ready, refused
from tests.reports.pages import rows, setup_sheets


def state(now: StandsView, stand: str) -> str:
    return next(each.state for each in now.stands if each.verdict.stand == stand)


def words(now: StandsView, stand: str) -> str:
    return "; ".join(next(each.words for each in now.stands if each.verdict.stand == stand))


def outdoors() -> Plan:
    plan = demo()
    return replace(plan, day=replace(plan.day, place=replace(plan.day.place, indoors=False)))


def without_bags(plan: Plan, bags: int) -> Plan:
    """The first setup with no bag in it, and a kit of so many."""
    first = plan.setups[plan.day.order[0]]
    bare = replace(first, lights=tuple(replace(light, bags=()) for light in first.lights))
    kit = replace(plan.kit, bags=plan.kit.bags[:bags])
    return replace(plan, kit=kit, setups=plan.setups | {first.id: bare})


def test_before_load_in_it_is_the_plan_that_comes() -> None:
    now = stands_view(begun().view)
    assert now.title == "stands, as planned for keeper-window"
    assert [each.state for each in now.stands] == ["ok", "ok"]
    assert now.wind == ()


def test_mid_changeover_it_is_what_stands_there() -> None:
    session = begun()
    session.begin("keeper-window")
    do_until(session, "place", "stand", "S1")
    do_next(session)
    now = stands_view(session.view)
    assert now.title == "stands, as they stand now"
    assert [each.verdict.stand for each in now.stands] == ["S1"]
    assert now.stands[0].verdict.head is None
    do_until(session, "raise", "stand", "S1")
    heads = {each.verdict.stand: each.verdict.head for each in stands_view(session.view).stands}
    assert heads["S1"] == "A"


def test_a_stand_somebody_holds_is_said_to_be_in_hands_and_why() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    seen = set[str]()
    while session.view.next_step is not None:
        floor = session.state.real_floor
        now = stands_view(session.view)
        assert {e.verdict.stand for e in now.stands if e.in_hands} == floor.in_hands
        seen |= floor.in_hands
        for stand in floor.in_hands:
            assert state(now, stand) == "in hands"
            assert words(now, stand).startswith(f"in hands: {stand} ")
        if not do_next(session):
            break
    assert "boom" in seen


def test_what_to_hang_where_and_what_it_makes_of_the_push() -> None:
    plan = without_bags(demo(), 9)
    now = stands_view(begun(plan).view)
    said = words(now, "S1")
    assert state(now, "S1") == "NOT OK: lean"
    assert "needed" in said
    assert "; with B" in said
    assert "hang at the column, off the floor" in said


def lit_by(plan: Plan, **changed: object) -> Plan:
    """The first setup with its first light changed."""
    first = plan.setups[plan.day.order[0]]
    lights = (replace(first.lights[0], **changed), *first.lights[1:])  # type: ignore[arg-type]
    return replace(plan, setups=plan.setups | {first.id: replace(first, lights=lights)})


def light_bag(plan: Plan, mass_kg: float) -> Plan:
    """A kit that has one bag of that mass, free, besides its own."""
    spare = replace(plan.kit.bags[0], id="small", mass_kg=mass_kg)
    return replace(plan, kit=replace(plan.kit, bags=(spare, *plan.kit.bags)))


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize(
    ("at", "tilt_deg"),
    [
        *(("column", tilt_deg) for tilt_deg in (9.3, 10.0, 11.3, 11.9, 12.4)),
        *(("far legs", tilt_deg) for tilt_deg in (9.3, 10.0, 10.7, 11.1)),
    ],
)
def test_check_stands_sheet_and_screen_want_the_same_mass_in_the_same_place(
    at: str, tilt_deg: float, units: Units
) -> None:
    plan = lit_by(demo(), bags=(), bags_at=at)
    place = replace(plan.day.place, tilt_limit_deg=tilt_deg)
    plan = replace(plan, day=replace(plan.day, place=place, units=units))
    setup = plan.setups[plan.day.order[0]]
    verdict = next(each for each in judge_setup(plan, setup) if each.stand == "S1")
    assert verdict.bags_needed_kg is not None
    # a free bag that is enough and not too much
    plan = light_bag(plan, verdict.bags_needed_kg + 0.01)
    wanted = bags_needed_text(verdict, units)
    # never under what is needed: the least said, in its unit, back in kilograms
    unit_kg = 1.0 if units == "metric" else 0.45359237
    least = float(wanted.split()[0])
    assert verdict.bags_needed_kg <= least * unit_kg + 1e-6 < verdict.bags_needed_kg + 0.1 * unit_kg
    assert stand_row(verdict, units)[5].endswith(f" of {wanted}")
    (problem,) = (
        each for each in problems_of(plan) if (each.code, each.setup, each.item) == ("stand-tips", setup.id, "S1")
    )
    assert f"({wanted} needed)" in problem.do
    assert problem.do.startswith("hang small (")
    printed = next(row for row in rows(setup_sheets(plan)[0], "stand") if row["stand"] == "S1")
    assert f"needs {wanted} at the {at}" in printed["note"]
    now = words(stands_view(begun(plan).view), "S1")
    assert f"{wanted} needed at the {at};" in now
    assert ("leg straight away from the load" in now) == (at == "far legs")
    assert (": hang at the column" in now) == (at == "column")


def test_on_its_way_up_a_stand_wants_its_bags_where_the_plan_hangs_them() -> None:
    session = begun(lit_by(demo(), bags=(), bags_at="far legs"))
    session.begin("keeper-window")
    do_until(session, "fit", "modifier", "octa-90")
    do_next(session)
    do_until(session, "raise", "stand", "S1")
    do_next(session)
    now = words(stands_view(session.view), "S1")
    assert "kg needed at the far legs" in now
    assert "at the column;" not in now


def test_bags_too_heavy_for_the_far_legs_are_hung_at_the_column() -> None:
    plan = lit_by(demo(), bags=(), bags_at="far legs")
    only = tuple(bag for bag in plan.kit.bags if bag.mass_kg == 7.0)
    panels = {name: replace(each, panels=()) for name, each in plan.setups.items()}
    plan = replace(plan, setups=panels, kit=replace(plan.kit, bags=only))
    setup = plan.setups[plan.day.order[0]]
    verdict = next(each for each in judge_setup(plan, setup) if each.stand == "S1")
    assert verdict.bags_most_kg is not None
    assert verdict.bags_most_kg < 7.0
    now = words(stands_view(begun(plan).view), "S1")
    assert f"{bags_needed_text(verdict)} needed at the far legs" in now
    assert "; with B1 (7 kg) 1.6 kgf; " in now
    assert "B1: hang at the column, off the floor" in now


def test_no_bag_is_promised_twice() -> None:
    plan = without_bags(demo(), 1)
    (bag,) = plan.kit.bags
    first = plan.setups[plan.day.order[0]]
    boxed = tuple(
        replace(light, modifier=box, height_m=1.8)
        for light, box in zip(first.lights, ("octa-90", "umbrella-105"), strict=True)
    )
    plan = replace(plan, setups=plan.setups | {first.id: replace(first, lights=boxed)})
    kit = replace(
        plan.kit,
        modifiers=tuple(
            each if each.is_nothing else replace(each, mass_kg=3.0, depth_m=0.6) for each in plan.kit.modifiers
        ),
        stands=tuple(replace(each, load_max_kg=30.0, foot_radius_m=0.4) for each in plan.kit.stands),
    )
    now = stands_view(begun(replace(plan, kit=kit)).view)
    wrong = [each for each in now.stands if not each.verdict.ok]
    assert len(wrong) == 2
    assert sum(any(bag.id in line for line in each.words) for each in wrong) == 1
    assert any("kg missing after the free bags: lower it or lighten it" in line for e in wrong for line in e.words)
    pounds = stands_view(begun(replace(plan, kit=kit, day=replace(plan.day, units="imperial"))).view)
    lines = [line for each in pounds.stands for line in each.words]
    assert any("lb missing after the free bags: lower it or lighten it" in line for line in lines)
    assert not any("kg" in line for line in lines)


def test_the_worst_comes_first() -> None:
    session = begun()
    make_ready(session, "keeper-lamp")
    leans = [each.verdict.lean_deg for each in stands_view(session.view).stands]
    assert leans == sorted(leans)
    assert "balanced: counterweight 6 kg" in words(stands_view(session.view), "boom")


def test_a_wind_is_kept_in_the_journal_and_undone_like_the_rest() -> None:
    session = begun(outdoors())
    assert stands_view(session.view).wind == ()
    session.wind(6.0)
    assert session.view.place.gust_ms == 6.0
    now = stands_view(session.view)
    assert now.wind[0].startswith("gusts 6.0 m/s, force 4, moderate breeze, entered ")
    assert now.wind[1] == "flat-1 (limit 3.0 m/s): take it down first, now"
    assert now.wind[2] == "S1 (limit 4.6 m/s): take it down now"
    assert state(now, "S1") == "NOT OK: wind"
    session.note("clouds")
    session.wind(1.0)
    assert stands_view(session.view).wind[1] == "nothing needs lowering"
    session.undo()
    assert stands_view(session.view).wind[0].startswith("gusts 6.0 m/s")


def test_the_steps_ask_for_hands_in_the_wind_that_was_said() -> None:
    plan = outdoors()
    session = begun(plan)
    make_ready(session, "keeper-window")
    session.begin(None)
    calm = [step for step in session.view.todo if step.held == "S1"]
    session.wind(12.0)
    windy = [step for step in session.view.todo if step.held == "S1"]
    assert [step.grip for step in calm] == []
    assert windy[0].grip == "take"
    session.undo()
    assert [step for step in session.view.todo if step.held == "S1"] == calm


def test_the_largest_sails_are_named_first_in_a_wind_that_takes_them() -> None:
    session = begun(outdoors())
    session.wind(10.7)
    now = stands_view(session.view)
    assert now.title == "stands and panels, as planned for keeper-window"
    (flat,) = now.panels
    assert (flat.name, flat.state, flat.fine) == ("flat-1", "NOT OK: wind", False)
    assert now.wind[1] == "flat-1 (limit 3.0 m/s): take it down first, now"
    assert now.wind[2] == "S1 (limit 4.6 m/s): take it down now"
    assert [each.name for each in now.rows] == ["flat-1", "S1", "S2"]
    assert flat.figures("metric")[5:7] == ("5 kg", "3.0 m/s")
    session.wind(2.9)
    now = stands_view(session.view)
    assert [(each.name, each.state) for each in now.rows] == [("flat-1", "ok"), ("S1", "ok"), ("S2", "ok")]
    assert now.wind[1:] == (
        "flat-1 (limit 3.0 m/s): put a person on it, or take it down",
        "S1 (limit 4.6 m/s): watch it",
    )


def test_only_a_panel_that_stands_is_told_and_with_the_bags_it_has() -> None:
    session = begun(outdoors())
    session.begin("keeper-window")
    session.wind(2.7)
    do_until(session, "place", "stand", "S1")
    do_next(session)
    assert stands_view(session.view).panels == ()
    do_until(session, "place", "panel", "flat-1")
    do_next(session)
    (flat,) = stands_view(session.view).panels
    # by hand: 9 kg alone hold up to 3.00 * sqrt(9 / 14) = 2.41 m/s
    assert (flat.verdict.bags_kg, flat.state) == (0.0, "NOT OK: wind")
    do_until(session, "bag", "bag", "B7")
    do_next(session)
    (flat,) = stands_view(session.view).panels
    assert (flat.verdict.bags_kg, flat.state) == (5.0, "ok")


def test_a_note_about_wind_leaves_the_planned_gusts() -> None:
    place = replace(outdoors().day.place, gust_ms=9.0)
    session = begun(replace(outdoors(), day=replace(outdoors().day, place=place)))
    before = stands_view(session.view)
    assert before.wind[1].startswith("flat-1")
    assert state(before, "S1") == "NOT OK: wind"
    session.note("wind: gusts of 1 m/s at most, says the porter for tomorrow")
    assert session.view.place == place
    assert stands_view(session.view) == before


@given(words=st.text(max_size=40), gust=st.floats(0, 100))
def test_no_note_sets_the_wind(words: str, gust: float) -> None:
    session = begun(outdoors())
    session.wind(6.0)
    for note in (f"wind: gusts of {gust:g} m/s{words}", f"{words} wind {gust:g}", f"n{words}"):
        session.note(note)
    assert session.view.place.gust_ms == 6.0


@pytest.mark.parametrize("gust", [-0.1, 100.1, math.inf, math.nan])
def test_a_wind_out_of_bounds_is_not_recorded(gust: float) -> None:
    session = begun(outdoors())
    with pytest.raises(ValueError, match=r"wind: gust_ms|JSON"):
        session.wind(gust)
    assert session.state.wind is None
    assert not session.entries


def test_a_wind_is_shown_in_the_units_of_the_day() -> None:
    plan = outdoors()
    session = begun(replace(plan, day=replace(plan.day, units="imperial")))
    assert session.wind(6.0) == "gusts 13.4 mph, force 4, moderate breeze"
    assert session.view.log_lines[-1].text == "wind: gusts 13.4 mph, force 4, moderate breeze"
    assert session.entries[-1].facts()["gust_ms"] == 6.0


def test_indoors_no_wind_counts() -> None:
    session = begun(outdoors())
    session.wind(9.0)
    session.replan(demo())
    assert session.view.place == demo().day.place
    assert stands_view(session.view).wind == ()
    assert stands_view(session.view).panels == ()
    assert refused(session.wind, 9.0).startswith("no wind indoors")


def test_after_the_wrap_nothing_stands() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    make_ready(session, None)
    now = stands_view(session.view)
    assert now.stands == ()
    assert now.title == "stands, as they stand now"
