"""The record: planned against real, from the journal alone."""

import pytest

from runbook.day.actions import Session
from runbook.day.day_record import battery_use, day_record
from runbook.day.handover_lines import handover_lines
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from tests.day.days import SetClock, begun, make_ready, short
from tests.played import FIRST, SECOND, half_way, shoot_one, struck


def played() -> tuple[Session, SetClock]:
    clock = SetClock()
    session = begun(short(FIRST, SECOND), clock)
    half_way(session, clock)
    return session, clock


def test_times_are_from_begun_to_the_last_step_to_called_shot() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(7)
    from tests.day.days import do_next

    while do_next(session):
        pass
    clock.move(20)
    session.mark_shot()
    clock.move(5)
    make_ready(session, None)
    first, wrap = day_record(session.plan, session.entries).setups
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
    record = day_record(session.plan, session.entries)
    assert record.setups[0].shoot_s == pytest.approx(15 * 60)
    assert record.breaks == ("meal: 08:10 to 08:55, 45 min",)


def test_a_clock_put_back_gives_no_time_below_none() -> None:
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(-500)
    from tests.day.days import do_next

    while do_next(session):
        pass
    clock.move(-500)
    session.mark_shot()
    first = day_record(session.plan, session.entries).setups[0]
    assert first.change_s == 0
    assert first.shoot_s == 0


def test_what_was_not_as_planned_is_named_once_with_its_last_value() -> None:
    session, _ = played()
    record = day_record(session.plan, session.entries)
    assert record.differences == ((FIRST, "A power: 1/8+0.3 instead of 1/8"),)
    assert [row[:3] for row in record.readings] == [(FIRST, "A", "f/4 +0.2"), (FIRST, "all heads", "f/4 +0.1")]


def test_near_misses_are_told_apart_from_notes() -> None:
    session, _ = played()
    session.note("Near-miss: the boom swung at second")
    session.note("nearly done")
    record = day_record(session.plan, session.entries)
    assert [line.split(" ", 1)[1] for line in record.near_misses] == [
        f"{SECOND}: Near-miss: the boom swung at second (photo)"
    ]
    assert len(record.notes) == 2


def test_what_was_skipped_keeps_its_reason() -> None:
    session, _ = played()
    session.skip_setup("widow-letter", "no time")
    step = session.view.pending.left[-1]
    session.skip_step(step, "metered by eye")
    told = day_record(session.plan, session.entries).set_aside
    assert len(told) == 2
    assert told[0].endswith("skipped: widow-letter, because: no time")
    assert told[1].endswith("because: metered by eye")


def test_what_is_not_shot_is_told_as_the_handover_tells_it() -> None:
    clock = SetClock()
    session = begun(short(FIRST, SECOND, "captain-deck", "captain-chart", "widow-letter"), clock)
    shoot_one(session, clock)
    session.begin("captain-deck")
    session.frames(3)
    session.skip_setup("captain-chart", "no time")
    record = day_record(session.plan, session.entries)
    assert [(each.id, each.state) for each in record.not_shot] == [
        (SECOND, "not shot yet"),
        ("captain-deck", "open"),
        ("captain-chart", "skipped"),
        ("widow-letter", "not begun"),
    ]
    assert [each.state for each in record.setups] == [
        "shot", "not shot yet", "begun", "skipped", "not begun", "not begun",
    ]  # fmt: skip
    told = [each.text for each in record.not_shot]
    assert told[:3] == [
        f"{SECOND}: not shot yet",
        "captain-deck: begun and still open, 3 of 140 frames",
        "captain-chart: skipped, because: no time",
    ]
    session.begin(FIRST)  # back to one that is shot, and away from the one that is not
    lines = [line.text for line in handover_lines(session, clock.now)]
    assert [text in lines for text in told[:3]] == [False, True, True]  # SECOND is due next


def test_a_setup_skipped_and_begun_after_all_is_skipped_no_more() -> None:
    session = begun(short(FIRST))
    session.skip_setup(FIRST, "no time")
    session.begin(FIRST)
    record = day_record(session.plan, session.entries)
    assert [each.state for each in record.setups] == ["begun", "not begun"]
    assert [each.state for each in record.not_shot] == ["open"]


def test_a_reading_at_the_background_stands_beside_what_the_sums_say_of_it_there() -> None:
    session = begun(short(FIRST))
    session.begin(FIRST)
    session.reading("B", 5.0)
    light = predict(session.plan, session.plan.setups[FIRST])
    there = next(each for each in light.heads if each.head == "B").at_aim_stops
    assert there is not None
    assert day_record(session.plan, session.entries).readings == (
        (FIRST, "B, at the background", "f/5.6", meter_text(there)),
    )


def test_batteries_are_reckoned_from_frames_and_powers_as_shot() -> None:
    """40 frames and 3 test pops at 1/8+0.3, a third of a stop over an eighth: derived by hand."""
    clock = SetClock()
    session = begun(short(FIRST), clock)
    shoot_one(session, clock)
    found = {each.head: each.spent for each in battery_use(session.plan, session.entries)}
    assert found["A"] == pytest.approx(43 * 2 ** (-3 + 1 / 3))
    assert found["B"] == pytest.approx(43 / 8)
    assert found["C"] == found["D"] == 0.0


def test_missing_kit_is_in_the_record() -> None:
    session, _ = played()
    struck(session)
    session.count_kit("cloth", (), ("voile",))
    record = day_record(session.plan, session.entries)
    assert record.missing == (("cloth", "voile"),)
    assert record.uncounted > 0


def test_a_day_only_handed_over_has_a_record() -> None:
    session = begun(short(FIRST))
    session.hand_over("Kim")
    record = day_record(session.plan, session.entries)
    assert [each.state for each in record.setups] == ["not begun", "not begun"]
    assert record.handovers == ("08:00 handed over to Kim (photo)",)


def test_a_day_nobody_began_has_a_record_that_says_so() -> None:
    record = day_record(short(FIRST), [])
    assert record.began is None
    assert [each.state for each in record.setups] == ["not begun", "not begun"]
    assert record.setups[0].change_s is None
