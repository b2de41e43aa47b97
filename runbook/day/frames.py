"""The camera's frames: which setup each belongs to, by its camera's clock, and what in it differs from what was set.

All of it follows from the journal: a frame's event holds what its picture says, never what was made of it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from math import log2
from typing import Final, Literal

from runbook.day.timeline import Timeline
from runbook.journal.events import Entry, Frame
from runbook.model.day import Plan
from runbook.model.nominal_values import SHUTTER_MARKS, aperture_stops, iso_stops, shutter_stops
from runbook.model.setup import Setup

_SIXTH: Final = 1 / 6 + 1e-9  # of a stop: half of what a camera's dial clicks
_SAME_LENS: Final = 0.05  # cameras write the real focal length, kits the one on the barrel

# Our own figures for a camera's clock. A frame is written to the folder a few seconds after it was taken, always by
# about as much. A card's frames come all at once, so by other delays for each: they say nothing.
_ALIKE_S: Final = 3.0  # delays that differ by less are one
_FRAMES_LEAST: Final = 3
_SPAN_LEAST_S: Final = 20.0  # between the first and the last of them as they were taken
_WRITING_S: Final = 5.0  # what writing may take: a clock so little behind is right
_BACKLOG_S: Final = 900.0  # frames so much later than others came late; later still, the clock was set back

Code = Literal["aperture", "iso", "shutter", "sync", "lens", "flash"]


@dataclass(frozen=True, slots=True)
class Difference:
    """What a frame has in place of what was set: f-number, ISO, seconds or mm; no figures for a flash."""

    code: Code
    was: float = 0.0
    planned: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """A frame as it was placed: ``taken`` by this machine's clock, in ``setup`` (None: in none), after others.

    ``counted``: nobody saw it arrive, and it was already counted by hand.
    """

    entry: Entry
    taken: dt.datetime
    setup: str | None
    differs: tuple[Difference, ...]
    before: Shot | None
    counted: bool = False

    @property
    def n(self) -> int:
        """The number of its entry."""
        return self.entry.n

    @property
    def frame(self) -> Frame:
        """What its picture says."""
        frame: Frame = self.entry.data
        return frame


def shots_of(last: Shot | None) -> list[Shot]:
    """Return the frames up to one, as they arrived."""
    shots = []
    while last is not None:
        shots.append(last)
        last = last.before
    return shots[::-1]


# -- a camera's clock ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ClockOf:
    """What is known of a camera's clock.

    ``set_s`` is how far it is ahead as somebody set it; ``delays_s`` what frames came late by, so that it is known,
    the last first. The rest are the last frames that came by one delay.
    """

    set_s: float | None = None
    delays_s: tuple[float, ...] = ()
    delay_s: float = 0.0
    count: int = 0
    first: dt.datetime = dt.datetime.min.replace(tzinfo=dt.UTC)

    def after(self, taken: dt.datetime, delay_s: float) -> ClockOf:
        """Return it after one more frame, which came so much later than it was taken by the camera's clock."""
        if not self.count or abs(delay_s - self.delay_s) > _ALIKE_S:
            return replace(self, delay_s=delay_s, count=1, first=taken)
        then = replace(self, delay_s=min(delay_s, self.delay_s), count=self.count + 1, first=min(taken, self.first))
        sure = then.count >= _FRAMES_LEAST and (taken - then.first).total_seconds() >= _SPAN_LEAST_S
        is_new = not any(-_ALIKE_S <= then.delay_s - known < _BACKLOG_S for known in self.delays_s)
        return replace(then, delays_s=(then.delay_s, *self.delays_s)) if sure and is_new else then

    def ahead_s(self, delay_s: float | None = None) -> float:
        """Return how far the clock was ahead of this machine's when a frame was taken that came with such a delay.

        A frame cannot come before it is taken: of the delays known, the longest that is not longer than its own.
        """
        if self.set_s is not None:
            return self.set_s
        known = self.delays_s[0] if self.delays_s else 0.0
        if delay_s is not None:
            known = max((each for each in self.delays_s if each <= delay_s + _ALIKE_S), default=known)
        return 0.0 if 0 <= known <= _WRITING_S else -known

    @property
    def source(self) -> Literal["set", "arrivals", "unknown"]:
        """Where that is known from."""
        return "set" if self.set_s is not None else "arrivals" if self.delays_s else "unknown"


def moment_of(frame: Frame) -> dt.datetime:
    """Return when a frame was taken by its camera's clock. Raises ValueError where that is not a time."""
    return dt.datetime.fromisoformat(frame.taken)


def taken_at(frame: Frame, clock: ClockOf) -> dt.datetime:
    """Return when a frame was taken by this machine's clock. Raises ValueError where that is not a time."""
    moment, ahead_s = moment_of(frame), 0.0 if frame.by_file else clock.ahead_s(frame.delay_s)
    with suppress(OverflowError):
        return moment - dt.timedelta(seconds=ahead_s)
    return moment  # before the year 1, or after 9999


def setup_at(times: Timeline, moment: dt.datetime) -> str | None:
    """Return the setup that was at work at a moment; None before the first, in a break, and at the wrap."""
    if times.on_break is not None and moment >= times.on_break:
        return None
    if any(since <= moment < until for since, until, _ in times.pauses):
        return None
    return next((span.setup for span in reversed(times.spans) if span.begun <= moment), None)


# -- against what was set --------------------------------------------------------------------------


def differences(plan: Plan, setup: Setup, frame: Frame, *, body_fires: bool) -> Iterator[Difference]:
    """Yield what in a frame is not as the setup has it; nothing of what its picture does not say.

    ``body_fires`` says that earlier frames of that camera have the flash as fired: of other bodies the bit proves
    nothing, as a radio trigger does not tell them.
    """
    wanted, flash = setup.exposure, any(light.power.fires for light in setup.lights)
    if frame.f is not None and abs(aperture_stops(frame.f) - aperture_stops(wanted.f)) > _SIXTH:
        yield Difference("aperture", frame.f, wanted.f)
    if frame.iso is not None and abs(iso_stops(frame.iso) - iso_stops(wanted.iso)) > _SIXTH:
        yield Difference("iso", frame.iso, wanted.iso)
    if frame.shutter_s is not None and frame.shutter_s > 0:
        stops, sync = -log2(frame.shutter_s), plan.kit.camera.sync
        if flash and stops > shutter_stops(sync) + _SIXTH:
            yield Difference("sync", frame.shutter_s, 2 ** -shutter_stops(sync))
        elif abs(stops - shutter_stops(wanted.shutter)) > _SIXTH:
            yield Difference("shutter", frame.shutter_s, 2 ** -shutter_stops(wanted.shutter))
    lens = plan.kit.lens.get(setup.view.lens)
    if lens and frame.focal_mm is not None and abs(frame.focal_mm / lens.focal_mm - 1) > _SAME_LENS:
        yield Difference("lens", frame.focal_mm, lens.focal_mm)
    if flash and body_fires and frame.flash is not None and not frame.flash & 1:
        yield Difference("flash")


def shutter_text(seconds: float) -> str:
    """Return a shutter time as cameras mark it, ``1/160``; the nearest fraction where it is between the marks."""
    stops = -log2(seconds)
    mark = min(SHUTTER_MARKS, key=lambda mark: abs(SHUTTER_MARKS[mark] - stops))
    if abs(SHUTTER_MARKS[mark] - stops) < 0.1:
        return mark
    return f"1/{1 / seconds:.0f}" if seconds < 0.3 else f"{seconds:.3g}"


def difference_text(one: Difference) -> str:
    """``ISO 400, set 100``, ``1/250 s is over the sync 1/200``, ``the flash did not fire``."""
    if one.code == "flash":
        return "the flash did not fire"
    if one.code in ("shutter", "sync"):
        was, planned = shutter_text(one.was), shutter_text(one.planned)
        return f"{was} s is over the sync {planned}" if one.code == "sync" else f"{was} s, set {planned}"
    form = {"aperture": "f/{:.2g}", "iso": "ISO {:.0f}", "lens": "{:.0f} mm"}[one.code]
    return f"{form.format(one.was)}, set {form.format(one.planned).removeprefix('f/').removeprefix('ISO ')}"


def frame_text(frame: Frame) -> str:
    """``DSC1.JPG f/8, 1/160 s, ISO 100, 85 mm``; what its picture does not say is left out."""
    parts = (
        frame.f and f"f/{frame.f:.2g}",
        frame.shutter_s and f"{shutter_text(frame.shutter_s)} s",
        frame.iso and f"ISO {frame.iso:.0f}",
        frame.focal_mm and f"{frame.focal_mm:.0f} mm",
        "by the time of its file" if frame.by_file else "",
    )
    return f"{frame.name} {', '.join(part for part in parts if part)}".rstrip()
