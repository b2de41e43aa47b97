"""A folder where pictures arrive, looked at again and again; sub-folders too.

Nothing is asked of the system's own notices: events get lost when a folder is filled at once, moved in, or unmounted
(seen with inotify). Whoever looks passes the time in; nothing here waits.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISREG
from typing import Final

from runbook.files.pictures import NotRead, Picture, is_picture_name, read_picture

LOOK_EVERY_S: Final = 0.4  # so that a picture is taken in within a second of being whole
_STILL_S: Final = 0.3  # between two looks: a file that was the same at both is no longer written
_LOOK_BACK_S: Final = 10.0  # how often files taken in already are looked at too: one may be written over
_PATIENCE_S: Final = 5.0  # before a file that does not become whole is spoken of
_READ_MAX: Final = 40  # pictures a look, so that what is found is on the record soon, and a stop is noticed

_Stamp = tuple[int, int]  # size in bytes, time of the last change in ns


@dataclass(frozen=True, slots=True)
class Arrival:
    """A whole picture in the folder, by its name there, like ``100CARD/DSC1.JPG``.

    ``changed`` is the file's own time. ``seen`` is when it was first seen; None where it was there before anybody
    looked, so that when it arrived is not known.
    """

    name: str
    picture: Picture
    changed: dt.datetime
    seen: dt.datetime | None


@dataclass(slots=True)
class _File:
    stamp: _Stamp
    since: dt.datetime
    seen: dt.datetime | None
    read: bool = False
    why_not: str = ""


class FolderWatch:
    """Looks at a folder of pictures, and gives each file once it is whole.

    ``trouble`` is why the folder cannot be looked at; empty while it can.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.trouble = ""
        self._whole: list[str] = []  # still to be read
        self._files: dict[str, _File] = {}
        self._looked_back: dt.datetime | None = None
        self._fresh = False  # whether the look before saw the folder

    def look(self, now: dt.datetime) -> list[Arrival]:
        """Return the pictures that have become whole since the last look, in the order of their names."""
        if not self._whole:
            self._list(now)
        names, self._whole = self._whole[:_READ_MAX], self._whole[_READ_MAX:]
        return [arrival for name in names if (arrival := self._read(name, now))]

    @property
    def busy(self) -> bool:
        """Whether there is more to read at once."""
        return bool(self._whole)

    @property
    def trouble_text(self) -> str:
        """Why nothing is counted, in words; empty where all is well."""
        return f"frames are not counted: {self.folder}: {self.trouble}" if self.trouble else ""

    def _list(self, now: dt.datetime) -> None:
        """Find the files that have become whole."""
        back = self._looked_back is None or (now - self._looked_back).total_seconds() >= _LOOK_BACK_S
        try:
            there = list(self._names())
        except OSError as problem:
            self.trouble = (problem.strerror or str(problem)).lower()
            self._fresh = False
            return
        self._whole = sorted(name for name in there if self._is_still(name, now, back=back))
        self.trouble, self._fresh = "", True
        if back:
            self._looked_back = now
            self._files = {name: self._files[name] for name in there if name in self._files}

    def left_out(self, now: dt.datetime) -> dict[str, str]:
        """Return the files that are no pictures, or that have not become whole for a while, with why."""
        return {
            "".join(char if char.isprintable() else "?" for char in name): file.why_not or "still being written"
            for name, file in self._files.items()
            if not self.busy and (file.why_not or not file.read) and (now - file.since).total_seconds() >= _PATIENCE_S
        }

    def _names(self) -> Iterator[str]:
        """Yield the pictures of the tree by name. Raises OSError only where the folder itself cannot be listed."""

        def failed(problem: OSError) -> None:
            if problem.filename == str(self.folder):
                raise problem  # another went away, or may not be read: the others still count

        for path, folders, names in os.walk(self.folder, onerror=failed):  # which follows no links round in a circle
            folders[:] = [name for name in folders if not name.startswith(".")]
            at = os.path.relpath(path, self.folder)
            yield from (name if at == "." else f"{at}/{name}" for name in names if is_picture_name(name))

    def _is_still(self, name: str, now: dt.datetime, *, back: bool) -> bool:
        """Return whether a file is to be read now: it is the same as at an earlier look, and was not read since."""
        file = self._files.get(name)
        given = file is not None and file.read and not file.why_not
        if given and not back:
            return False
        try:
            status = (self.folder / name).stat()
        except OSError:  # gone meanwhile
            return False
        if not S_ISREG(status.st_mode):  # a pipe would be waited on for ever
            return False
        stamp = (status.st_size, status.st_mtime_ns)
        if file is None or file.stamp != stamp:
            # when it came is not known of what is there at the first look, or as the folder comes back, or written over
            seen = (now if self._fresh else None) if file is None else None if given else file.seen
            self._files[name] = _File(stamp, now, seen)
            return False
        return not file.read and (now - file.since).total_seconds() >= _STILL_S

    def _read(self, name: str, now: dt.datetime) -> Arrival | None:
        file = self._files[name]
        try:
            if not name.isprintable():
                raise NotRead("its name cannot be written in the journal")  # noqa: TRY301
            picture = read_picture(self.folder / name)
        except (NotRead, OSError) as why:  # read again once it changes; at the next look where it may still be held
            file.read, file.why_not = isinstance(why, NotRead), (getattr(why, "strerror", None) or str(why)).lower()
            return None
        file.read, file.why_not = True, ""
        changed = dt.datetime.fromtimestamp(file.stamp[1] / 1e9, dt.UTC).astimezone(now.tzinfo)
        return Arrival(name, picture, changed, file.seen)
