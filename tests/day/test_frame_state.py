"""Laws of frames: each is in one setup or in none, the counts agree, and a journal read again gives the same."""

import datetime as dt
from collections import Counter
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Refused
from runbook.day.frame_actions import FrameActions
from runbook.day.frames import Shot, shots_of
from runbook.day.reduce import state_after
from runbook.journal.events import Frame, Frames, live
from tests.day.days import FIRST, SECOND, SetClock, begun
from tests.day.test_frames import framed

PICK = st.integers(0, 5)
WALK = st.lists(
    st.tuples(
        st.sampled_from(["shoot"] * 6 + ["found", "count", "late", "begin", "break", "place", "clock", "undo", "redo"]),
        PICK,
    ),
    min_size=4,
    max_size=30,
)


def facts(shot: Shot | None) -> list[tuple[int, dt.datetime, str | None, object]]:
    return [(each.n, each.taken, each.setup, each.differs) for each in shots_of(shot)]


@settings(max_examples=25, deadline=None)
@given(WALK)
def test_every_frame_is_counted_once_whatever_happens(walk: list[tuple[str, int]]) -> None:
    clock = SetClock(10)
    session = begun(clock=clock)
    actions = FrameActions(session, Path())
    cameras = ("one", "two")

    def shoot(pick: int, late_s: float | None) -> None:
        ahead_s = (0.0, 3600.0)[pick % 2]
        taken = clock() + dt.timedelta(seconds=ahead_s) - dt.timedelta(minutes=0 if late_s else pick)
        delay_s = late_s and late_s - ahead_s
        session._write(framed(taken, camera=cameras[pick % 2], iso=100.0 * (1 + pick % 3), delay_s=delay_s))

    for action, pick in walk:
        clock.move(0.25 + pick)
        numbers = [shot.n for shot in session.view.frames.all]
        with suppress(Refused):
            match action:
                case "shoot" | "late" | "found":
                    shoot(pick, {"shoot": 2.0, "late": 400.0 * pick}.get(action))
                case "count":
                    session.frames(pick + 1)
                case "begin":
                    session.begin((FIRST, SECOND, None)[pick % 3])
                case "break":
                    session.pause("meal") if session.state.on_break is None else session.resume()
                case "place":
                    actions.place(numbers[: pick + 1], (FIRST, SECOND, None)[pick % 3])
                case "clock":
                    actions.set_clock(cameras[pick % 2], None if pick == 0 else 60.0 * pick)
                case _:
                    getattr(session, action)()
    counted = live(session.entries)
    view = session.view.frames
    assert [shot.n for shot in view.all] == [entry.n for entry in counted if isinstance(entry.data, Frame)]
    assert sum(len(view.of(setup_id)) for setup_id in (FIRST, SECOND, None)) == len(view.all)
    by_setup = Counter(shot.setup for shot in view.all if shot.setup and not shot.counted)
    by_hand = Counter(
        each.data.setup for each in counted if isinstance(each.data, Frames) for _ in range(each.data.added)
    )
    assert Counter(session.state.frames) == by_setup + by_hand
    assert all(left >= 0 for left, _ in session.state.by_hand.values())
    again = state_after(session.plan, counted)
    assert replace(again, shots=None) == replace(session.state, shots=None)
    assert facts(again.shots) == facts(session.state.shots)
