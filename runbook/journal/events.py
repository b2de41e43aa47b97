"""What can happen on a day: the kinds of journal entry, and which of them still count.

An entry is never changed or deleted. A mistake is answered by an ``undone`` entry that names it;
``live`` says what is left. Each kind is a dataclass, checked by its annotations on the way into
the journal and on the way out again.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Annotated, Any, Final, Literal, TypeVar, dataclass_transform

from pydantic import Field, StringConstraints
from pydantic_core import ValidationError

from runbook.files.validate import parse_json, plain
from runbook.model.fields import Count, Id, NotNegative, Number

Text = Annotated[str, StringConstraints(strict=True, pattern=r"\S")]
Moment = Annotated[str, StringConstraints(strict=True, pattern=r"^\d{4}-\d\d-\d\dT[\d:.]{8,15}[+-]\d\d:\d\d")]
More = Annotated[int, Field(ge=1)]
Size = Annotated[int, Field(ge=0)]
MOST_GUST_MS: Final = 100.0  # what a hurricane's gusts reach; a number past it was typed wrong
# A value of a plan as its file writes it: a power is a text, a list of ids a tuple.
Value = str | float | bool | tuple[str, ...] | None
T = TypeVar("T")
KINDS: Final[dict[str, type]] = {}


@dataclass_transform(frozen_default=True)
def _kind(name: str) -> Callable[[type[T]], type[T]]:
    """Make a class the dataclass of the entries of this kind."""

    def register(cls: type[T]) -> type[T]:
        KINDS[name] = dataclass(frozen=True, slots=True)(cls)
        return KINDS[name]

    return register


@dataclass(frozen=True, slots=True)
class AsStood:
    """A whole setup as it stood when something of it was shot or metered, keyed as its file is.

    ``words`` say what no file can; ``asked`` is the setup as it was asked for that day, where steps
    were skipped and it stood otherwise.
    """

    setup: dict[str, Any]
    words: tuple[str, ...] = ()
    asked: dict[str, Any] | None = None


@_kind("day-opened")
class DayOpened:
    """The day was opened; ``plan`` is a digest of the plan it was opened with."""

    day: str
    plan: str
    version: str
    rehearsal: bool = False


@_kind("setup-begun")
class SetupBegun:
    """Work on a setup began: its changeover, then its shooting. None is the wrap: the strike.

    ``left`` is the setup that was at work before, as it stood, where nothing had been shot of it.
    """

    setup: Id | None
    left: AsStood | None = None


@_kind("step-ticked")
class StepTicked:
    """A step of the changeover to ``setup`` (None: to the empty floor) was done.

    ``step`` holds all that the floor needs to be played back without the plan: verb, kind, item,
    on, to, text. ``seconds`` is what it took, where that is known, and ``work`` the kind of work
    that this is a timing of.
    """

    setup: Id | None
    step: dict[str, Any]
    seconds: NotNegative | None = None
    work: str | None = None


@_kind("check-ticked")
class CheckTicked:
    """A line of the checklist was answered for, ``by`` whom, at which ``stage``."""

    check: str
    stage: str
    by: str
    setup: Id | None = None
    answer: str | None = None


@_kind("skipped")
class Skipped:
    """A step, a check or a whole setup was left out on purpose, and why.

    ``id`` names a check (of ``stage``) or a setup; ``step`` is a step's data, as in
    ``StepTicked``.
    """

    what: Literal["step", "check", "setup"]
    reason: Text
    setup: Id | None = None
    id: str | None = None
    step: dict[str, Any] | None = None
    stage: str | None = None


@_kind("undone")
class Undone:
    """Entry number ``entry`` does not count; undoing this one makes it count again."""

    entry: More


@_kind("changed")
class Changed:
    """A target of the setup was changed as shot.

    ``of`` and ``item`` say whose: a head or panel by its id; ``item`` is empty for the others, of
    which the setup has one. ``key`` is the key of the setup's file: ``power``, ``height_m``, ``f``.
    """

    setup: Id
    of: Literal["head", "panel", "camera", "subject", "background"]
    key: str
    before: Value
    now: Value
    item: str = ""


@_kind("reading")
class Reading:
    """The meter showed ``stops`` (log2 N squared), written ``f``, for one head or the whole set.

    ``stood`` is the setup as it was metered, where no entry before says so.
    """

    setup: Id
    head: Id | None
    stops: Number
    f: str
    where: str = "face"
    stood: AsStood | None = None


@_kind("frames")
class Frames:
    """So many more frames were shot; less than none corrects a count.

    ``stood`` is the setup as it was shot, where no entry before says so.
    """

    setup: Id
    added: int
    stood: AsStood | None = None


@_kind("frame")
class Frame:
    """A picture of the camera arrived, ``name`` in the folder of frames; it counts as one frame.

    ``taken`` is by the camera's own clock; where its EXIF says no time, it is the file's, and ``by_file``. ``flash``
    are the bits of the EXIF tag. ``delay_s`` is how much later it was first seen, by this machine's clock; None where
    it was there before. ``stood`` is the setup as it was shot, where no entry before says so.
    """

    name: Text
    bytes: Size
    fingerprint: str
    taken: Moment
    by_file: bool = False
    f: Number | None = None
    shutter_s: Number | None = None
    iso: Number | None = None
    focal_mm: Number | None = None
    flash: Size | None = None
    camera: str = ""
    delay_s: Number | None = None
    stood: AsStood | None = None


@_kind("frame-file")
class FrameFile:
    """Another file of the frame of entry ``frame``: its raw file, or the same one written again."""

    frame: More
    name: Text
    bytes: Size
    fingerprint: str


@_kind("frames-placed")
class FramesPlaced:
    """Frames, by their entries, belong to this setup (None: to none), whenever they were taken."""

    frames: tuple[More, ...]
    setup: Id | None


@_kind("camera-clock")
class CameraClock:
    """A camera's clock is so many seconds ahead of this machine's; None: work it out from when frames arrive."""

    camera: str
    ahead_s: Number | None


@_kind("frames-checked")
class FramesChecked:
    """What differs in a setup's frames, up to that of entry ``frame``, is dealt with."""

    setup: Id
    frame: More


@_kind("selected")
class Selected:
    """The frame of an entry is the one to match the setup by (None: none is); ``file`` is its small picture."""

    setup: Id
    frame: More | None
    file: str = ""


@_kind("compared")
class Compared:
    """By camera: the light in frame ``second`` against that in ``first``, in stops; of ambient light, or a grey card.

    ``clipped`` is the share of the picture that was left out because it clips.
    """

    setup: Id | None
    of: Literal["ambient", "grey card"]
    first: More
    second: More
    stops: Number
    clipped: Annotated[Number, Field(ge=0, le=1)] = 0.0


@_kind("note")
class Note:
    """A remark, about a setup or about the day."""

    setup: Id | None
    text: Text


@_kind("wind")
class Wind:
    """Gusts measured or estimated on the spot, in m/s; stands and panels are judged in them."""

    gust_ms: Annotated[Number, Field(ge=0.0, le=MOST_GUST_MS)]


@_kind("shot")
class SetupShot:
    """The setup was marked as shot. ``share`` is what its shooting took of the time planned for it.

    ``stood`` is the setup as it was shot, where no entry before says so.
    """

    setup: Id
    share: NotNegative | None = None
    stood: AsStood | None = None


@_kind("left")
class Left:
    """The program was left; the day goes on or is over."""


@_kind("handed-over")
class HandedOver:
    """The day was handed to another shooter."""

    to: Text


@_kind("resumed")
class Resumed:
    """The day was taken over from another shooter."""

    giver: Annotated[Text, Field(alias="from")]


@_kind("break-begun")
class BreakBegun:
    """A break of the day began; one that was not planned says how long, and why."""

    id: Id
    minutes: NotNegative | None = None
    reason: Text | None = None


@_kind("break-ended")
class BreakEnded:
    """A break of the day ended."""

    id: Id


@_kind("talent-late")
class TalentLate:
    """A talent comes later than planned: expected at ``due``, a time of day as ``HH:MM``.

    ``talent`` is the talent of a look, or ``look ID`` for a look that names none.
    """

    talent: Text
    due: Annotated[str, StringConstraints(strict=True, pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


@_kind("battery-changed")
class BatteryChanged:
    """A head got a full battery."""

    head: Id


@_kind("counted")
class Counted:
    """Things of one kind of the kit were counted home: those that are there, and those missing."""

    of: str
    home: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@_kind("rescued")
class Rescued:
    """All entries before this one were written again after a damaged journal, kept as ``file``.

    ``lost`` are the numbers under which nothing could be read. Entries after the last of them may
    be missing too, unless ``whole``: then they were in memory, and nothing else was ever there.
    """

    file: str
    kept: Count
    lost: tuple[int, ...] = ()
    whole: bool = False


_NAMES: Final = {cls: kind for kind, cls in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened: its number, when, who says so, and what."""

    n: int
    at: dt.datetime
    who: str
    kind: str
    data: Any

    def facts(self) -> dict[str, Any]:
        """The entry as one flat JSON object; ``at`` in the local time it was recorded in."""
        return {"n": self.n, "at": self.at.isoformat(), "who": self.who, "kind": self.kind, **plain(self.data)}


def kind_of(data: Any) -> str:
    """The name of the kind a value is. Raises ValueError when it is not a kind of entry."""
    try:
        return _NAMES[type(data)]
    except KeyError:
        raise ValueError(f"{type(data).__name__} is not a kind of journal entry") from None


def encode(data: Any) -> str:
    """An entry's data as one line of JSON. Raises ValueError when JSON cannot hold it."""
    text = json.dumps(plain(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    text.encode()  # half a surrogate pair is no text that a file can hold
    return text


def decode(kind: str, text: str | bytes) -> Any:
    """The data of an entry from its JSON. Raises ValueError saying what is wrong with it."""
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is not a kind of entry this program knows")
    try:
        return parse_json(KINDS[kind], text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "data"
        raise ValueError(f"{kind}: {where}: {first['msg']}") from None


def live(entries: Iterable[Entry]) -> list[Entry]:
    """The entries that still count, in order; ``undone`` entries themselves are left out.

    Undoing an ``undone`` brings back what it cancelled. An ``undone`` that names a later entry, or
    none, cancels nothing.
    """
    cancelled: set[int] = set()
    kept: list[Entry] = []
    # Backwards: what cancels an entry always comes after it, so its own fate is settled by then.
    for entry in sorted(entries, key=lambda entry: entry.n, reverse=True):
        if entry.n in cancelled:
            continue
        if isinstance(entry.data, Undone):
            cancelled.add(entry.data.entry)
        else:
            kept.append(entry)
    kept.reverse()
    return kept


# Frames come by themselves; who opened, left or handed over the day cannot be undone.
_BY_ITSELF: Final = (DayOpened, Left, Frame, FrameFile)
NOT_UNDONE: Final = (*_BY_ITSELF, Undone, HandedOver, Resumed, Rescued)


def last_undoing(entries: Sequence[Entry]) -> Entry | None:
    """Return the last undoing that still counts, if nothing else happened since."""
    recent = takewhile(lambda entry: isinstance(entry.data, (Undone, *_BY_ITSELF)), reversed(entries))
    undone: list[Entry] = []
    for entry in reversed([entry for entry in recent if isinstance(entry.data, Undone)]):
        if undone and entry.data.entry == undone[-1].n:
            undone.pop()
        else:
            undone.append(entry)
    return undone[-1] if undone else None
