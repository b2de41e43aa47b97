"""What is printed says what the screens and commands say, once, for every setup of the day."""

from dataclasses import replace

from runbook.day.changeovers import all_changes, share
from runbook.day.light import predictions
from runbook.files.validate import plain
from runbook.light.stops import meter_text
from runbook.reports.document import change_facts, day_facts, totals
from tests.day.days import demo, short


def test_every_setup_has_its_heads_as_planned_with_their_predicted_readings() -> None:
    plan = demo()
    facts = day_facts(plan)
    assert [each.id for each in facts.setups] == list(plan.day.order)
    for told, light in zip(facts.setups, predictions(plan, plan.order), strict=True):
        setup = plan.setups[told.id]
        assert [(h.head, h.power) for h in told.heads] == [(each.head, str(each.power)) for each in setup.lights]
        assert [h.reads for h in told.heads] == [
            "" if each.reads_stops is None else meter_text(each.reads_stops) for each in light.heads
        ]


def test_every_step_of_every_changeover_is_there_with_who_does_it() -> None:
    plan = demo()
    facts = day_facts(plan)
    changes = [each.change for each in facts.setups] + [facts.wrap]
    for told, planned in zip(changes, all_changes(plan), strict=True):
        steps = [step for block in told.blocks for step in block.steps]
        assert [step.text for step in steps] == [step.text for step in planned.steps]
        crew = {each.step.n: each.crew for each in share(planned.steps, plan).steps}
        assert [step.crew for step in steps] == [crew[step.n] for step in planned.steps]
        assert all(len(step.crew) == step.hands for step in steps)


def test_a_stand_that_is_not_all_right_says_so_and_so_does_the_setup() -> None:
    plan = short("keeper-window")
    setup = plan.setups["keeper-window"]
    lights = tuple(replace(light, bags=()) for light in setup.lights)
    bare = replace(plan, setups=plan.setups | {setup.id: replace(setup, lights=lights)})
    told = day_facts(bare).setups[0]
    worst = told.stands[0]
    assert worst.stand == "S1"
    assert worst.said.startswith("NOT OK: ")
    assert "needs" in worst.said
    assert any("S1" in problem for problem in told.problems)
    assert day_facts(plan).setups[0].stands[0].said == "ok"


def test_imperial_days_are_told_in_feet_and_pounds() -> None:
    plan = short("keeper-window")
    imperial = replace(plan, day=replace(plan.day, units="imperial"))
    told = day_facts(imperial).setups[0]
    assert told.heads[0].height == "6 ft 7 in"
    assert " m" not in told.heads[0].place
    assert "lb" in told.stands[0].load


def test_a_row_of_a_stand_and_the_line_of_the_place_are_in_one_system() -> None:
    plan = short("keeper-window")
    place = replace(plan.day.place, indoors=False, wind_ms=2.0, gust_ms=3.5)
    out = replace(plan, day=replace(plan.day, place=place))
    metric, imperial = (day_facts(out), day_facts(replace(out, day=replace(out.day, units="imperial"))))
    one, other = metric.setups[0].stands[0], imperial.setups[0].stands[0]
    assert (one.stand, other.stand) == ("S1", "S1")
    # by hand, to the tenth: 3.7 kg 8.16 lb, 9 kg 19.84 lb, 7 kg 15.43 lb
    assert (one.load, other.load) == ("3.7 kg of 9 kg", "8.2 lb of 19.8 lb")
    assert (one.push, other.push) == ("1.6 kgf", "3.5 lbf")
    assert (one.bags, other.bags) == ("B1: 7 kg, at the column", "B1: 15.4 lb, at the column")
    assert "gust limit 4.6 m/s" in one.said
    assert "gust limit 10.3 mph" in other.said
    flats = [each.setups[0].panels[0].said for each in (metric, imperial)]
    # by hand: 14 kg on 0.25 m tip at 3.675 m/s; with 1.5 in hand 3.0 m/s, which is 6.7 mph
    assert flats == [f"NOT OK: wind, gust limit {limit}" for limit in ("3.0 m/s", "6.7 mph")]
    assert day_facts(plan).setups[0].panels[0].said == ""
    gale = replace(out, day=replace(out.day, place=replace(place, gust_ms=10.0)))
    assert day_facts(gale).setups[0].panels[0].said.startswith("NOT OK: wind")
    where = [dict(each.about)["place"] for each in (metric, imperial)]
    assert where[0].startswith("outdoors, wind 2 m/s, gusts 3.5 m/s, 60 lux; ")
    assert where[0].endswith("reach 1.9 m, carried up to 2.5 m")
    assert where[1].startswith("outdoors, wind 4.5 mph, gusts 7.8 mph, 60 lux; ")
    assert where[1].endswith("reach 6 ft 3 in, carried up to 8 ft 2 in")


def test_a_whole_day_is_plain_values() -> None:
    """Plain data all the way down: nothing a page could ask more of."""
    import json

    assert json.dumps(plain(day_facts(short("keeper-window", "keeper-lamp"))))


def test_totals_add_up() -> None:
    packed = day_facts(short("keeper-window")).packed
    assert sum(count for _, count in totals(packed)) == sum(line.many for line in packed)


def test_a_changeover_is_timed_for_the_crew_and_for_one_where_one_can_do_it() -> None:
    plan = demo()
    first = change_facts(plan, next(iter(all_changes(plan)))).said
    assert first == "24 steps, about 4 min shared over 3, 8 min alone"
    boom = list(all_changes(plan))[1]
    assert change_facts(plan, boom).said == "27 steps, about 6 min shared over 3; 2 people needed"
    alone = replace(plan, day=replace(plan.day, crew=plan.day.crew[:1]))
    said = change_facts(alone, boom).said
    assert said.endswith("; 2 people needed") and "shared" not in said
    crowd = tuple(replace(plan.day.crew[0], id=f"c{n}") for n in range(8))
    many = replace(plan, day=replace(plan.day, crew=crowd))
    assert " shared over 6;" in change_facts(many, boom).said  # nobody plans a share over more


def test_a_sheet_says_which_legs_carry_the_bags_and_how_they_are_turned() -> None:
    plan = short("keeper-window")
    setup = plan.setups["keeper-window"]
    lights = tuple(replace(light, bags_at="far legs") for light in setup.lights)
    far = replace(plan, setups={"keeper-window": replace(setup, lights=lights)})
    stand = day_facts(far).setups[0].stands[0]
    assert stand.bags.endswith("on the leg straight away from the load")
    assert "one leg straight away from the load" in stand.said
