"""What is printed agrees with the plan, the predictions, the verdicts and the changeovers."""

from dataclasses import replace

from runbook.day.changeovers import Changeovers
from runbook.day.kit_list import kit_list
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.reports.day_page import day_page
from tests.day.days import demo, short
from tests.reports.pages import headings, pairs, rows, setup_sheets, sheets, ticks, warnings


def in_wind(plan: Plan, gust_ms: float) -> Plan:
    place = replace(plan.day.place, indoors=False, wind_ms=2.0, gust_ms=gust_ms)
    return replace(plan, day=replace(plan.day, place=place))


def imperial(plan: Plan) -> Plan:
    return replace(plan, day=replace(plan.day, units="imperial"))


def first_changed(plan: Plan, **changed: object) -> Plan:
    """The lights of the first setup changed."""
    setup = plan.order[0]
    lights = tuple(replace(light, **changed) for light in setup.lights)  # type: ignore[arg-type]
    return replace(plan, setups=plan.setups | {setup.id: replace(setup, lights=lights)})


def test_every_setup_has_its_heads_with_powers_and_predicted_readings() -> None:
    plan = demo()
    lights = [predict(plan, setup) for setup in plan.order]
    for sheet, setup, light in zip(setup_sheets(plan), plan.order, lights, strict=True):
        assert headings(sheet)[0] == f"{setup.id}: {setup.title}"
        heads = rows(sheet, "head")
        assert [(row["head"], row["power"]) for row in heads] == [(each.head, str(each.power)) for each in setup.lights]
        assert [row["reads"] for row in heads] == [
            "" if each.reads_stops is None else meter_text(each.reads_stops) for each in light.heads
        ]


def test_every_step_of_every_changeover_is_there_with_who_does_it() -> None:
    plan = demo()
    for sheet, change in zip(list(sheets(day_page(plan)))[3:], Changeovers(plan).all, strict=True):
        lines = ticks(sheet)[: len(change.steps)]  # on the last sheet the kit follows
        crew = {each.step.n: each.crew for each in change.shared}
        assert [text for text, _ in lines] == [step.text for step in change.steps]
        for (_, note), step in zip(lines, change.steps, strict=True):
            assert len(crew[step.n]) == step.hands
            assert note.startswith(" + ".join(crew[step.n]))


def test_a_stand_that_is_not_stable_comes_first_with_what_it_needs_and_a_warning() -> None:
    plan = short("keeper-window")
    (sheet,) = setup_sheets(first_changed(plan, bags=()))
    worst = rows(sheet, "stand")[0]
    assert worst["stand"] == "S1"
    assert worst["note"].startswith("NOT OK: ") and "needs" in worst["note"]
    assert any("S1" in text for text in warnings(sheet))
    (sheet,) = setup_sheets(plan)
    assert rows(sheet, "stand")[0]["note"] == "ok"


def test_lengths_masses_and_speeds_are_in_the_units_of_the_day() -> None:
    plan = in_wind(short("keeper-window"), 3.5)
    metric, feet = (setup_sheets(each)[0] for each in (plan, imperial(plan)))
    assert rows(feet, "head")[0]["height"] == "6 ft 7 in"
    one, other = rows(metric, "stand")[0], rows(feet, "stand")[0]
    assert (one["stand"], other["stand"]) == ("S1", "S1")
    # by hand, to the tenth: 3.7 kg 8.16 lb, 9 kg 19.84 lb, 7 kg 15.43 lb
    assert (one["load"], other["load"]) == ("3.7 kg of 9 kg", "8.2 lb of 19.8 lb")
    assert (one["push"], other["push"]) == ("1.6 kgf", "3.5 lbf")
    assert (one["bags"], other["bags"]) == ("B1: 7 kg, at the column", "B1: 15.4 lb, at the column")
    assert "gust limit 4.6 m/s" in one["note"]
    assert "gust limit 10.3 mph" in other["note"]
    places = [pairs(next(sheets(day_page(each))))["place"] for each in (plan, imperial(plan))]
    assert places[0].startswith("outdoors, wind 2 m/s, gusts 3.5 m/s, 60 lux; ")
    assert places[0].endswith("reach 1.9 m, carried up to 2.5 m")
    assert places[1].startswith("outdoors, wind 4.5 mph, gusts 7.8 mph, 60 lux; ")
    assert places[1].endswith("reach 6 ft 3 in, carried up to 8 ft 2 in")


def test_a_panel_shows_its_gust_limit_outdoors_only() -> None:
    plan = short("keeper-window")
    windy = in_wind(plan, 3.5)
    notes = [rows(setup_sheets(each)[0], "panel")[0]["note"] for each in (windy, imperial(windy), plan)]
    # by hand: 14 kg on 0.25 m tip at 3.675 m/s; with 1.5 in hand 3.0 m/s, which is 6.7 mph
    assert notes == ["NOT OK: wind, gust limit 3.0 m/s", "NOT OK: wind, gust limit 6.7 mph", ""]


def test_the_kit_to_pack_is_the_whole_kit_once() -> None:
    plan = short("keeper-window")
    kit_sheet = list(sheets(day_page(plan)))[1]
    labels = [label for _, note in ticks(kit_sheet) for label in note.split(", ")]
    assert sorted(labels) == sorted(label for line in kit_list(plan) for label in line.ids)


def test_a_changeover_is_timed_for_the_crew_and_for_one_where_one_can_do_it() -> None:
    plan = short("keeper-window", "keeper-lamp")

    def summaries(crew: int) -> list[str]:
        people = tuple(replace(plan.day.crew[0], id=f"c{n}") for n in range(crew))
        pages = setup_sheets(replace(plan, day=replace(plan.day, crew=people)))
        return [headings(sheet)[1].split(": ", 1)[1] for sheet in pages]

    first, boom = summaries(3)
    assert first.startswith("24 steps, about ") and " shared over 3, " in first and first.endswith(" alone")
    assert boom.endswith(" shared over 3; 2 people needed")
    alone = summaries(1)[1]
    assert alone.endswith("; 2 people needed") and "shared" not in alone
    assert " shared over 6;" in summaries(8)[1]  # no schedule is shared over more


def test_a_sheet_says_which_legs_carry_the_bags_and_how_they_are_turned() -> None:
    (sheet,) = setup_sheets(first_changed(short("keeper-window"), bags_at="far legs"))
    stand = rows(sheet, "stand")[0]
    assert stand["bags"].endswith("on the leg straight away from the load")
    assert "one leg straight away from the load" in stand["note"]
