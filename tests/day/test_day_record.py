"""The record of a day: planned against real, from the journal alone."""

import pytest

from runbook.day.actions import Session
from runbook.day.day_record import DayRecord, battery_use, day_record
from runbook.day.handover_lines import handover_lines
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from tests.day.days import SetClock, begun, do_next, make_ready, short
from tests.played import FIRST, SECOND, half_way, shoot_one, struck


def played() -> Session:
    clock = SetClock()
    session = begun(short(FIRST, SECOND), clock)
    half_way(session, clock)
    return session


def record_of(session: Session) -> DayRecord:
    return day_record(session.plan, session.entries)


def test_times_are_from_begun_to_the_last_step_to_marked_as_shot() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(7)
    while do_next(session):
        pass
    clock.move(20)
    session.mark_shot()
    clock.move(5)
    make_ready(session, None)
    first, wrap = record_of(session).setups
    assert first.change_s == pytest.approx(7 * 60)
    assert first.shoot_s == pytest.approx(20 * 60)
    assert (f"{first.began:%H:%M}", f"{first.ended:%H:%M}") == ("08:00", "08:27")
    assert first.state == "shot"
    assert wrap.id == "wrap"
    assert wrap.began is not None


def test_a_break_is_no_work() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    make_ready(session, FIRST)
    clock.move(10)
    session.pause("meal")
    clock.move(45)
    session.resume()
    clock.move(5)
    session.mark_shot()
    session.pause("tea")
    record = record_of(session)
    assert record.setups[0].shoot_s == pytest.approx(15 * 60)
    assert record.breaks == ("meal: 08:10 to 08:55, 45 min", "tea: from 09:00")


def test_a_clock_put_back_gives_no_negative_time() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(-500)
    while do_next(session):
        pass
    clock.move(-500)
    session.mark_shot()
    first = record_of(session).setups[0]
    assert (first.change_s, first.shoot_s) == (0, 0)


def test_a_difference_from_the_plan_is_recorded_once_with_its_last_value() -> None:
    record = record_of(played())
    assert record.differences == ((FIRST, "A power: 1/8+0.3 instead of 1/8"),)
    assert [row[:3] for row in record.readings] == [(FIRST, "A", "f/4 +0.2"), (FIRST, "all heads", "f/4 +0.1")]


def test_near_misses_are_separate_from_notes() -> None:
    session = played()
    session.note("Near-miss: the boom swung at second")
    session.note("nearly done")
    record = record_of(session)
    assert [line.split(" ", 1)[1] for line in record.near_misses] == [
        f"{SECOND}: Near-miss: the boom swung at second (photo)"
    ]
    assert len(record.notes) == 2


def test_what_was_skipped_keeps_its_reason() -> None:
    session = played()
    session.skip_setup("widow-letter", "no time")
    session.skip_step(session.view.pending.left[-1], "metered by eye")
    setup, step = record_of(session).set_aside
    assert "skipped: widow-letter, because: no time" in setup
    assert "because: metered by eye" in step


def test_setups_not_shot_are_the_same_in_record_and_handover() -> None:
    clock = SetClock()
    session = begun(short(FIRST, SECOND, "captain-deck", "captain-chart", "widow-letter"), clock)
    shoot_one(session, clock)
    session.begin("captain-deck")
    session.frames(3)
    session.skip_setup("captain-chart", "no time")
    record = record_of(session)
    assert [(setup.id, setup.state) for setup in record.not_shot] == [
        (SECOND, "not shot yet"),
        ("captain-deck", "open"),
        ("captain-chart", "skipped"),
        ("widow-letter", "not begun"),
    ]
    assert [setup.state for setup in record.setups] == [
        "shot", "not shot yet", "begun", "skipped", "not begun", "not begun",
    ]  # fmt: skip
    texts = [setup.text for setup in record.not_shot[:3]]
    assert texts == [
        f"{SECOND}: not shot yet",
        "captain-deck: begun and still open, 3 of 140 frames",
        "captain-chart: skipped, because: no time",
    ]
    session.begin(FIRST)  # back to one that is shot, and away from the one that is not
    lines = [line.text for line in handover_lines(session, clock.now)]
    assert [text in lines for text in texts] == [False, True, True]  # SECOND is due next


def test_a_setup_skipped_and_begun_after_all_is_not_skipped() -> None:
    session = begun(short(FIRST))
    session.skip_setup(FIRST, "no time")
    session.begin(FIRST)
    record = record_of(session)
    assert [setup.state for setup in record.setups] == ["begun", "not begun"]
    assert [setup.state for setup in record.not_shot] == ["open"]


def test_a_reading_at_the_background_is_compared_with_the_prediction_there() -> None:
    session = begun(short(FIRST))
    session.begin(FIRST)
    session.reading("B", 5.0)
    light = predict(session.plan, session.plan.setups[FIRST])
    there = next(head for head in light.heads if head.head == "B").at_aim_stops
    assert there is not None
    assert record_of(session).readings == ((FIRST, "B, at the background", "f/5.6", meter_text(there)),)


def test_batteries_are_estimated_from_frames_and_powers_as_shot() -> None:
    """40 frames and 3 test flashes at 1/8+0.3, a third of a stop over an eighth: derived by hand."""
    clock = SetClock()
    session = begun(short(FIRST), clock)
    shoot_one(session, clock)
    spent = {head.head: head.spent for head in battery_use(session.plan, session.state, session.counted)}
    assert spent["A"] == pytest.approx(43 * 2 ** (-3 + 1 / 3))
    assert spent["B"] == pytest.approx(43 / 8)
    assert spent["C"] == spent["D"] == 0.0


def test_missing_kit_is_in_the_record() -> None:
    session = played()
    struck(session)
    session.count_kit("cloth", (), ("voile",))
    record = record_of(session)
    assert record.missing == (("cloth", "voile"),)
    assert record.uncounted > 0


def test_a_day_not_begun_has_a_record() -> None:
    record = day_record(short(FIRST), [])
    assert record.began is None
    assert [setup.state for setup in record.setups] == ["not begun", "not begun"]
    assert record.setups[0].change_s is None
    session = begun(short(FIRST))
    session.hand_over("Kim")
    assert record_of(session).handovers == ("08:00 handed over to Kim (photo)",)
