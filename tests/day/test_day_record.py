"""The record of a day: planned against real, from the journal alone."""

import pytest

from runbook.day import day_record
from runbook.day.actions import Session
from runbook.day.handover_lines import handover_lines
from runbook.journal.events import Skipped
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from tests.day.days import FIRST, SECOND, SetClock, begun, do_all, make_ready, refused, short
from tests.day.progress import standing
from tests.played import half_way, shoot_one


def played() -> Session:
    clock = SetClock()
    session = begun(short(FIRST, SECOND), clock)
    half_way(session, clock)
    return session


def times(session: Session) -> list[day_record.SetupTimes]:
    return [*day_record.setup_times(session.plan, session.state, session.counted)]


def states(session: Session) -> list[str]:
    return [setup.state for setup in times(session)]


def use_of(session: Session, head: str) -> day_record.BatteryUse:
    uses = day_record.battery_use(session.plan, session.state, session.counted)
    return next(use for use in uses if use.head == head)


@pytest.mark.parametrize(("back_min", "change_min", "shoot_min"), [(0, 7, 25), (500, 0, 0)])
def test_times_are_from_begun_to_the_last_step_to_marked_as_shot_without_breaks(back_min, change_min, shoot_min):
    """A clock that was put back in between counts as no time."""
    clock = SetClock()
    session = begun(short(FIRST), clock)
    session.begin(FIRST)
    clock.move(7 - back_min)
    do_all(session)
    clock.move(20 - back_min)
    session.pause("meal")
    clock.move(45)
    session.resume()
    clock.move(5)
    session.mark_shot()
    session.pause("tea")
    make_ready(session, None)
    first, wrap = times(session)
    assert (first.change_s, first.shoot_s, first.state) == (60 * change_min, 60 * shoot_min, "shot")
    assert (wrap.id, wrap.began) == ("wrap", clock.now)
    if not back_min:
        assert (f"{first.began:%H:%M}", f"{first.ended:%H:%M}") == ("08:00", "09:17")
        breaks = ("meal: 08:27 to 09:12, 45 min", "tea: from 09:17")
        assert tuple(day_record.break_lines(session.counted)) == breaks


def test_a_difference_from_the_plan_is_recorded_once_with_its_last_value() -> None:
    session = played()
    assert day_record.differences(session.plan, session.state) == ((FIRST, "A power: 1/8+0.3 instead of 1/8"),)
    assert [row[:3] for row in day_record.reading_rows(session.plan, session.state)] == [
        (FIRST, "A", "f/4 +0.2"),
        (FIRST, "all heads", "f/4 +0.1"),
    ]


def test_near_misses_are_separate_from_notes_and_what_was_skipped_keeps_its_reason() -> None:
    session = played()
    session.note("Near-miss: the boom swung at second")
    session.note("nearly done")
    (miss,) = day_record.note_lines(session.counted, near_misses=True)
    assert miss.split(" ", 1)[1] == f"{SECOND}: Near-miss: the boom swung at second (photo)"
    assert len(day_record.note_lines(session.counted, near_misses=False)) == 2
    session.skip_setup("widow-letter", "no time")
    session.skip_step(session.view.pending.left[-1], "metered by eye")
    setup, step = day_record.entry_lines(day_record.of_type(session.counted, Skipped))
    assert setup == "08:36 skipped: widow-letter, because: no time (photo)"
    assert step.endswith("because: metered by eye (photo)")


def test_setups_not_shot_are_the_same_in_record_and_handover() -> None:
    clock = SetClock()
    session = begun(short(FIRST, SECOND, "captain-deck", "captain-chart", "widow-letter"), clock)
    shoot_one(session, clock)
    session.begin("captain-deck")
    session.frames(3)
    session.skip_setup("captain-chart", "no time")
    missed = {setup.id: setup for setup in day_record.not_shot(session.plan, session.state)}
    assert {setup.id: setup.state for setup in missed.values()} == {
        SECOND: "not shot yet", "captain-deck": "open", "captain-chart": "skipped", "widow-letter": "not begun",
    }  # fmt: skip
    assert states(session) == ["shot", "not shot yet", "begun", "skipped", "not begun", "not begun"]
    session.begin(FIRST)  # back to one that is shot, and away from the one that is not
    lines = [line.text for line in handover_lines(session, clock.now)]
    assert [missed[setup_id].text in lines for setup_id in (SECOND, "captain-deck", "captain-chart")] == [
        False, True, True,
    ]  # fmt: skip  # SECOND is due next


def test_a_setup_skipped_and_begun_after_all_is_not_skipped() -> None:
    session = begun(short(FIRST))
    assert states(session) == ["not begun", "not begun"]
    assert times(session)[0].change_s is None
    session.skip_setup(FIRST, "no time")
    session.begin(FIRST)
    assert states(session) == ["begun", "not begun"]
    assert [setup.state for setup in day_record.not_shot(session.plan, session.state)] == ["open"]


def test_a_reading_at_the_background_is_compared_with_the_prediction_there() -> None:
    session = begun(short(FIRST))
    session.begin(FIRST)
    session.reading("B", 5.0)
    heads = predict(session.plan, session.plan.setups[FIRST]).heads
    there = next(head for head in heads if head.head == "B").at_aim_stops
    row = (FIRST, "B, at the background", "f/5.6", meter_text(there))
    assert tuple(day_record.reading_rows(session.plan, session.state)) == (row,)


def test_batteries_are_estimated_from_frames_and_powers_as_shot_since_their_change() -> None:
    """Three test flashes and 40 frames: 43 at 1/8."""
    session = standing(short(FIRST))
    session.frames(40)
    assert [use_of(session, head).spent for head in "ABCD"] == [43 / 8, 43 / 8, 0.0, 0.0]
    session.battery_changed("A")
    assert (use_of(session, "A").spent, use_of(session, "B").spent) == (0, 43 / 8)
    session.nudge("A", 3)
    session.frames(8)
    use = use_of(session, "A")
    assert (use.spent, use.changed, use.charge) == (8 / 4, 1, True)
    for _ in range(3):
        session.undo()
    assert use_of(session, "A").spent == 43 / 8
    assert refused(session.battery_changed, "Z")
