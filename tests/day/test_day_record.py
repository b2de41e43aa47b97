"""The record of a day: planned against real, from the journal alone."""

import pytest

from runbook.day import day_record
from runbook.day.actions import Session
from runbook.day.handover_lines import handover_lines
from runbook.journal.events import HandedOver, Skipped
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from tests.day.days import SetClock, begun, do_next, make_ready, short
from tests.played import FIRST, SECOND, half_way, shoot_one


def played() -> Session:
    clock = SetClock()
    session = begun(short(FIRST, SECOND), clock)
    half_way(session, clock)
    return session


def times(session: Session) -> list[day_record.SetupTimes]:
    return [*day_record.setup_times(session.plan, session.state, session.counted)]


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
    first, wrap = times(session)
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
    assert times(session)[0].shoot_s == pytest.approx(15 * 60)
    assert tuple(day_record.break_lines(session.counted)) == ("meal: 08:10 to 08:55, 45 min", "tea: from 09:00")


def test_a_clock_put_back_gives_no_negative_time() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(-500)
    while do_next(session):
        pass
    clock.move(-500)
    session.mark_shot()
    first = times(session)[0]
    assert (first.change_s, first.shoot_s) == (0, 0)


def test_a_difference_from_the_plan_is_recorded_once_with_its_last_value() -> None:
    session = played()
    assert day_record.differences(session.plan, session.state) == ((FIRST, "A power: 1/8+0.3 instead of 1/8"),)
    assert [row[:3] for row in day_record.reading_rows(session.plan, session.state)] == [
        (FIRST, "A", "f/4 +0.2"),
        (FIRST, "all heads", "f/4 +0.1"),
    ]


def test_near_misses_are_separate_from_notes() -> None:
    session = played()
    session.note("Near-miss: the boom swung at second")
    session.note("nearly done")
    assert [line.split(" ", 1)[1] for line in day_record.note_lines(session.counted, near_misses=True)] == [
        f"{SECOND}: Near-miss: the boom swung at second (photo)"
    ]
    assert len(day_record.note_lines(session.counted, near_misses=False)) == 2


def test_what_was_skipped_keeps_its_reason() -> None:
    session = played()
    session.skip_setup("widow-letter", "no time")
    session.skip_step(session.view.pending.left[-1], "metered by eye")
    setup, step = day_record.entry_lines(day_record.of_type(session.counted, Skipped))
    assert "skipped: widow-letter, because: no time" in setup
    assert "because: metered by eye" in step


def test_setups_not_shot_are_the_same_in_record_and_handover() -> None:
    clock = SetClock()
    session = begun(short(FIRST, SECOND, "captain-deck", "captain-chart", "widow-letter"), clock)
    shoot_one(session, clock)
    session.begin("captain-deck")
    session.frames(3)
    session.skip_setup("captain-chart", "no time")
    missed = [*day_record.not_shot(session.plan, session.state)]
    assert [(setup.id, setup.state) for setup in missed] == [
        (SECOND, "not shot yet"),
        ("captain-deck", "open"),
        ("captain-chart", "skipped"),
        ("widow-letter", "not begun"),
    ]
    assert [setup.state for setup in times(session)] == [
        "shot", "not shot yet", "begun", "skipped", "not begun", "not begun",
    ]  # fmt: skip
    texts = [setup.text for setup in missed[:3]]
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
    assert [setup.state for setup in times(session)] == ["begun", "not begun"]
    assert [setup.state for setup in day_record.not_shot(session.plan, session.state)] == ["open"]


def test_a_reading_at_the_background_is_compared_with_the_prediction_there() -> None:
    session = begun(short(FIRST))
    session.begin(FIRST)
    session.reading("B", 5.0)
    light = predict(session.plan, session.plan.setups[FIRST])
    there = next(head for head in light.heads if head.head == "B").at_aim_stops
    assert there is not None
    assert tuple(day_record.reading_rows(session.plan, session.state)) == (
        (FIRST, "B, at the background", "f/5.6", meter_text(there)),
    )


def test_batteries_are_estimated_from_frames_and_powers_as_shot() -> None:
    """40 frames and 3 test flashes at 1/8+0.3, a third of a stop over an eighth: derived by hand."""
    clock = SetClock()
    session = begun(short(FIRST), clock)
    shoot_one(session, clock)
    spent = {head.head: head.spent for head in day_record.battery_use(session.plan, session.state, session.counted)}
    assert spent["A"] == pytest.approx(43 * 2 ** (-3 + 1 / 3))
    assert spent["B"] == pytest.approx(43 / 8)
    assert spent["C"] == spent["D"] == 0.0


def test_a_day_not_begun_has_a_record() -> None:
    session = begun(short(FIRST))
    assert [setup.state for setup in times(session)] == ["not begun", "not begun"]
    assert times(session)[0].change_s is None
    session.hand_over("Kim")
    assert day_record.entry_lines(day_record.of_type(session.counted, HandedOver)) == (
        "08:00 handed over to Kim (photo)",
    )
