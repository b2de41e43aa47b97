"""The day's changeovers as planned, and shared over the crew."""

import itertools
import json
from dataclasses import replace

import pytest

from runbook.day.changeovers import Changeovers, changeovers_data
from runbook.day.stand_view import alarms
from runbook.model.day import Plan
from runbook.model.kit import Bag
from tests.day import sets
from tests.day.days import begun, demo, do_next, do_until, make_ready
from tests.day.plans import with_crew


def test_the_day_goes_from_load_in_over_every_setup_to_the_wrap() -> None:
    ends = [(change.start, change.goal) for change in Changeovers(demo()).all]
    order = demo().day.order
    assert ends == list(zip((None, *order), (*order, None), strict=True))
    nothing = Changeovers(demo()).between("keeper-window", "keeper-window")
    assert (nothing.steps, nothing.alone_s, nothing.people) == ((), 0.0, 0)


@pytest.mark.parametrize(("start", "goal", "found"), [
    ("keeper-window", None, ("keeper-window", "keeper-lamp")),
    (None, "keeper-lamp", ("keeper-window", "keeper-lamp")), (None, "keeper-window", (None, "keeper-window")),
    ("load-in", None, (None, "keeper-window")), ("widow-answer", None, ("widow-answer", None)),
    (None, "wrap", ("widow-answer", None)), ("load-in", "wrap", (None, None)),
    ("captain-deck", "keeper-window", ("captain-deck", "keeper-window")),
])  # fmt: skip
def test_a_name_left_out_is_the_neighbour_in_the_order(start, goal, found):
    asked = Changeovers(demo()).named(start, goal)
    assert (asked.start, asked.goal) == found


def test_the_facts_are_plain_and_add_up() -> None:
    told = json.loads(json.dumps(changeovers_data(Changeovers(demo()).all, lambda _: {})))["changeovers"]
    assert told[0]["from"] is None
    crew = {member.id for member in demo().day.crew}
    for each in told:
        assert [step["n"] for step in each["steps"]] == list(range(1, len(each["steps"]) + 1))
        for step in each["steps"]:
            assert all(n < step["n"] for n in step["after"])
            assert len(step["crew"]) == step["hands"] <= each["people"]
            assert len(set(step["crew"])) == len(step["crew"])
            assert set(step["crew"]) <= crew
            assert step["start_s"] + step["seconds"] <= each["total_s"]


# --- shared over the crew


def with_people(people: int) -> Plan:
    return with_crew(demo(), *demo().day.crew[:people])


@pytest.mark.parametrize("people", [1, 2, 3])
def test_every_share_of_the_day_can_be_done(people: int) -> None:
    plan = with_people(people)
    for change in Changeovers(plan).all:
        ends = {s.step.n: s.start_s + s.step.seconds for s in change.shared}
        assert change.total_s == max(ends.values())
        assert change.bound_s <= change.total_s <= change.alone_s
        assert change.stopped_s <= change.total_s
        for one in change.shared:
            assert all(ends[n] <= one.start_s for n in one.step.after)
            assert len(one.crew) == min(one.step.hands, people)
        for member in plan.day.crew:
            mine = sorted((share for share in change.shared if member.id in share.crew), key=lambda s: s.start_s)
            assert all(ends[one.step.n] <= other.start_s for one, other in itertools.pairwise(mine))


def test_more_hands_take_less_time() -> None:
    alone, two, three = (sum(change.total_s for change in Changeovers(with_people(n)).all) for n in (1, 2, 3))
    assert alone > two > three > alone / 3


def test_a_stand_in_somebodys_hands_is_one_unbroken_hold_of_the_same_people() -> None:
    shared = Changeovers(demo()).between("keeper-window", "keeper-lamp").shared
    held = [share for share in shared if share.step.held == "boom"]
    assert len(held) >= 3
    for one, other in itertools.pairwise(held):
        assert other.start_s == one.start_s + one.step.seconds
        assert set(one.crew) <= set(other.crew) or set(other.crew) <= set(one.crew)


def test_what_can_be_done_ahead_is_not_waited_for() -> None:
    change = Changeovers(with_people(2)).between("captain-deck", "captain-chart")
    assert any(step.ahead for step in change.steps)
    assert change.stopped_s < change.total_s


def test_who_does_what_names_every_step_once_for_each_pair_of_hands() -> None:
    change = Changeovers(demo()).between(None, "keeper-window")
    numbers: list[int] = []
    for member in demo().day.crew:
        for part in change.tasks_for(member.id):
            for word in part.split(" with ")[0].split():
                if word[0].isdigit():
                    first, _, last = word.partition("-")
                    numbers += range(int(first), int(last or first) + 1)
    assert sorted(numbers) == sorted(s.n for s in change.steps for _ in range(s.hands))


def test_everybody_is_busy_waits_or_is_free() -> None:
    session = begun()
    assert session.view.crew == ()
    session.begin("keeper-window")
    assert [line.who for line in session.view.crew] == [member.id for member in demo().day.crew]
    assert all(line.step is not None and line.waits_for is None for line in session.view.crew)
    lines = session.view.crew
    while do_next(session) and session.view.crew:
        lines = session.view.crew
        assert any(line.step is not None and line.waits_for is None for line in lines)
    assert sum(line.text.endswith(": free") for line in lines) == 2  # at the last step
    assert session.view.crew == ()


def swapping() -> Plan:
    """Two high stands that swap their bags."""
    high = {"height_m": 2.4}
    one, two = (
        sets.setup(
            sets.light(bags=(bag,), **high),
            sets.light("B", "S2", side="right", modifier="strip", bags=(other,), **high),
            setup_id=name,
        )
        for name, bag, other in (("one", "B1", "B2"), ("two", "B2", "B1"))
    )
    return replace(sets.plan(one, two), kit=replace(sets.kit(), bags=(Bag("B1", 7.0), Bag("B2", 7.0))))


def test_whoever_holds_a_stand_while_another_works_is_told_so() -> None:
    session = begun(swapping())
    make_ready(session, "one")
    session.begin("two")
    do_until(session, "bag", "bag", "B1")
    holder, worker = session.view.crew
    assert holder.text == "photo: holds S1, waits for: Take B2 off S2"
    assert worker.text == "first: Hang B1 (7 kg) on S2"


def test_a_stand_that_would_fall_as_planned_is_never_let_go() -> None:
    kit = sets.kit()
    kit = replace(kit, modifiers=tuple(replace(box, depth_m=1.5, mass_kg=3.0) for box in kit.modifiers))
    plan = replace(sets.plan(sets.setup(sets.light(bags=()), setup_id="one")), kit=kit)
    said = [mark for marks in Changeovers(plan).between(None, "one").notes.values() for mark in marks]
    assert "hold S1 from here on, and do not let go: as planned it is not safe" in said
    assert not any("may be let go" in each for each in said)
    session = begun(plan)
    make_ready(session, "one")
    assert session.state.floor.in_hands == {"S1"}
    assert any(each.startswith("S1 NOT SAFE") for each in alarms(session.view))
    # the wrap begins with it in somebody's hands, and the alarm stays until it is down
    assert Changeovers(plan).between("one", None).notes[1] == ("hold S1 before this: as planned it is not safe",)
    session.begin(None)
    do_until(session, "lower", "stand", "S1")
    assert any(each.startswith("S1 NOT SAFE") for each in alarms(session.view))
    do_next(session)
    assert alarms(session.view) == ()


def test_what_a_crew_must_know_of_the_steps_of_a_hold() -> None:
    made = Changeovers(swapping()).between("one", "two")
    marks = {step.key: made.notes[step.n] for step in made.steps}
    assert marks["unbag", "bag", "B1"][1:] == ("hold S1 from here on",)
    assert marks["unbag", "bag", "B1"][0].startswith("2 people: S1 tips at 9.7°")
    assert marks["bag", "bag", "B1"] == ()
    assert marks["bag", "bag", "B2"][1:] == ("then S1 may be let go",)
    assert made.people == 2
    boom = Changeovers(demo()).between("captain-deck", "captain-chart")
    said = [mark for marks in boom.notes.values() for mark in marks]
    assert any(mark.startswith("2 people: one holds the boom") for mark in said)
    assert "can be done ahead" in said


def test_whoever_holds_a_panel_is_given_nothing_else() -> None:
    """First holds a panel in both setups; a second head comes, for which one pair of hands is enough."""
    one = sets.setup(sets.light(), setup_id="one", panels=(sets.panel(held_by="first"),))
    two = replace(one, id="two", lights=(*one.lights, sets.light("B", "S2", side="right", modifier="strip")))
    session = begun(sets.plan(one, two))
    load_in, change = session.changes.between(None, "one"), session.changes.between("one", "two")
    take = next(step for step in load_in.steps if step.on == "first")
    assert load_in.notes[take.n] == ("first then holds it while the setup is lit, and does nothing else",)
    assert load_in.tasks_for("first")[-2:] == (f"flat-1 {take.n}", "holds flat-1")
    assert change.tasks_for("first") == ("holds flat-1",)
    assert (change.people, {shared.crew for shared in change.shared}) == (2, {("photo",)})
    make_ready(session, "one")
    assert session.state.floor.panel_spot("flat-1").by == "first"
    session.begin("two")
    assert [line.text for line in session.view.crew][1] == "first: holds flat-1"
