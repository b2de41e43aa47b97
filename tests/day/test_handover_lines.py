"""What the next shooter must confirm, and what quitting would lose."""

from dataclasses import replace
from pathlib import Path

import pytest

from runbook.changeover.checklist import Check
from runbook.day.actions import Session
from runbook.day.handover_lines import HandoverLine, handover_lines, unsaved_text
from runbook.journal.journal import Journal
from tests.day.days import SetClock, begun, demo, do_next, make_ready, refused, short, unwritable
from tests.played import FIRST, SECOND, half_way, shoot_one


def lines_of(session: Session, topic: str) -> list[HandoverLine]:
    return [line for line in handover_lines(session, session.clock()) if line.topic == topic]


def texts_of(session: Session, topic: str) -> list[str]:
    return [line.text for line in lines_of(session, topic)]


def half() -> Session:
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    return session


def in_first() -> Session:
    session = begun()
    session.begin(FIRST)
    return session


def test_a_day_not_begun_has_nothing_armed_and_nothing_open() -> None:
    lines = handover_lines(begun(), begun().clock())
    assert lines[0].text == "not begun: the floor is empty"
    assert [line.text for line in lines if line.topic == "armed"] == ["no head is armed"]
    assert {line.topic for line in lines if line.safety} == {"journal"}  # in memory only


def test_where_the_day_is_names_the_next_step_and_what_is_shot() -> None:
    session = half()
    texts = texts_of(session, "where we are")
    assert texts[0].startswith(f"{SECOND} is being changed: 4 steps done, ")
    assert session.view.next_step is not None
    assert f"next step: {session.view.next_step.step.text}" in texts
    assert f"shot: {FIRST}" in texts
    session = in_first()
    do_next(session)
    assert texts_of(session, "where we are")[0].startswith(f"{FIRST} is being changed: 1 step done, ")


def test_every_armed_head_is_a_safety_line() -> None:
    session = half()
    armed = {head for head, at in session.state.real_floor.heads.items() if at.armed}
    lines = lines_of(session, "armed")
    assert armed
    assert {line.text.split()[0] for line in lines} == armed
    assert all(line.safety and "ARMED" in line.text for line in lines)


def test_open_checks_set_aside_checks_and_skipped_steps_are_safety_lines() -> None:
    session = in_first()
    held = session.view.holds[0].check
    assert any(line.text == f"not ticked: {held.text}" and line.safety for line in lines_of(session, "open"))
    session.set_check_aside(held, "the guard has the keys")
    step = session.view.pending.left[-1]
    session.skip_step(step, "no meter here")
    lines = lines_of(session, "open")
    assert any("set aside" in line.text and "the guard has the keys" in line.text for line in lines)
    assert any(line.text == f"skipped: {step.text}, because: no meter here" for line in lines)
    assert all(line.safety for line in lines if not line.text[0].isdigit())
    before = len(lines)
    session.tick_check(next(hold.check for hold in session.view.holds if hold.open))
    assert len(lines_of(session, "open")) == before - 1


def test_a_high_head_without_its_bag_is_a_safety_line() -> None:
    """The bag's step is skipped on purpose, and the stand goes up all the same."""
    session = in_first()
    bag = next(step for step in session.view.todo if step.key[:2] == ("bag", "bag"))
    session.skip_step(bag, "no bag left")
    check = next(hold.check for hold in session.view.holds if hold.check.id == "bagged-S1")
    session.set_check_aside(check, "held by hand")
    while session.view.next_step is not None and do_next(session):
        pass
    lines = {line.text.split(" ")[0]: line for line in lines_of(session, "standing")}
    assert "NO BAG" in lines["S1"].text
    assert (lines["S1"].safety, lines["S2"].safety) == (True, False)


def test_what_is_as_planned_and_what_is_not() -> None:
    clock = SetClock()
    session = begun(clock=clock)
    shoot_one(session, clock)
    assert texts_of(session, "not as planned") == ["A power: 1/8+0.3 instead of 1/8"]
    assert texts_of(session, "as planned") == ["dialled as planned: B 1/8"]
    assert texts_of(session, "readings") == ["A read f/4 +0.2, target f/4", "all heads read f/4 +0.1"]
    session = in_first()
    session.reading("B", 5.0)
    assert texts_of(session, "readings") == ["B read f/5.6 at the background"]


def test_a_stand_over_its_limit_is_a_safety_line() -> None:
    plan = demo()
    lights = tuple(replace(light, bags=()) for light in plan.setups[FIRST].lights)
    session = begun(replace(plan, setups=plan.setups | {FIRST: replace(plan.setups[FIRST], lights=lights)}))
    make_ready(session, FIRST)
    line = lines_of(session, "over a limit")[0]
    assert line.text.startswith("S1: tips at ")
    assert line.safety


def test_the_wind_is_handed_over_and_limits_are_judged_in_it() -> None:
    plan = short(FIRST)
    session = begun(replace(plan, day=replace(plan.day, place=replace(plan.day.place, indoors=False))))
    make_ready(session, FIRST)
    calm = {line.id for line in handover_lines(session, session.clock())}
    session.wind(12.0)
    lines = {line.id: line for line in handover_lines(session, session.clock())}
    assert lines["handover-wind"].safety
    assert lines["handover-wind"].text.startswith("gusts 12.0 m/s")
    assert "handover-over-a-limit-S1" in lines.keys() - calm
    assert lines["handover-over-a-limit-S1"].safety


def test_a_check_of_another_changeover_is_worded_without_the_weight() -> None:
    session = in_first()
    check = next(hold.check for hold in session.view.holds if hold.check.id == "bagged-S1")
    session.set_check_aside(check, "held by hand")
    # who came is not in this plan
    session.set_check_aside(Check("light-sensitivity-asked-T9", "talent", "", "", "published", "", holds=True), "left")
    for text in (
        "S1 bagged: 7 kg on the column, because: held by hand",
        "T9 asked about photosensitive epilepsy, because: left",
    ):
        assert f"set aside at 08:00 by photo: {text}" in texts_of(session, "open")


def test_light_off_its_target_is_no_safety_line() -> None:
    session = in_first()
    session.nudge("A", 3)
    assert lines_of(session, "over a limit") == []
    line, whole = lines_of(session, "light")
    assert whole.text.startswith("whole reading f/4 +0.9 (flash, dome to the camera), ")
    assert line.text.startswith("A reads f/5.6 +0.2 at 1/4")
    assert "; set A to " in line.text
    assert not line.safety
    session.reading("A", 4.0)  # the meter is right, and the prediction goes on from it
    assert lines_of(session, "light") == []


def test_setups_left_open_not_shot_yet_and_skipped() -> None:
    session = in_first()
    session.frames(12)
    session.begin("seamstress-veil")
    session.skip_setup("widow-answer", "no card")
    assert texts_of(session, "still to shoot") == [
        f"{FIRST}: begun and still open, 12 of 120 frames",
        f"{SECOND}: not shot yet",
    ]
    assert texts_of(session, "skipped") == ["widow-answer: skipped, because: no card"]
    assert lines_of(half(), "still to shoot") == []  # in its order


def test_at_the_wrap_every_setup_not_begun_is_still_to_shoot() -> None:
    session = begun(short(FIRST, SECOND, "captain-deck"))
    session.begin(FIRST)
    session.mark_shot()
    session.begin(FIRST)  # once more, and left
    session.begin(None)
    assert texts_of(session, "still to shoot") == [
        f"{FIRST}: shot, begun again and open, 0 of 120 frames",
        f"{SECOND}: not begun",
        "captain-deck: not begun",
    ]


def test_no_two_lines_have_the_same_id() -> None:
    session = half()
    session.note("one")
    session.nudge("A", 1)
    ids = [line.id for line in handover_lines(session, session.clock())]
    assert len(ids) == len(set(ids))


def test_the_journal_keeps_what_was_confirmed_and_who_took_over(tmp_path: Path) -> None:
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.hand_over(" Kim ")
        assert session.state.handed_to == "Kim"
        assert "HANDED OVER to Kim" in session.warning
        session.confirm_handover_line("handover-armed-A", "A is ARMED")
        session.skip_handover_line("handover-open-x", "seen it myself")
        session.take_over("photo")
        assert session.state.handed_to is None
        assert session.warning == ""
        assert [line.text for line in session.view.log_lines[-4:]] == [
            "handed over to Kim",
            "repeated: A is ARMED",
            "not repeated: open: x, because: seen it myself",
            "taken over from photo",
        ]


def test_a_handover_needs_a_name_and_a_skipped_line_a_reason() -> None:
    session = half()
    assert "write a name" in refused(session.hand_over, "  ")
    assert "a reason is needed" in refused(session.skip_handover_line, "x", " ")


def test_the_evening_before_the_clock_is_the_day_s_own() -> None:
    clock = SetClock()
    clock.move(-13 * 60)  # 19:00 the day before
    session = begun(clock=clock)
    session.work_out()
    ends = session.finish_text(clock.now)
    assert texts_of(session, "clock") == [f"the day is on 2026-12-04, call 08:00, wrap 18:00, {ends}"]
    on_the_day = begun()
    on_the_day.work_out()
    assert ends == on_the_day.finish_text(SetClock().now)
    session.begin(FIRST)  # shot early all the same: from here the real clock counts
    assert texts_of(session, "clock")[0].startswith("it is 19:00")


# -- quitting --------------------------------------------------------------------------------------


@pytest.fixture
def read_only(tmp_path: Path) -> Session:
    """A day with a note on disk that another program has open."""
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as first:
        Session(demo(), first, "photo", clock).note("on disk")
        journal = Journal.in_memory(clock=clock, who="first", entries=first.entries)
    session = Session(demo(), journal, "first", clock)
    session.open("digest", "0")
    return session


def lost(session: Session) -> int:
    return int(unsaved_text(session).split()[0] if unsaved_text(session) else 0)


def test_entries_on_disk_and_those_of_the_program_itself_are_not_lost(read_only: Session) -> None:
    assert read_only.journal.unwritten
    read_only.leave()
    assert unsaved_text(read_only) == ""


def test_entries_in_memory_only_are_lost(read_only: Session) -> None:
    read_only.note("one")
    assert unsaved_text(read_only) == "1 entry is not written and would be lost"
    read_only.note("two")
    assert unsaved_text(read_only) == "2 entries are not written and would be lost"
    assert not read_only.try_to_record()


def test_an_entry_undone_is_not_lost_and_undoing_one_on_disk_is(read_only: Session) -> None:
    read_only.note("one")
    counts = []
    for action in (read_only.undo, read_only.redo, read_only.undo, read_only.undo):
        action()
        counts.append(lost(read_only))
    assert counts == [0, 1, 0, 1]


def test_what_is_in_memory_is_written_with_the_next_entry(tmp_path: Path) -> None:
    clock, path = SetClock(), tmp_path / "journal.runlog"
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.note("safe")
        assert lost(session) == 0
        session.keep_in_memory()
        assert lost(session) == 0
        with unwritable(path):
            session.note("in memory")
            session.note("undone")
            session.undo()
            assert not session.try_to_record()
            assert session.warning.startswith("NOT RECORDED")
            assert lost(session) == 1
        session.note("both are written")
        assert session.warning == ""
        assert list(Journal.read(path).entries) == session.entries
        session.keep_in_memory()  # and once more
        assert session.try_to_record()
        session.journal.close()
