"""What is done with the camera's frames as the day goes on: taken in, placed, compared, one of them selected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from math import log2
from pathlib import Path
from typing import Final, Literal

from runbook.day.actions import Refused, Session
from runbook.day.event_text import compared_text
from runbook.day.frame_state import place_of
from runbook.day.frames import Shot, difference_text, frame_text, moment_of, shots_of, shutter_text
from runbook.day.state import snapshot_to_keep
from runbook.files.pictures import JPEGS, SELECT_START, NotRead, picture_codes, small_picture
from runbook.files.watch import Arrival, FolderWatch
from runbook.journal import events
from runbook.journal.events import Entry, Frame, FrameFile
from runbook.light.stops import INCIDENT_LUX
from runbook.model.nominal_values import aperture_stops, iso_stops

_SHOWN: Final = ("fingerprint", "f", "shutter_s", "iso", "focal_mm", "flash", "camera")
_SAME_TIME_S: Final = 2.0  # between a raw file and its JPEG, whose times may be those of the files
_SAME_STOPS: Final = 1 / 6
_CARD_MOST_STOPS: Final = 1.0  # a camera's tone curve makes a third of a stop's error there, and more beyond
_SURE_STOPS: Final = -3.0  # under which a camera's curve alone may cost a stop


class FrameIndex:
    """The files that frames were counted by: each frame once, however its files are named, moved or come again."""

    def __init__(self) -> None:
        self._read = 0
        self._prints: set[str] = set()
        self._stems: dict[str, Entry] = {}
        self._moments: dict[tuple[str, dt.datetime, str], int] = {}

    def read(self, entries: Sequence[Entry]) -> None:
        """Take in the entries that are new."""
        for entry in entries[self._read :]:
            data = entry.data
            if isinstance(data, Frame | FrameFile):
                self._prints.add(data.fingerprint)
            with suppress(ValueError):
                if isinstance(data, Frame):
                    self._moments[_moment(data)] = entry.n
                    self._stems[_stem(data.name)] = entry
        self._read = len(entries)

    def has(self, arrival: Arrival) -> bool:
        """Return whether this very file was counted, under whatever name."""
        return arrival.picture.fingerprint in self._prints

    def frame_of(self, frame: Frame) -> int | None:
        """Return the frame that a new file is another file of: its raw file or JPEG, or it was written again."""
        entry = self._stems.get(_stem(frame.name))
        if entry is not None:
            by_file = frame.by_file or entry.data.by_file
            if by_file or abs((moment_of(frame) - moment_of(entry.data)).total_seconds()) <= _SAME_TIME_S:
                return entry.n
        return self._moments.get(_moment(frame))


def _moment(frame: Frame) -> tuple[str, dt.datetime, str]:
    """Return what two files of a frame have in common. Raises ValueError for a time that does not exist."""
    return _stem(frame.name).rpartition("/")[2], moment_of(frame), frame.camera


def _stem(name: str) -> str:
    return name.rpartition(".")[0].lower()


class FrameActions:
    """A running day's frames: ``folder`` is where they arrive; None where nobody knows it."""

    def __init__(self, session: Session, folder: Path | None) -> None:
        self.session = session
        self.folder = folder
        self.watched: FolderWatch | None = None  # what looks at it, on a day that is open
        self._index = FrameIndex()

    # -- taking them in ------------------------------------------------------------------------------

    def take(self, arrivals: Iterable[Arrival]) -> str:
        """Record pictures that arrived, each frame once; return what differs in the newest, in words, or nothing.

        Raises JournalError, so that it can be tried again.
        """
        session, index, left = self.session, self._index, list(arrivals)
        last = session.state.shots
        index.read(session.entries)
        while left := [arrival for arrival in left if not index.has(arrival)]:
            data: dict[str, Frame | FrameFile] = {}  # one of a name at a time: two may be files of one new frame
            for frame in map(self._frame, left):
                n = index.frame_of(frame)
                file = frame if n is None else FrameFile(n, frame.name, frame.bytes, frame.fingerprint)
                data.setdefault(_stem(frame.name).rpartition("/")[2], file)
            session._write(*self._with_snapshot([*data.values()]))
            index.read(session.entries)
        shot = session.state.shots
        if shot is None or shot is last or not shot.differs:
            return ""
        return f"{shot.frame.name}: {', '.join(map(difference_text, shot.differs))}"

    def _frame(self, arrival: Arrival) -> Frame:
        """Return a picture as a frame: taken by its camera's clock, else at the time of its file."""
        picture, taken, seen = arrival.picture, arrival.picture.taken or arrival.changed, arrival.seen
        if taken.tzinfo is None:
            taken = taken.replace(tzinfo=self.session.clock().tzinfo)
        by_file = picture.taken is None
        delay_s = None if by_file or seen is None else round((seen.astimezone(dt.UTC) - taken).total_seconds(), 1)
        shown = {key: getattr(picture, key) for key in _SHOWN}
        return Frame(arrival.name, picture.size, taken=taken.isoformat(), by_file=by_file, delay_s=delay_s, **shown)

    def _with_snapshot(self, data: list[Frame | FrameFile]) -> list[Frame | FrameFile]:
        """Return entries, the first frame of the setup at work with that as it was shot, if no entry has it so far."""
        state = self.session.state
        for n, frame in enumerate(data):
            if isinstance(frame, Frame) and state.at_work and place_of(state, frame) == state.at_work:
                return [*data[:n], replace(frame, stood=snapshot_to_keep(self.session.plan, state)), *data[n + 1 :]]
        return data

    # -- placing them --------------------------------------------------------------------------------

    def place(self, frames: Sequence[int], setup_id: str | None) -> None:
        """Put frames, by the numbers of their entries, to a setup; None takes them away from all."""
        if setup_id is not None and setup_id not in self.session.plan.setups:
            raise Refused(f"no setup {setup_id}")
        self.session._write(events.FramesPlaced(tuple(frames), setup_id))

    def set_clock(self, camera: str, ahead_s: float | None) -> None:
        """Set how far a camera's clock is ahead of this machine's, in seconds; None works it out from arrivals."""
        clocks = self.session.state.clocks
        if camera not in clocks:
            raise Refused(f"no frame of {camera or 'that camera'} arrived; known: {', '.join(clocks)}")
        self.session._write(events.CameraClock(camera, ahead_s))

    # -- what differs --------------------------------------------------------------------------------

    def _shot(self, n: int | None = None) -> Shot:
        """Return the frame of an entry, or the last of the setup at work. Raises Refused where there is none."""
        here = self.session._at_work().id if n is None else None
        shots = reversed(shots_of(self.session.state.shots))
        shot = next((shot for shot in shots if (shot.setup == here if n is None else shot.n == n)), None)
        if shot is None:
            raise Refused(f"no frame of {here} has arrived" if n is None else f"entry {n} is not a frame")
        return shot

    def dismiss(self) -> None:
        """Record that what differs in the frames of the setup at work so far is dealt with."""
        shot = self._shot()
        self.session._write(events.FramesChecked(str(shot.setup), shot.n))

    def take_as_shot(self) -> str:
        """Record what the last frame has otherwise as the setup's settings as shot; return what changed, in words.

        A shutter over sync is not taken: part of the picture gets no flash.
        """
        session, shot = self.session, self._shot()
        codes = {one.code for one in shot.differs}
        if "sync" in codes:
            raise Refused(f"{'; '.join(map(difference_text, shot.differs))}: set the camera, then dismiss this")
        typed = [text for code, text in self._settings(shot.frame).items() if code in codes]
        if not typed:
            raise Refused("the last frame has the settings of the setup")
        try:
            changes = [change for text in typed for change in session.targets(None, text)]
        except ValueError as why:
            raise Refused(str(why)) from None
        text = session.change(tuple(changes))
        session._write(events.FramesChecked(str(shot.setup), shot.n))
        return text

    def _settings(self, frame: Frame) -> dict[str, str]:
        """Return what a frame was shot with, by what differs, as it would be typed for a target."""
        lenses = [lens.id for lens in self.session.plan.kit.lenses if abs(lens.focal_mm - (frame.focal_mm or 0)) < 1]
        return {
            "aperture": f"f {frame.f or 0:.2g}",
            "iso": f"iso {frame.iso or 0:.0f}",
            "shutter": f"shutter {shutter_text(frame.shutter_s or 1)}",
        } | ({"lens": f"lens {lenses[0]}"} if lenses else {})

    # -- the one to match ----------------------------------------------------------------------------

    @property
    def records(self) -> Path:
        """The folder of the journal. Raises Refused for a day without one."""
        path = self.session.journal.path or self.session.left_file
        if path is None:
            raise Refused("this day has no folder to keep a picture in")
        return path.parent

    def to_select(self, n: int | None = None) -> Shot:
        """Return a frame, by its entry, or the last one of the setup at work. Raises Refused where it is in none."""
        shot = self._shot(n)
        if shot.setup is None:
            raise Refused(f"{shot.frame.name} belongs to no setup; place it first")
        return shot

    def small_of(self, shot: Shot) -> bytes:
        """Return the small picture of a frame, which may take a while. Raises Refused."""
        try:
            return small_picture(self._file_of(shot))
        except (NotRead, OSError) as why:
            raise Refused(f"no small picture of {shot.frame.name}: {why}") from None

    def select(self, shot: Shot, small: bytes) -> str:
        """Make a frame the one to match its setup by; return it in words. Its small picture is beside the journal."""
        from runbook.files.atomic_write import file_mode, temp_file

        path = self.records / f"{SELECT_START}{shot.setup}-{shot.n}.jpg"
        try:
            temp_file(path.parent, small, file_mode(path)).replace(path)
        except OSError as why:
            raise Refused(f"the small picture of {shot.frame.name} is not written: {why}") from None
        self.session._write(events.Selected(str(shot.setup), shot.n, path.name))
        return f"select of {shot.setup}: {frame_text(shot.frame)}"

    def _file_of(self, shot: Shot) -> Path:
        """Return the file of a frame to look at: its JPEG before its raw file."""
        if self.folder is None:
            raise Refused("the folder of the frames is not watched; runbook open --frames FOLDER does")
        data = (entry.data for entry in self.session.entries if isinstance(entry.data, FrameFile))
        names = [shot.frame.name, *(each.name for each in data if each.frame == shot.n)]
        return self.folder / next((name for name in names if name.lower().endswith(JPEGS)), names[0])

    # -- light by camera -----------------------------------------------------------------------------

    def compare(self, of: Literal["ambient", "grey card"]) -> events.Compared:
        """Return how the light in the last two frames of the setup at work compares, which may take a while.

        ``ambient``: the first with flash, the second without. ``grey card``: the middle of the second over that of the
        first. Raises Refused where they say nothing of each other.
        """
        from runbook.light.two_frames import NotCompared, ambient_against_flash, middle_of, stops_between

        shots = self.session.view.frames.of(self._shot().setup)
        if len(shots) < 2:
            raise Refused("only one frame has arrived: two are compared")
        one, other = shots[-2:]
        _refuse_unlike(one.frame, other.frame)
        try:
            first, second = (picture_codes(self._file_of(shot)) for shot in (one, other))
            if of == "ambient":
                read = ambient_against_flash(first, second)
            else:
                read = stops_between(middle_of(first), middle_of(second))
        except (NotRead, NotCompared) as why:
            raise Refused(str(why)) from None
        if of == "grey card" and abs(read.stops) > _CARD_MOST_STOPS:
            raise Refused(f"about {abs(read.stops):.1f} stops apart: too far for a camera; bring them within a stop")
        return events.Compared(other.setup, of, one.n, other.n, round(read.stops, 2), round(read.clipped, 3))

    def record(self, compared: events.Compared) -> str:
        """Record how the light in two frames compares; return it in words, ambient light beside its prediction."""
        self.session._write(compared)
        words = compared_text(compared)
        if compared.of == "ambient":
            words += "; it may be a stop off, so far under" if compared.stops < _SURE_STOPS else ""
            light = self.session.view.prediction if compared.setup == self.session.state.at_work else None
            if light is not None and light.ambient_under_stops is not None:
                words += f"; predicted {light.ambient_under_stops:.1f} under"
        return words

    def keep_ambient(self) -> str:
        """Save the ambient light of the last ambient test as ``ambient_lux`` in day.toml; return it in words.

        The flash is taken to be exposed as set. Undo does not take it back.
        """
        from runbook.files.editor import Editor, put, stamp_of
        from runbook.files.errors import Unreadable
        from runbook.files.paths import DAY_FILE
        from runbook.files.toml_edit import NotEdited
        from runbook.light.solve import with_powers

        session = self.session
        tests = (each.data for each in reversed(session.counted) if isinstance(each.data, events.Compared))
        test = next((test for test in tests if test.of == "ambient"), None)
        if test is None or session.folder is None:
            raise Refused("no ambient test of this day, or no folder to save it in")
        lux = round(ambient_lux(self._shot(test.second).frame, test.stops), 1)
        try:
            editor = Editor(session.folder, stamp_of(session.clock()), with_powers)
            editor.apply(put(editor.texts, DAY_FILE, ("place", "ambient_lux"), lux), "ambient light by camera")
        except (Unreadable, NotEdited) as why:
            raise Refused(f"day.toml is not written: {why}") from None
        session.replan(editor.plan, editor.files)
        return f"ambient_lux = {lux:g}, by camera, in day.toml (before: {editor.backup.name})"


def frame_actions(session: Session) -> FrameActions:
    """Return what can be done with a day's frames, be their folder watched or not."""
    return session.pictures or FrameActions(session, None)


def ambient_lux(frame: Frame, stops: float) -> float:
    """Return the ambient light in lux that is so many stops over the exposure of a frame: ``N² = t · ISO · lux / 250``.

    Raises Refused where the frame does not say how it was exposed.
    """
    if not (frame.f and frame.shutter_s and frame.iso):
        raise Refused(f"{frame.name} does not say how it was exposed")
    exposed = aperture_stops(frame.f) - log2(frame.shutter_s) - iso_stops(frame.iso)
    return float(INCIDENT_LUX / 100 * 2 ** (exposed + stops))


def _refuse_unlike(one: Frame, other: Frame) -> None:
    """Raise Refused where two frames were not exposed alike, or do not say."""
    for what, key, per in (("aperture", "f", 2), ("shutter", "shutter_s", 1), ("ISO", "iso", 1)):
        first, second = (getattr(frame, key) or 0 for frame in (one, other))
        if min(first, second) <= 0:
            raise Refused(f"the {what} of {one.name} and {other.name} is not known")
        if abs(log2(first / second)) * per > _SAME_STOPS:
            raise Refused(f"{one.name} and {other.name} differ in {what}: shoot both alike")
