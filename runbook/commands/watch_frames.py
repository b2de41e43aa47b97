"""The folder of frames, watched while the day is open: beside the screens, in a thread of its own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING

from runbook.day.actions import Session
from runbook.day.frame_actions import FrameActions
from runbook.files.watch import LOOK_EVERY_S, Arrival, FolderWatch
from runbook.journal.errors import JournalError
from runbook.journal.journal import Clock

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

# takes what arrived, and a line to show; returns False where nobody is there to take it yet
Deliver = Callable[[Sequence[Arrival], str], bool]


def start(app: RunbookApp, session: Session, folder: Path) -> None:
    """Count the frames that arrive in a folder from when the app runs until the program ends."""
    session.pictures = pictures = FrameActions(session, folder)
    pictures.watched = watched = FolderWatch(folder)

    def show(arrivals: Sequence[Arrival], note: str) -> bool:
        try:
            text = pictures.take(arrivals) or note
        except JournalError as trouble:  # offered again; what is done on a screen meanwhile asks what to do
            app.show_message(f"frames are not counted: {trouble}")
            return False
        except Exception as problem:  # the day goes on, and so do the other frames
            if len(arrivals) == 1:
                app.show_message(f"not counted as a frame: {arrivals[0].name}: {problem}")
                return True
            return all(show([arrival], note) for arrival in arrivals)
        if text:
            app.show_message(text)
        elif not watched.busy:  # many at once are shown at the end, or with the next key
            app.refresh_screens()
        return True

    def deliver(arrivals: Sequence[Arrival], note: str) -> bool:
        try:
            return app.call_from_thread(show, arrivals, note) is True
        except RuntimeError:  # the app is not there yet, or no more
            return False

    Thread(target=watch, args=(watched, session.clock, deliver, Event()), daemon=True).start()


def watch(folder: FolderWatch, clock: Clock, deliver: Deliver, stop: Event) -> None:
    """Look at a folder until stopped, and deliver what arrives there, with a line where there is news of it."""
    waiting, last = list[Arrival](), ""
    while not stop.wait(0.03 if folder.busy else LOOK_EVERY_S):
        now = clock()
        try:
            waiting += folder.look(now)
            line = trouble_text(folder, folder.left_out(now))
        except Exception as problem:  # the day goes on
            line = f"frames are not counted: {problem}"
        if (waiting or line != last) and deliver(waiting, line if line != last else ""):
            waiting, last = [], line


def trouble_text(folder: FolderWatch, left_out: dict[str, str]) -> str:
    """Return why a folder cannot be looked at, or what in it was left out; empty where all is well."""
    if folder.trouble or not left_out:
        return folder.trouble_text
    name, why = next(reversed(left_out.items()))
    return f"not counted as a frame: {name}: {why}" + (f", and {len(left_out) - 1} more" if len(left_out) > 1 else "")
