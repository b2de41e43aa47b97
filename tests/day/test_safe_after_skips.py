"""After a skip the rules of the steps hold for what is left, on the floor as it really stands."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.floor import Floor
from runbook.changeover.stand_sequence import must_be_held
from runbook.changeover.steps import CannotBeDone, Step, apply
from runbook.day.actions import Refused, Session
from runbook.day.gates import StepLine
from runbook.day.stand_view import alarms
from runbook.journal.journal import Journal
from runbook.model.day import Crew, Day, Place, Plan
from tests.changeover.floors import PLACE, _as_it_stands, faults_of, forbidden, kit_of, kits, setups
from tests.changeover.test_floor import KEY
from tests.changeover.test_floor import setup as one_light
from tests.day.days import answer_checks, begun, do_next, do_until, make_ready, refused, short
from tests.day.sets import noon

PLAIN = kit_of((False,) * 5, (False,) * 5, 1.0)
BOOM = kit_of((True, False, False, False, False), (False,) * 5)
TALL = replace(KEY, height_m=2.6, distance_m=1.9, bags=("B0",), through=(), accessories=("G0",))


def day_of(*given: object, kit: object = PLAIN, place: Place = PLACE) -> Session:
    """A session of a day with these setups, in order."""
    order = tuple(each.id for each in given)  # type: ignore[attr-defined]
    day = Day(
        name="A day",
        date=dt.date(2026, 12, 4),
        call=dt.time(8),
        wrap=dt.time(18),
        order=order,
        crew=(Crew("photo"), Crew("first")),
        place=place,
    )
    plan = Plan(day=day, kit=kit, setups=dict(zip(order, given, strict=True)))  # type: ignore[arg-type]
    return Session(plan, Journal.in_memory(clock=noon, who="photo"), "photo", noon)


def line_of(session: Session, *key: str) -> StepLine:
    return next(line for line in session.view.lines if line.step.key[: len(key)] == key)


def skip(session: Session, *keys: tuple[str, str, str]) -> None:
    for key in keys:
        step = next(step for step in session.view.pending.left if step.key == key)
        session.skip_step(step, "no time")


def set_checks_aside(session: Session) -> None:
    """Set every open check aside, so that only the rules of the steps hold them."""
    for hold in session.view.holds:
        if hold.open:
            session.set_check_aside(hold.check, "cannot be")


def tall_at_the_wrap(until: str = "lower") -> Session:
    """A head at 2.6 m with a bag on its stand, about to be struck."""
    session = day_of(one_light(TALL))
    make_ready(session, "one")
    session.begin(None)
    set_checks_aside(session)
    do_until(session, until)
    return session


def test_no_bag_comes_off_a_head_up_high_when_everything_before_it_is_skipped() -> None:
    session = tall_at_the_wrap()
    before = [step.key for step in session.view.pending.left if step.kind in ("stand", "accessory", "modifier")]
    skip(session, *(key for key in before if key[0] != "strike"), ("free", "head", "A"))
    line = line_of(session, "unbag", "bag", "B0")
    assert line.state == "waits"
    assert "2.6 m" in line.note
    assert "lower S0" in refused(session.tick, line.step)
    assert "B0" in session.state.floor.bags


def test_a_head_does_not_come_off_above_reach() -> None:
    session = tall_at_the_wrap()
    skip(session, ("lower", "stand", "S0"), ("free", "accessory", "G0"), ("free", "modifier", "M0"))
    line = line_of(session, "free", "head", "A")
    assert line.state == "waits"
    assert "2.6 m" in line.note
    assert "1.9 m" in line.note
    assert refused(session.tick, line.step)


def test_a_step_refused_for_a_skip_can_be_done_after_the_skipped_one_is() -> None:
    session = tall_at_the_wrap()
    skip(session, ("lower", "stand", "S0"))
    while (line := session.view.next_step) is not None and line.state == "to do":
        session.tick(line.step)
    assert line is not None
    assert line.state == "waits"
    session.tick(line_of(session, "lower", "stand", "S0").step)
    assert session.view.next_step is not None
    assert session.view.next_step.state == "to do"


def test_nothing_is_taken_off_a_head_that_can_fire() -> None:
    session = tall_at_the_wrap("disarm")
    skip(session, ("disarm", "head", "A"))
    while (line := session.view.next_step) is not None and line.state == "to do":
        session.tick(line.step)
    assert "A can fire" in refused(session.tick, line_of(session, "free", "accessory").step)


def test_a_boom_is_not_raised_without_its_counterweight() -> None:
    session = day_of(one_light(replace(KEY, height_m=2.3, through=())), kit=BOOM)
    session.begin("one")
    while session.view.next_step is not None:
        answer_checks(session, aside=True)
        line = session.view.next_step
        if line.step.key == ("fit", "counterweight", "S0"):
            session.skip_step(line.step, "left in the van")
        elif line.step.key == ("raise", "stand", "S0"):
            break
        else:
            session.tick(line.step)
    assert session.view.next_step is not None
    assert "counterweight" in refused(session.tick, session.view.next_step.step)
    assert "S0" in session.state.floor.in_hands


def test_a_boom_left_with_its_head_on_and_no_counterweight_raises_an_alarm() -> None:
    session = day_of(one_light(replace(KEY, height_m=1.5, through=())), kit=BOOM)
    session.begin("one")
    while session.view.next_step is not None:
        answer_checks(session, aside=True)
        line = session.view.next_step
        if line.step.key == ("fit", "counterweight", "S0"):
            assert not any("COUNTERWEIGHT" in each for each in alarms(session.view))  # it is in hands
            session.skip_step(line.step, "left in the van")
        elif line.state == "waits":
            session.skip_step(line.step, "cannot be")
        else:
            session.tick(line.step)
    (alarm,) = [each for each in alarms(session.view) if each.startswith("S0")]
    assert "WITHOUT ITS COUNTERWEIGHT" in alarm


def test_a_stand_raised_without_its_skipped_bag_is_held_from_there_on() -> None:
    session = begun(short("keeper-window"))
    session.begin("keeper-window")
    while session.view.next_step is not None and session.view.next_step.step.verb != "raise":
        if session.view.next_step.step.key == ("bag", "bag", "B1"):
            session.skip_step(session.view.next_step.step, "left in the van")
        else:
            do_next(session)
    answer_checks(session, aside=True)
    line = session.view.next_step
    assert line is not None
    assert (line.state, line.step.grip, line.step.held, line.step.hands) == ("to do", "take", "S1", 2)
    session.tick(line.step)
    assert session.state.floor.in_hands == {"S1"}


@st.composite
def days(draw: st.DrawFn) -> Session:
    kit = draw(kits())
    return day_of(*(draw(setups(kit, name)) for name in ("one", "two")), kit=kit)


def wrong_after(step: Step, floor: Floor, session: Session) -> list[str]:
    """What is wrong with doing a step on this floor: by an independent judge, then by the sums."""
    kit = session.plan.kit
    try:
        after = apply(floor, step)
    except CannotBeDone:
        return []  # it cannot be done at all, and is refused with what comes first
    # whoever skips sending the talent off knows where they are: no stand is less safe for it
    wrong = forbidden(step, floor, kit) if step.verb != "turn" else []
    for stand, at in after.stands.items():
        if stand in after.in_hands:
            continue
        same = _as_it_stands(floor, stand) == _as_it_stands(after, stand)
        same = same and stand not in floor.in_hands
        if not same and faults_of(after, stand, kit):
            wrong.append(f"{step.key}: {stand} {faults_of(after, stand, kit)}, nobody holds it")
        boom = kit.stand[stand].is_boom and after.head_on(stand) is not None and not at.weight_on
        if not same and boom:
            wrong.append(f"{step.key}: {stand} off balance, nobody holds it")
        lost = floor.bags_on("stand", stand) - after.bags_on("stand", stand)
        high = after.head_on(stand) is not None and at.height_m > max(PLACE.reach_m, kit.stand[stand].height_min_m)
        goal = session.view.goal
        kept = goal.bags_on("stand", stand) <= after.bags_on("stand", stand)
        if lost and high and not (stand in goal.stands and kept):
            wrong.append(f"{step.key}: {sorted(lost)} off {stand} with its head up, unheld")
    return wrong


@settings(max_examples=40, deadline=None)
@given(days(), st.data())
def test_every_step_offered_keeps_every_stand_safe_or_held(session: Session, data: st.DataObject) -> None:
    for setup_id in ("one", "two", None):
        session.begin(setup_id)
        for _ in range(80):
            for hold in session.view.holds:
                if hold.open:
                    session.set_check_aside(hold.check, "cannot be")
            offered = [line.step for line in session.view.lines if line.state == "to do"]
            floor = session.state.floor
            for step in offered:
                assert wrong_after(step, floor, session) == []
            if not session.view.pending.left:
                break
            step = data.draw(st.sampled_from(offered or session.view.pending.left))
            if data.draw(st.sampled_from(["do", "do", "do", "skip"])) == "do" and offered:
                try:
                    session.tick(step)
                    continue
                except Refused:
                    pass
            session.skip_step(step, "left out")


@settings(max_examples=20, deadline=None)
@given(days())
def test_without_a_skip_no_step_is_refused_and_no_hold_is_added(session: Session) -> None:
    for setup_id in ("one", "two", None):
        session.begin(setup_id)
        for _ in range(200):
            answer_checks(session, aside=True)
            line = session.view.next_step
            if line is None:
                break
            assert line.state == "to do"
            planned = next(step for step in session.view.todo if step.key == line.step.key)
            assert line.step.grip == planned.grip
            session.tick(line.step)


def test_alarm_and_steps_ask_the_same_rule() -> None:
    session = tall_at_the_wrap()
    floor, goal = session.state.floor, session.view.goal
    kit, place = session.plan.kit, session.view.place
    assert not must_be_held("S0", floor, goal, kit, place, before=floor)
    bare = replace(floor, bags={})
    assert must_be_held("S0", bare, goal, kit, place, before=floor)


@pytest.mark.parametrize(("height", "held"), [(1.9, False), (1.91, True)])
def test_the_edge_of_reach_is_within_reach(height: float, held: bool) -> None:
    # a light box stands at 1.9 m without its bag by the sums; the rule asks for it above reach only
    low = one_light(replace(KEY, height_m=1.9, distance_m=1.9, bags=("B0",), through=()))
    session = day_of(low)
    make_ready(session, "one")
    floor, kit = session.state.floor, session.plan.kit
    stands = {"S0": replace(floor.stands["S0"], height_m=height)}
    bare = replace(floor, bags={}, stands=stands)
    assert faults_of(bare, "S0", kit) == ()
    assert must_be_held("S0", bare, floor, kit, PLACE, before=None) is held
