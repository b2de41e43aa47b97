"""Frames counted beside the screens: what arrives is kept until it is taken, and trouble is said once."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from threading import Event
from types import SimpleNamespace
from typing import Any

import pytest

from runbook.commands import watch_frames
from runbook.commands.watch_frames import trouble_text, watch
from runbook.day.frame_actions import FrameActions
from runbook.files.watch import Arrival, FolderWatch
from runbook.journal.errors import JournalError
from tests.day.test_frame_actions import Cart
from tests.pictures import write


class Script(Event):
    """Looks as often as told, half a second apart by its clock, and something done before each."""

    def __init__(self, *before: Any) -> None:
        super().__init__()
        self.before = [*before]
        self.now = dt.datetime(2026, 12, 4, 10, tzinfo=dt.UTC)

    def wait(self, _timeout: float | None = None) -> bool:
        if not self.before:
            return True
        (self.before.pop(0) or (lambda: None))()
        self.now += dt.timedelta(seconds=0.5)
        return False

    def clock(self) -> dt.datetime:
        return self.now


def test_what_nobody_takes_is_offered_again(tmp_path: Path) -> None:
    taken: list[list[str]] = []

    def deliver(arrivals: Sequence[Arrival], _: str) -> bool:
        taken.append([arrival.name for arrival in arrivals])
        return len(taken) > 2

    script = Script(lambda: write(tmp_path, "a.jpg"), None, lambda: write(tmp_path, "b.jpg"), None, None, None)
    watch(FolderWatch(tmp_path), script.clock, deliver, script)
    assert taken == [["a.jpg"], ["a.jpg"], ["a.jpg", "b.jpg"]]


def test_trouble_is_said_once_and_the_day_goes_on(tmp_path: Path) -> None:
    lines: list[str] = []
    folder = FolderWatch(tmp_path / "card")

    def deliver(_: Sequence[Arrival], line: str) -> bool:
        lines.append(line)
        return True

    real = folder.look

    def broken() -> None:
        folder.look = lambda _: 1 / 0  # type: ignore[method-assign, assignment, return-value, misc]

    def mended() -> None:
        folder.look = real  # type: ignore[method-assign]

    watch(
        folder, (script := Script(None, None, broken, None, mended, folder.folder.mkdir, None)).clock, deliver, script
    )
    missing = f"frames are not counted: {tmp_path / 'card'}: no such file or directory"
    assert lines == [missing, "frames are not counted: division by zero", missing, ""]


def test_a_frame_that_cannot_be_recorded_costs_only_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And those that a full disk does not take are offered again."""
    cart, lines, taken, disk = Cart(tmp_path), list[str](), list[bool](), ["full"]
    arrivals, real = [cart.arrival(name) for name in ("a.jpg", "bad.jpg", "c.jpg")], FrameActions.take

    def take(actions: FrameActions, arrivals: Sequence[Arrival]) -> str:
        if any(arrival.name == "bad.jpg" for arrival in arrivals):
            raise ValueError("no such moment")
        if disk:
            raise JournalError("full", f"the disk is {disk.pop()}", "free some space")
        return real(actions, arrivals)

    monkeypatch.setattr(FrameActions, "take", take)
    offer = lambda deliver: taken.extend(deliver(arrivals, "") for _ in range(2))  # noqa: E731
    thread = lambda **of: SimpleNamespace(start=lambda: offer(of["args"][2]))  # noqa: E731
    monkeypatch.setattr(watch_frames, "Thread", thread)
    app: Any = SimpleNamespace(call_from_thread=lambda act, *args: act(*args), show_message=lines.append)
    app.refresh_screens = lambda: None
    watch_frames.start(app, cart.session, tmp_path)
    assert [shot.frame.name for shot in cart.session.view.frames.all] == ["a.jpg", "c.jpg"]
    bad = "not counted as a frame: bad.jpg: no such moment"
    assert (taken, lines) == ([False, True], ["frames are not counted: the disk is full; free some space", bad])


def test_what_is_left_out_is_one_line(tmp_path: Path) -> None:
    folder = FolderWatch(tmp_path)
    assert trouble_text(folder, {}) == ""
    assert trouble_text(folder, {"a.jpg": "not a picture"}) == "not counted as a frame: a.jpg: not a picture"
    two = trouble_text(folder, {"a.jpg": "not a picture", "b.jpg": "not a whole picture"})
    assert two == "not counted as a frame: b.jpg: not a whole picture, and 1 more"
