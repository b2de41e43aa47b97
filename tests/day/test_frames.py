"""A camera's clock, the setup at work at a moment, and what differs in a frame."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day import frames as told
from runbook.day.timeline import timeline_of
from runbook.journal import events
from runbook.journal.events import Entry, Frame, kind_of
from tests.day.days import FIRST, SECOND, ZONE, demo

AT = dt.datetime(2026, 12, 4, 10, 0, tzinfo=ZONE)


def framed(taken: dt.datetime = AT, **more: Any) -> Frame:
    """A frame shot as the first setup of the demo day asks."""
    shown = {"f": 4.0, "shutter_s": 1 / 160, "iso": 100.0, "focal_mm": 85.0, "flash": 15, "camera": "Maker M1"}
    return Frame(name="a.jpg", bytes=1, fingerprint="x", taken=taken.isoformat(), **(shown | more))


def clock(*arrivals: tuple[float, float]) -> told.ClockOf:
    """A clock after frames, each taken so many seconds on, and so many later there."""
    known = told.ClockOf()
    for taken_s, delay_s in arrivals:
        known = known.after(AT + dt.timedelta(seconds=taken_s), delay_s)
    return known


# -- the clock -----------------------------------------------------------------------------------


@given(st.floats(-1e6, 1e6), st.lists(st.tuples(st.floats(0, 600), st.floats(0, 2.5)), min_size=3, max_size=9))
def test_frames_that_arrive_by_one_delay_tell_how_far_ahead_a_clock_is(ahead_s: float, frames: Any) -> None:
    times = sorted((n * 15.0 + late / 100, delay) for n, (late, delay) in enumerate(frames))
    known = clock(*((taken, delay - ahead_s) for taken, delay in times))
    assert known.source == "arrivals"
    assert known.ahead_s() == pytest.approx(ahead_s, abs=5.0)


def test_a_clock_a_few_seconds_behind_is_right_as_writing_takes_that_long() -> None:
    assert clock((0, 2.0), (15, 2.5), (30, 3.1)).ahead_s() == 0


@pytest.mark.parametrize("arrivals", [
    (),
    ((0, 2), (10, 2)),
    ((0, 2), (1, 2), (2, 2), (3, 2)),  # a burst is one moment
    tuple((60.0 * n, 3600 - 60.0 * n + n / 10) for n in range(20)),  # a card, copied at once
])  # fmt: skip
def test_too_little_tells_nothing_of_a_clock(arrivals: Any) -> None:
    known = clock(*arrivals)
    assert (known.source, known.ahead_s(1e6)) == ("unknown", 0.0)


def test_a_backlog_is_no_other_clock_and_a_clock_set_right_at_noon_is() -> None:
    slow = clock((0, 2), (15, 2), (30, 2), (60, 40), (90, 41), (120, 42))
    assert slow.delays_s == (2,)
    noon = clock((0, 3602), (15, 3602), (30, 3603), (7200, 2), (7215, 2), (7230, 3))
    assert noon.ahead_s(3603) == -3602  # a frame of the morning, that of whenever it comes
    assert noon.ahead_s(3) == noon.ahead_s() == 0


def test_a_clock_that_is_set_by_hand_holds() -> None:
    assert replace(clock((0, 2), (15, 2), (30, 2)), set_s=-90.0).ahead_s(2) == -90


def test_a_frame_is_taken_when_its_camera_says_by_that_clock_across_midnight_and_zones() -> None:
    ahead = told.ClockOf(set_s=3600.0)
    past_midnight = framed(dt.datetime(2026, 12, 5, 0, 30, tzinfo=ZONE))
    assert told.taken_at(past_midnight, ahead) == dt.datetime(2026, 12, 4, 23, 30, tzinfo=ZONE)
    elsewhere = framed(dt.datetime(2026, 12, 4, 4, 0, tzinfo=dt.timezone(dt.timedelta(hours=-5))))
    assert told.taken_at(elsewhere, told.ClockOf()) == AT
    assert told.taken_at(replace(past_midnight, by_file=True), ahead) == dt.datetime(2026, 12, 5, 0, 30, tzinfo=ZONE)
    first = Frame(name="a", bytes=1, fingerprint="", taken="0001-01-01T00:00:00+00:00")
    assert told.taken_at(first, ahead).year == 1
    with pytest.raises(ValueError, match="month"):
        told.taken_at(replace(first, taken="2026-13-45T10:00:00+01:00"), ahead)


# -- the setup at work ---------------------------------------------------------------------------


def test_the_setup_at_work_at_a_moment() -> None:
    day = [
        (0, events.SetupBegun(FIRST)), (60, events.BreakBegun("meal")), (90, events.BreakEnded("meal")),
        (120, events.SetupBegun(SECOND)), (180, events.SetupBegun(None)), (200, events.BreakBegun("meal")),
    ]  # fmt: skip
    times = timeline_of(
        Entry(n, AT + dt.timedelta(minutes=at), "photo", kind_of(data), data) for n, (at, data) in enumerate(day, 1)
    )
    for minute, setup in ((-1, None), (0, FIRST), (59, FIRST), (60, None), (89, None), (90, FIRST), (120, SECOND)):
        assert told.setup_at(times, AT + dt.timedelta(minutes=minute)) == setup, minute
    assert told.setup_at(times, AT + dt.timedelta(minutes=190)) is None
    assert told.setup_at(times, AT + dt.timedelta(minutes=210)) is None


# -- what differs --------------------------------------------------------------------------------


def codes(frame: Frame, *, body_fires: bool = True) -> list[str]:
    return [one.code for one in told.differences(demo(), demo().setups[FIRST], frame, body_fires=body_fires)]


@pytest.mark.parametrize(("more", "expected"), [
    ({}, []), ({"f": None, "shutter_s": None, "iso": None, "focal_mm": None, "flash": None}, []), ({"f": 4.2}, []),
    ({"f": 4.5}, ["aperture"]), ({"iso": 110.0}, []), ({"iso": 125.0}, ["iso"]), ({"shutter_s": 1 / 165}, []),
    ({"shutter_s": 1 / 125}, ["shutter"]), ({"shutter_s": 1 / 200}, ["shutter"]),
    ({"shutter_s": 1 / 250}, ["sync"]), ({"focal_mm": 84.0}, []), ({"focal_mm": 50.0}, ["lens"]),
    ({"flash": 0x10}, ["flash"]), ({"f": 8.0, "iso": 400.0}, ["aperture", "iso"]),
])  # fmt: skip
def test_what_differs_from_the_setup(more: Any, expected: list[str]) -> None:
    assert codes(framed(**more)) == expected


def test_a_flash_bit_counts_only_for_a_body_that_said_fired_before_and_a_setup_with_flash() -> None:
    assert codes(framed(flash=0x10), body_fires=False) == []
    dark = replace(demo().setups[FIRST], lights=())
    frame = framed(flash=0x10, shutter_s=1 / 250)
    assert [one.code for one in told.differences(demo(), dark, frame, body_fires=True)] == ["shutter"]


def test_what_differs_in_words() -> None:
    texts = {
        told.Difference("aperture", 8.0, 5.6): "f/8, set 5.6",
        told.Difference("iso", 400.0, 100.0): "ISO 400, set 100",
        told.Difference("shutter", 1 / 60, 2 ** -(22 / 3)): "1/60 s, set 1/160",
        told.Difference("sync", 1 / 320, 1 / 200): "1/320 s is over the sync 1/200",
        told.Difference("lens", 50.0, 85.0): "50 mm, set 85 mm",
        told.Difference("flash"): "the flash did not fire",
    }
    assert {one: told.difference_text(one) for one in texts} == texts
    assert told.frame_text(framed(by_file=True)) == "a.jpg f/4, 1/160 s, ISO 100, 85 mm, by the time of its file"
    assert told.frame_text(framed(f=None, shutter_s=None, iso=None, focal_mm=None)) == "a.jpg"
    assert [told.shutter_text(each) for each in (1 / 8000, 1 / 165, 1 / 180, 0.5, 2, 47.0)] == [
        "1/8000", "1/160", "1/180", "0.5", "2", "47",
    ]  # fmt: skip
