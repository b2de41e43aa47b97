"""What the next shooter must confirm, and what quitting would lose."""

from dataclasses import replace
from pathlib import Path

import pytest

from runbook.changeover.checklist import Check
from runbook.day.actions import Session
from runbook.day.handover_lines import HandoverLine, handover_lines, unsaved_text
from runbook.journal.journal import Journal
from tests.day.days import FIRST, SECOND, SetClock, begun, demo, do_until, refused, short, unwritable
from tests.day.plans import with_place, with_setup
from tests.day.progress import check_of, skip_and_do, standing
from tests.played import half_way, shoot_one


def lines_of(session: Session, topic: str) -> list[HandoverLine]:
    return [line for line in handover_lines(session, session.clock()) if line.topic == topic]


def texts_of(session: Session, topic: str) -> list[str]:
    return [line.text for line in lines_of(session, topic)]


@pytest.fixture
def half() -> Session:
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    return session


@pytest.fixture
def first() -> Session:
    session = begun()
    session.begin(FIRST)
    return session


def test_a_day_not_begun_has_nothing_armed_and_nothing_open() -> None:
    lines = handover_lines(begun(), begun().clock())
    assert lines[0].text == "not begun: the floor is empty"
    assert [line.text for line in lines if line.topic == "switched on"] == ["no head is switched on"]
    assert {line.topic for line in lines if line.safety} == {"journal"}  # in memory only


def test_where_the_day_is_names_the_next_step_and_what_is_shot(half: Session) -> None:
    half.pause("meal")
    texts = texts_of(half, "where we are")
    assert texts[0].startswith(f"{SECOND} is being changed: 4 steps done, ")
    assert {f"next step: {half.view.next_step.step.text}", f"shot: {FIRST}", "on a break: meal"} <= {*texts}


def test_every_armed_head_is_a_safety_line(half: Session) -> None:
    lines = lines_of(half, "switched on")
    armed = {head for head, at in half.state.real_floor.heads.items() if at.armed}
    assert armed and {line.text.split()[0] for line in lines} == armed
    assert all(line.safety and "SWITCHED ON" in line.text for line in lines)


def test_open_checks_set_aside_checks_and_skipped_steps_are_safety_lines(first: Session) -> None:
    first.set_check_aside(check_of(first, "bagged-S1"), "held by hand")
    # who came is not in this plan
    first.set_check_aside(Check("light-sensitivity-asked-T9", "talent", "", "", "published", "", holds=True), "left")
    step = first.view.pending.left[-1]
    first.skip_step(step, "no meter here")
    lines = lines_of(first, "open")
    assert {line.text for line in lines} >= {
        f"not ticked: {first.view.holds[0].check.text}",
        "set aside at 08:00 by photo: S1 bagged: 7 kg on the column, because: held by hand",
        "set aside at 08:00 by photo: T9 asked about photosensitive epilepsy, because: left",
        f"skipped: {step.text}, because: no meter here",
    }
    assert all(line.safety for line in lines if not line.text[0].isdigit())
    first.tick_check(first.view.holds[0].check)
    assert len(lines_of(first, "open")) == len(lines) - 1


def test_a_high_head_without_its_bag_is_a_safety_line(first: Session) -> None:
    first.set_check_aside(check_of(first, "bagged-S1"), "held by hand")
    do_until(first, "bag", "bag", "B1")
    assert [line.safety for line in lines_of(first, "standing")] == [False]  # with nothing on it yet
    skip_and_do(first, ("bag", "bag", "B1"))
    lines = {line.text.split(" ")[0]: line for line in lines_of(first, "standing")}
    assert "NO BAG" in lines["S1"].text
    assert (lines["S1"].safety, lines["S2"].safety) == (True, False)


def test_what_is_as_planned_is_dialled_and_what_is_not_is_named(half: Session) -> None:
    dialled = {f"{head} {at.power}" for head, at in half.state.real_floor.heads.items() if at.power}
    (line,) = texts_of(half, "as planned")
    assert (
        {*line.removeprefix("set as planned: ").split(", ")}
        <= dialled
        < {f"{head.head} {head.power}" for head in half.view.heads}
    )
    clock = SetClock()
    session = begun(clock=clock)
    shoot_one(session, clock)
    assert texts_of(session, "not as planned") == ["A power: 1/8+0.3 instead of 1/8"]
    assert texts_of(session, "as planned") == ["set as planned: B 1/8"]
    session.reading("B", 5.0)
    readings = ["A read f/4 +0.2, target f/4", "all heads read f/4 +0.1", "B read f/5.6 at the background"]
    assert texts_of(session, "readings") == readings


@pytest.mark.parametrize(("bags", "gust_ms"), [((), None), (("B1",), 12.0)])
def test_a_stand_over_its_limit_and_the_wind_are_safety_lines(bags: tuple[str, ...], gust_ms: float | None) -> None:
    setup = demo().setups[FIRST]
    lights = (replace(setup.light["A"], bags=bags), *setup.lights[1:])
    plan = with_place(short(FIRST), indoors=gust_ms is None)
    session = standing(with_setup(plan, replace(setup, lights=lights)))
    if gust_ms is not None:
        assert not lines_of(session, "over a limit")
        session.wind(gust_ms)
    lines = {line.id: line for line in handover_lines(session, session.clock())}
    assert lines["handover-over-a-limit-S1"].safety
    assert ("handover-wind" in lines) == (gust_ms is not None)
    assert gust_ms is None or (lines["handover-wind"].safety and "gusts 12.0 m/s" in lines["handover-wind"].text)


def test_light_off_its_target_is_no_safety_line(first: Session) -> None:
    first.nudge("A", 3)
    assert lines_of(first, "over a limit") == []
    line, whole = lines_of(first, "light")
    assert whole.text.startswith("whole reading f/4 +0.9 (flash, dome to the camera), ")
    assert line.text.startswith("A reads f/5.6 +0.2 at 1/4") and "; set A to " in line.text
    assert not line.safety
    first.reading("A", 4.0)  # the meter is right, and the prediction goes on from it
    assert lines_of(first, "light") == []


def test_setups_left_open_not_shot_yet_and_skipped(first: Session, half: Session) -> None:
    first.frames(12)
    first.begin("seamstress-veil")
    first.skip_setup("widow-answer", "no card")
    open_lines = [f"{FIRST}: begun and not finished, 12 of 120 frames", f"{SECOND}: not shot yet"]
    assert texts_of(first, "still to shoot") == open_lines
    assert texts_of(first, "skipped") == ["widow-answer: skipped, because: no card"]
    assert lines_of(half, "still to shoot") == []  # in its order


def test_at_the_wrap_every_setup_not_begun_is_still_to_shoot() -> None:
    session = begun(short(FIRST, SECOND, "captain-deck"))
    session.begin(FIRST)
    session.mark_shot()
    session.begin(FIRST)  # once more, and left
    session.begin(None)
    assert texts_of(session, "still to shoot") == [
        f"{FIRST}: shot, begun again and not finished, 0 of 120 frames",
        f"{SECOND}: not begun",
        "captain-deck: not begun",
    ]


def test_no_two_lines_have_the_same_id(half: Session) -> None:
    half.note("one")
    half.nudge("A", 1)
    ids = [line.id for line in handover_lines(half, half.clock())]
    assert len(ids) == len(set(ids))


def test_the_journal_keeps_what_was_confirmed_and_who_took_over(tmp_path: Path) -> None:
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        assert "name of who takes over" in refused(session.hand_over, "  ")
        session.hand_over(" Kim ")
        assert session.state.handed_to == "Kim"
        assert refused(session.undo) == "nothing left to undo"
        assert "HANDED OVER to Kim" in session.warning
        session.confirm_handover_line("handover-switched-on-A", "A is SWITCHED ON")
        assert "a reason is needed" in refused(session.skip_handover_line, "x", " ")
        session.skip_handover_line("handover-open-x", "seen it myself")
        session.take_over("photo")
        assert session.state.handed_to is None
        assert session.warning == ""
        assert [line.text for line in session.view.log_lines] == [
            "handed over to Kim",
            "confirmed: A is SWITCHED ON",
            "not confirmed: open: x, because: seen it myself",
            "taken over from photo",
        ]


def test_the_evening_before_the_clock_is_the_day_s_own() -> None:
    session, on_the_day = begun(clock=SetClock(-5 + 24)), begun()
    session.clock.move(-24 * 60)  # type: ignore[attr-defined]
    for day in (session, on_the_day):
        day.work_out()
    ends = on_the_day.finish_text(SetClock().now)
    assert texts_of(session, "clock") == [f"the day is on 2026-12-04, call 08:00, wrap 18:00, {ends}"]
    session.begin(FIRST)  # shot early all the same: from here the real clock counts
    assert texts_of(session, "clock")[0].startswith("it is 19:00")


# -- quitting --------------------------------------------------------------------------------------


def test_entries_in_memory_only_are_lost_and_those_of_the_program_itself_are_not(tmp_path: Path) -> None:
    clock = SetClock()
    with Journal.open(tmp_path / "journal.runlog", clock=clock, who="photo") as owner:
        Session(demo(), owner, "photo", clock).note("on disk")
        journal = Journal.in_memory(clock=clock, who="first", entries=owner.entries)
    session = Session(demo(), journal, "first", clock)
    session.open("digest", "0")
    session.leave()
    assert session.journal.unwritten
    assert unsaved_text(session) == ""
    session.note("one")
    assert unsaved_text(session) == "1 entry is not written and would be lost"
    session.note("two")
    assert unsaved_text(session) == "2 entries are not written and would be lost"
    assert not session.try_to_record()
    lost = []
    for act in (session.undo, session.undo, session.redo, session.undo, session.undo):
        act()
        lost.append(unsaved_text(session)[:1])
    assert lost == ["1", "", "1", "", "1"]  # the last one undoes an entry on the disk


def test_what_is_in_memory_is_written_with_the_next_entry(tmp_path: Path) -> None:
    clock, path = SetClock(), tmp_path / "journal.runlog"
    with Journal.open(path, clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock)
        session.note("safe")
        session.keep_in_memory()
        assert unsaved_text(session) == ""
        with unwritable(path):
            session.note("in memory")
            assert not session.try_to_record()
            assert session.warning.startswith("NOT RECORDED")
            assert unsaved_text(session)
        session.note("both are written")
        assert session.warning == ""
        assert list(Journal.read(path).entries) == session.entries
        session.keep_in_memory()  # and once more
        assert session.try_to_record()
        session.journal.close()
