"""What the next shooter hears: where we are, what can hurt, what is open, what was changed."""

from dataclasses import replace
from pathlib import Path

from runbook.changeover.checklist import Check
from runbook.day.actions import Session
from runbook.day.handover_lines import HandoverLine, handover_lines
from runbook.journal.journal import Journal
from tests.day.days import SetClock, begun, demo, do_next, make_ready, refused, short
from tests.played import FIRST, SECOND, half_way, shoot_one


def lines_of(session: Session, topic: str) -> list[HandoverLine]:
    return [each for each in handover_lines(session, session.clock()) if each.topic == topic]


def half() -> Session:
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    return session


def test_a_day_nobody_began_says_that_and_that_nothing_is_armed() -> None:
    told = handover_lines(begun(), begun().clock())
    assert told[0].text == "not begun: the floor is empty"
    assert [line.text for line in told if line.topic == "armed"] == ["no head is armed"]
    assert {line.topic for line in told if line.safety} == {"journal"}  # in memory only


def test_it_tells_the_step_at_hand() -> None:
    session = half()
    told = [line.text for line in lines_of(session, "where we are")]
    assert told[0].startswith(f"{SECOND} is being changed: 4 steps done, ")
    assert session.view.next_step is not None
    assert f"next step: {session.view.next_step.step.text}" in told
    assert f"shot: {FIRST}" in told


def test_every_armed_head_is_a_safety_line_with_its_power() -> None:
    session = half()
    armed = {head for head, at in session.state.real_floor.heads.items() if at.armed}
    told = lines_of(session, "armed")
    assert armed
    assert len(told) == len(armed)
    assert all(line.safety and "ARMED" in line.text for line in told)


def test_one_step_is_one_step() -> None:
    session = begun()
    session.begin(FIRST)
    do_next(session)
    assert lines_of(session, "where we are")[0].text.startswith(f"{FIRST} is being changed: 1 step done, ")


def test_open_checks_set_aside_checks_and_skipped_steps_are_safety_lines() -> None:
    session = begun()
    session.begin(FIRST)
    held = session.view.holds[0].check
    told = lines_of(session, "open")
    assert any(line.text == f"not ticked: {held.text}" and line.safety for line in told)
    session.set_check_aside(held, "the guard has the keys")
    step = session.view.pending.left[-1]
    session.skip_step(step, "no meter here")
    told = lines_of(session, "open")
    assert any("set aside" in line.text and "the guard has the keys" in line.text for line in told)
    assert any(line.text == f"skipped: {step.text}, because: no meter here" for line in told)
    assert all(line.safety for line in told if not line.text[0].isdigit())


def test_ticking_a_check_takes_its_line_away() -> None:
    session = begun()
    session.begin(FIRST)
    before = len(lines_of(session, "open"))
    session.tick_check(session.view.holds[0].check)
    assert len(lines_of(session, "open")) == before - 1


def test_a_high_head_without_its_bag_is_a_safety_line() -> None:
    """The bag's step skipped on purpose: the stand goes up all the same, and must be told."""
    session = begun()
    session.begin(FIRST)
    bag = next(step for step in session.view.todo if step.key[:2] == ("bag", "bag"))
    session.skip_step(bag, "no bag left")
    asked = next(hold.check for hold in session.view.holds if hold.check.id == "bagged-S1")
    session.set_check_aside(asked, "held by hand")
    while session.view.next_step is not None and do_next(session):
        pass
    told = {line.text.split(" ")[0]: line for line in lines_of(session, "standing")}
    assert "NO BAG" in told["S1"].text
    assert told["S1"].safety
    assert not told["S2"].safety


def test_what_is_as_planned_and_what_is_not() -> None:
    clock = SetClock()
    session = begun(clock=clock)
    shoot_one(session, clock)
    (changed,) = lines_of(session, "not as planned")
    assert changed.text == "A: 1/8 to 1/8+0.3, 1/3 stop up (1 click)"
    (same,) = lines_of(session, "as planned")
    assert same.text == "dialled as planned: B 1/8"
    assert [line.text for line in lines_of(session, "readings")] == [
        "A read f/4 +0.2, target f/4",
        "all heads read f/4 +0.1",
    ]


def test_a_stand_over_its_limit_is_a_safety_line() -> None:
    plan = demo()
    setup = plan.setups[FIRST]
    lights = tuple(replace(light, bags=()) for light in setup.lights)
    session = begun(replace(plan, setups=plan.setups | {FIRST: replace(setup, lights=lights)}))
    make_ready(session, FIRST)
    told = lines_of(session, "over a limit")
    assert told[0].text.startswith("S1: ")
    assert told[0].safety


def test_a_check_of_another_changeover_is_told_in_its_words_without_the_weight() -> None:
    session = begun()
    session.begin(FIRST)
    asked = next(hold.check for hold in session.view.holds if hold.check.id == "bagged-S1")
    session.set_check_aside(asked, "held by hand")
    told = [line.text for line in lines_of(session, "open")]
    assert "set aside at 08:00 by photo: S1 bagged: 7 kg on the column, because: held by hand" in told
    everyone = Check(
        "light-sensitivity-asked-T9", "talent", "", "", "published", "", holds=True
    )  # who came is not in this plan
    session.set_check_aside(everyone, "left early")
    told = [line.text for line in lines_of(session, "open")]
    said = "T9 asked about photosensitive epilepsy"
    assert f"set aside at 08:00 by photo: {said}, because: left early" in told


def test_a_light_that_misses_is_told_under_the_light_and_hurts_nobody() -> None:
    session = begun()
    session.begin(FIRST)
    session.nudge("A", 3)
    assert lines_of(session, "over a limit") == []
    line, whole = lines_of(session, "light")
    assert whole.text.startswith("whole reading f/4 +0.9 (flash, dome to the camera), ")
    assert line.text.startswith("A reads f/5.6 +0.2 at 1/4, 1.2 stops over the f/4 asked for; set A to ")
    assert not line.safety
    session.reading("A", 4.0)  # the meter is right, and the sums go on from it
    assert lines_of(session, "light") == []


def test_a_setup_left_open_and_one_not_shot_yet_are_still_to_shoot() -> None:
    session = begun()
    session.begin(FIRST)
    session.frames(12)
    session.begin("seamstress-veil")
    session.skip_setup("widow-answer", "no card")
    told = [line.text for line in lines_of(session, "still to shoot")]
    assert told == [f"{FIRST}: begun and still open, 12 of 120 frames", f"{SECOND}: not shot yet"]
    where = [line.text for line in lines_of(session, "where we are")]
    assert "widow-answer: skipped, because: no card" in where
    assert not any("left out" in text or text.startswith("shot") for text in where)


def test_at_the_wrap_every_setup_not_begun_is_still_to_shoot() -> None:
    session = begun(short(FIRST, SECOND, "captain-deck"))
    session.begin(FIRST)
    session.mark_shot()
    session.begin(FIRST)  # once more, and left
    session.begin(None)
    assert [line.text for line in lines_of(session, "still to shoot")] == [
        f"{FIRST}: shot, begun again and open, 0 of 120 frames",
        f"{SECOND}: not begun",
        "captain-deck: not begun",
    ]


def test_nothing_is_still_to_shoot_of_a_day_in_its_order() -> None:
    assert lines_of(half(), "still to shoot") == []


def test_a_reading_at_the_background_is_told_with_its_place() -> None:
    session = begun()
    session.begin(FIRST)
    session.reading("B", 5.0)
    assert [line.text for line in lines_of(session, "readings")] == ["B read f/5.6 at the background"]


def test_ids_are_told_apart() -> None:
    session = half()
    session.note("one")
    session.note("two")
    ids = [line.id for line in handover_lines(session, session.clock())]
    assert len(ids) == len(set(ids))


def test_the_journal_keeps_who_said_what_back_and_who_took_over(tmp_path: Path) -> None:
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as journal:
        _handed(Session(demo(), journal, "photo", clock))


def _handed(session: Session) -> None:
    session.hand_over(" Kim ")
    assert session.state.handed_to == "Kim"
    assert "HANDED OVER to Kim" in session.warning
    session.confirm_handover_line("handover-armed-A", "A is ARMED")
    session.skip_handover_line("handover-open-x", "seen it myself")
    session.take_over("photo")
    assert session.state.handed_to is None
    assert session.warning == ""
    told = [line.text for line in session.view.log_lines[-4:]]
    assert told[0] == "handed over to Kim"
    assert told[1] == "repeated: A is ARMED"
    assert told[2] == "not repeated: open: x, because: seen it myself"
    assert told[3] == "taken over from photo"


def test_a_handover_needs_a_name_and_passing_over_a_reason() -> None:
    session = half()
    assert "write a name" in refused(session.hand_over, "  ")
    assert "a reason is needed" in refused(session.skip_handover_line, "x", " ")


def test_the_evening_before_the_clock_is_the_day_s_own() -> None:
    clock = SetClock()
    clock.move(-13 * 60)  # 19:00 the day before
    session = begun(clock=clock)
    session.work_out()
    assert session.hours is not None
    ends = session.finish_text(clock.now)
    (line,) = lines_of(session, "clock")
    assert line.text == f"the day is on 2026-12-04, call 08:00, wrap 18:00, {ends}"
    on_the_day = begun()
    on_the_day.work_out()
    assert ends == on_the_day.finish_text(SetClock().now)
    session.begin("keeper-window")  # shot early all the same: from here the real clock counts
    assert lines_of(session, "clock")[0].text.startswith("it is 19:00")


def test_the_wind_is_handed_over_and_limits_are_judged_in_it() -> None:
    plan = short("keeper-window")
    place = replace(plan.day.place, indoors=False)
    session = begun(replace(plan, day=replace(plan.day, place=place)))
    make_ready(session, "keeper-window")
    calm = {line.id for line in handover_lines(session, session.clock())}
    session.wind(12.0)
    lines = {line.id: line for line in handover_lines(session, session.clock())}
    assert lines["handover-wind"].safety
    assert lines["handover-wind"].text.startswith("gusts 12.0 m/s")
    assert "handover-over-a-limit-S1" in lines.keys() - calm
