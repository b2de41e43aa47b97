"""The camera's frames as screens, commands and reports show them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from runbook.day.event_text import clock_text
from runbook.day.frames import ClockOf, Difference, Shot, difference_text, shots_of
from runbook.day.state import DayState
from runbook.model.units import count_text

_SOURCES: Final = {"set": "set by hand", "arrivals": "from arrivals", "unknown": "not known yet: assumed right"}


@dataclass(frozen=True, slots=True)
class OpenDifference:
    """What differs in so many frames of a setup and is not dealt with; ``still`` in the last one too."""

    difference: Difference
    frames: int
    still: bool

    @property
    def text(self) -> str:
        """``ISO 400, set 100: 12 frames, not the last``."""
        frames = count_text(self.frames, "frame")
        return f"{difference_text(self.difference)}: {frames}{'' if self.still else ', not the last'}"


@dataclass(frozen=True)
class FramesView:
    """The frames of a day, from its state after the last event."""

    state: DayState

    @cached_property
    def all(self) -> tuple[Shot, ...]:
        """Every frame, as they arrived."""
        return tuple(shots_of(self.state.shots))

    @cached_property
    def _by_setup(self) -> dict[str | None, list[Shot]]:
        by_setup: dict[str | None, list[Shot]] = {}
        for shot in sorted(self.all, key=lambda shot: shot.taken):
            by_setup.setdefault(shot.setup, []).append(shot)
        return by_setup

    def setups(self, order: Iterable[str]) -> tuple[str, ...]:
        """The setups of the day in order, and others that frames belong to."""
        return tuple(dict.fromkeys((*order, *(str(shot.setup) for shot in self.all if shot.setup))))

    def of(self, setup_id: str | None) -> tuple[Shot, ...]:
        """The frames of a setup, as they were taken; None: those of none."""
        return tuple(self._by_setup.get(setup_id, ()))

    @property
    def unplaced(self) -> tuple[Shot, ...]:
        """The frames taken before the first setup, in a break or at the wrap."""
        return self.of(None)

    def open_differences(self, setup_id: str | None) -> tuple[OpenDifference, ...]:
        """What differs in the frames of a setup and was not dealt with, by its newest value."""
        checked = self.state.frames_checked.get(setup_id or "", 0)
        shots = [shot for shot in self.of(setup_id) if shot.n > checked] if setup_id else []
        newest = {one.code: one for shot in shots for one in shot.differs}
        counts = Counter(one.code for shot in shots for one in shot.differs)
        return tuple(OpenDifference(one, counts[code], one in shots[-1].differs) for code, one in newest.items())

    def differing(self) -> Iterator[tuple[str, str]]:
        """Yield what differs in all the frames of a setup, and in how many: ``ISO 400, set 100: 12 pictures``."""
        for setup_id, shots in self._by_setup.items():  # frames in none differ from nothing
            counts = Counter(difference_text(one) for shot in shots for one in shot.differs)
            for text, count in counts.items():
                yield str(setup_id), f"{text}: {count_text(count, 'picture')}"

    def select(self, setup_id: str) -> Shot | None:
        """The frame to match a setup by."""
        select = self.state.selects.get(setup_id)
        return next((shot for shot in self.all if select and shot.n == select.frame), None)

    def select_files(self, records: Path) -> dict[str, Path]:
        """The small pictures of those frames that are there, by setup; ``records`` is the folder of the journal."""
        files = {setup_id: records / Path(select.file).name for setup_id, select in self.state.selects.items()}
        return {setup_id: path for setup_id, path in files.items() if path.is_file()}

    @property
    def clocks(self) -> dict[str, ClockOf]:
        """The clocks of the cameras, by name."""
        return {camera: clock for camera, clock in self.state.clocks.items() if camera}

    @property
    def clock_lines(self) -> tuple[str, ...]:
        """``Maker M1: clock 3600 s ahead (from arrivals)``, for each camera."""
        return tuple(
            f"{camera}: clock {clock_text(clock.ahead_s())} ({_SOURCES[clock.source]})"
            for camera, clock in self.clocks.items()
        )


def frames_facts(view: FramesView, setups: Iterable[str], copies: list[dict[str, Any]] | None) -> dict[str, Any]:
    """Return the frames as plain data for a program."""
    clocks = view.clocks
    most = max(clocks, key=lambda camera: sum(shot.frame.camera == camera for shot in view.all), default=None)
    return {
        "setups": [
            {"id": setup_id, "frames": [_facts(view, shot) for shot in view.of(setup_id)]}
            for setup_id in view.setups(setups)
        ],
        "unplaced": [shot.frame.name for shot in view.unplaced],
        "camera_offset_s": None if most is None else clocks[most].ahead_s(),
        "cameras": [
            {"camera": camera, "offset_s": clock.ahead_s(), "from": clock.source} for camera, clock in clocks.items()
        ],
        "copies": copies,
    }


def _facts(view: FramesView, shot: Shot) -> dict[str, Any]:
    frame, select = shot.frame, view.state.selects.get(shot.setup or "")
    return {
        **{key: getattr(frame, key) for key in ("name", "by_file", "camera", "f", "shutter_s", "iso", "focal_mm")},
        "taken_at": shot.taken.isoformat(),
        "flash": None if frame.flash is None else bool(frame.flash & 1),
        "differs": [difference_text(one) for one in shot.differs],
        "select": select is not None and select.frame == shot.n,
    }
