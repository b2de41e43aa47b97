"""The keys of the set screen for the camera's frames."""

from __future__ import annotations

from asyncio import to_thread
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final, Literal

from textual.binding import BindingType

from runbook.day.frames import Shot, frame_text
from runbook.day.parse_input import parse_ahead
from runbook.screens.actions import LightActions
from runbook.screens.base import asking, numbered
from runbook.screens.keys import key

if TYPE_CHECKING:
    from runbook.day.frame_actions import FrameActions

_RECENT: Final = 30  # frames to pick from
_NONE: Final = "no frame has arrived"


def _recent(shots: Sequence[Shot]) -> list[tuple[str, Shot]]:
    """Return the last frames in words, the newest first."""
    return [(f"{shot.taken:%H:%M:%S}  {frame_text(shot.frame)}", shot) for shot in shots[: -_RECENT - 1 : -1]]


class FrameKeys(LightActions):
    """What is done with frames by hand: what differs, the select, and what one menu holds."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("S", "select", "select", "make the last frame the one to match by eye"),
        key("F", "camera_frames", "camera frames", "move frames, camera clock, ambient test, grey card"),
    ]

    @property
    def pictures(self) -> FrameActions:
        """What can be done with frames, be their folder watched or not."""
        from runbook.day.frame_actions import frame_actions  # reads pictures: not what the start waits for

        return frame_actions(self.session)

    @asking
    async def action_other(self) -> None:
        """Deal with what differs in the frames; else enter another value."""
        view = self.session.view
        differ = view.frames.open_differences(self.session.state.at_work)
        codes = {one.difference.code for one in differ if one.still}
        take = [("t", "record the camera's settings as shot", "take")]
        choices = [
            *(take if codes - {"flash"} and "sync" not in codes else []),
            ("d", "the camera is corrected: dismiss this", "dismiss"),
            ("o", "change another value of this head or the camera", "other"),
        ]
        question = f"Frames differ: {'; '.join(one.text for one in differ)}."
        answer = await self.choose(question, choices) if differ else "other"
        if answer == "other":
            super().action_other()
        elif answer == "take":
            self.day.do(self.pictures.take_as_shot, lambda changed: f"{changed}, as shot")
        else:
            self.day.do(self.pictures.dismiss, "dismissed; the frames are unchanged")

    @asking
    async def action_select(self, n: int | None = None) -> None:
        """Make a frame the one to match its setup by: that of an entry, or the last of the setup."""
        pictures = self.pictures
        shot = pictures.to_select(n)
        small = await to_thread(pictures.small_of, shot)
        self.day.do(lambda: pictures.select(shot, small), str)

    @asking
    async def action_camera_frames(self) -> None:
        """Show what has arrived, and ask what to do with it."""
        frames, folder, last = self.session.view.frames, self.pictures.folder, self.session.state.shots
        parts = [
            f"watching {folder}" if folder else "no folder is watched",
            f"{len(frames.all)} arrived, {len(frames.unplaced)} of them in no setup",
            f"last: {frame_text(last.frame)}" if last else "",
            *frames.clock_lines,
        ]
        choices = [
            ("another frame as the select", self._other_select),
            ("move frames to another setup", self._place),
            ("set a camera's clock", self._set_clock),
            ("ambient test: the last two frames, with flash, then without", partial(self._compare, "ambient")),
            ("grey card: the last two frames, before and after", partial(self._compare, "grey card")),
        ]
        act = await self.choose(f"Frames: {'; '.join(filter(None, parts))}", numbered(choices))
        await act()

    async def _other_select(self) -> None:
        shots = self.session.view.frames.of(self.session.state.at_work)
        shot = await self.choose_of("Which frame is the one to match?", numbered(_recent(shots)), _NONE)
        self.action_select(shot.n)

    async def _place(self) -> None:
        frames = self.session.view.frames
        texts = [(f"{len(frames.unplaced)} in no setup", list(frames.unplaced))] if frames.unplaced else []
        for text, shot in _recent(frames.all):
            later = [each for each in frames.all if each.n >= shot.n]
            texts.append((f"from {text}, in {shot.setup or 'no setup'}: {len(later)}", later))
        shots = await self.choose_of("Move which frames to another setup?", numbered(texts), _NONE)
        setups = [(line.title, line.id) for line in self.session.view.setups]
        setup_id = await self.choose(f"Move {len(shots)} frames to which setup?", numbered([*setups, ("none", "")]))
        self.day.do(lambda: self.pictures.place([shot.n for shot in shots], setup_id or None), "frames moved")

    async def _set_clock(self) -> None:
        clocks = [(camera, camera) for camera in self.session.view.frames.clocks]
        one = len(clocks) == 1
        camera = clocks[0][0] if one else await self.choose_of("Which camera?", numbered(clocks), _NONE)
        hint = "seconds, like 3600 or -12; empty: from the frames as they arrive"
        (ahead_s,) = await self.ask(f"How far ahead is the clock of {camera}?", hint, parse_ahead)
        self.day.do(lambda: self.pictures.set_clock(camera, ahead_s), self._clocks)

    def _clocks(self, _: object) -> str:
        return "; ".join(self.session.view.frames.clock_lines)

    async def _compare(self, of: Literal["ambient", "grey card"]) -> None:
        pictures = self.pictures
        compared = await to_thread(pictures.compare, of)
        if self.day.do(lambda: pictures.record(compared), str) and of == "ambient":
            choices = [("n", "leave day.toml unchanged", None), ("y", "save it as this place's ambient light", True)]
            await self.choose(f"{self.day.message}.", choices)
            self.day.do(pictures.keep_ambient, str)
