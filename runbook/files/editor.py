"""A day's folder while it is edited: every change whole or not at all, and every one undoable; a reading kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from runbook.files.atomic_write import new_mode, put_back, replace_files, temp_file
from runbook.files.edits import Change
from runbook.files.errors import Unreadable
from runbook.files.load import day_bytes, read_files
from runbook.files.paths import KIT_FILE
from runbook.files.toml_edit import NotEdited, add_table, set_value
from runbook.files.validate import plain
from runbook.model.day import Plan
from runbook.model.kit import Measured

_BOM: Final = b"\xef\xbb\xbf"
Bytes = dict[str, bytes | None]


@dataclass(frozen=True, slots=True)
class Deed:
    """One change as it was written: the files it touched, before and after, and what it was."""

    before: Bytes
    after: Bytes
    what: str


def stamp_of(moment: datetime) -> str:
    """A moment, to the second, as the name of a backup has it."""
    return f"{moment:%Y%m%d-%H%M%S}"


class Editor:
    """A day's folder on disk, and what was done to it since it was opened.

    ``stamp`` names the folder its files are kept in, as they were, before the first change is
    written: ``.backup-<stamp>``. Raises Unreadable as ``read_day``.
    """

    def __init__(self, folder: Path, stamp: str) -> None:
        self.folder = folder
        self.backup = folder / f".backup-{stamp}"
        put_back(folder)
        self.files = day_bytes(folder)
        self.plan = read_files(folder, self.files)
        self.texts = _texts(self.files)
        self.done: list[Deed] = []
        self.undone: list[Deed] = []
        self.kept = False

    def preview(self, change: Change) -> Plan:
        """The day as it would be. Raises NotEdited, with the reader's own words, if it could not be read."""
        return self._read(self._after(change))

    def _after(self, change: Change) -> Bytes:
        marked = {name for name, data in self.files.items() if data.startswith(_BOM)}
        return {
            name: None if text is None else (_BOM if name in marked else b"") + text.encode()
            for name, text in change.items()
        }

    def _read(self, after: Bytes) -> Plan:
        try:
            return read_files(self.folder, _with(self.files, after))
        except Unreadable as why:
            raise NotEdited(_first(why, after)) from None

    def apply(self, change: Change, what: str) -> None:
        """Write a change. Raises NotEdited, with nothing changed, when the day could not be read
        after it, when somebody else changed the files meanwhile, or when it cannot be written."""
        before = {name: self.files.get(name) for name in change}
        deed = Deed(before, self._after(change), what)
        if deed.before != deed.after:
            self._write(deed.after)
            self.done.append(deed)
            self.undone.clear()

    def undo(self) -> str:
        """Put the files back as they were before the last change; returns what it was."""
        if not self.done:
            raise NotEdited("no edit is left to undo")
        self._write(self.done[-1].before)
        self.undone.append(self.done.pop())
        return self.undone[-1].what

    def redo(self) -> str:
        """Make again the change that was undone last; returns what it was."""
        if not self.undone:
            raise NotEdited("no edit to bring back")
        self._write(self.undone[-1].after)
        self.done.append(self.undone.pop())
        return self.done[-1].what

    def look_again(self) -> bool:
        """Take in what somebody else changed on disk; what was done before can not be undone then.

        Returns whether anything was. Raises Unreadable as ``read_day``.
        """
        files = day_bytes(self.folder)
        if files == self.files:
            return False
        self.plan = read_files(self.folder, files)
        self.files, self.texts = files, _texts(files)
        self.done, self.undone = [], []
        return True

    def _write(self, after: Bytes) -> None:
        plan = self._read(after)
        try:
            now = day_bytes(self.folder)
        except Unreadable as why:
            raise NotEdited(str(why.faults[0])) from None
        if now != self.files:
            names = {name for name in now | self.files if now.get(name) != self.files.get(name)}
            raise NotEdited(f"{', '.join(sorted(names))} changed on disk meanwhile; look again")
        try:
            self._keep()
            replace_files(self.folder, self.files, after)
        except OSError as why:
            with suppress(OSError):  # where nothing is in it yet
                self.backup.rmdir()
            reason = (why.strerror or str(why)).lower()
            raise NotEdited(f"not written, nothing is changed: {reason}") from None
        self.plan = plan
        self.files = _with(self.files, after)
        self.texts = _texts(self.files)

    def _keep(self) -> None:
        """Keep the files as they were before the first change, once."""
        if self.kept or not self.files:
            return
        self.backup.mkdir(exist_ok=True)
        for name, data in self.files.items():
            temp_file(self.backup, data, new_mode()).replace(self.backup / name)
        self.kept = True


def _texts(files: Mapping[str, bytes]) -> dict[str, str]:
    return {name: data.decode("utf-8-sig") for name, data in files.items()}


def _with(files: Mapping[str, bytes], after: Bytes) -> dict[str, bytes]:
    return {name: data for name, data in {**files, **after}.items() if data is not None}


def _first(why: Unreadable, touched: Bytes) -> str:
    """The first fault, in the file that was touched if there is one, in a line."""
    fault = min(why.faults, key=lambda fault: Path(fault.file).name not in touched)
    where = "" if Path(fault.file).name in touched else Path(fault.file).stem
    return str(replace(fault, file=where, line=None))


# -- a reading kept in kit.toml ----------------------------------------------------------------


def same_use(rows: Sequence[Measured], row: Measured) -> tuple[int, ...]:
    """Which of the kit's rows are for the same head, modifier and accessories."""

    def use(each: Measured) -> tuple[str, str, list[str]]:
        return each.head, each.modifier, sorted(each.accessories)

    return tuple(n for n, each in enumerate(rows) if use(each) == use(row))


def replaced_by(rows: Sequence[Measured], row: Measured) -> int | None:
    """Which of the kit's rows never counts again once this one is there; None where all do.

    Of several rows for the same head, modifier and accessories the one nearest in distance counts, and of two as near
    the later. So a row taken at the same distance is written over; those taken from elsewhere stay.
    """
    at_m = round(row.distance_m, 3)
    same = [n for n in same_use(rows, row) if round(rows[n].distance_m, 3) == at_m]
    return same[-1] if same else None


def keep_measured(folder: Path, row: Measured, stamp: str) -> str | None:
    """Write a ``[[measured]]`` row into a day's kit.toml, whole or not at all.

    The files as they were are kept in ``.backup-<stamp>``, whose name is given back; None where the
    kit says so already, and nothing was written. Raises Unreadable where the day on disk cannot be
    read, NotEdited where kit.toml cannot be written.
    """
    editor = Editor(folder, stamp)
    text, rows = editor.texts[KIT_FILE], editor.plan.kit.measured
    row = replace(row, distance_m=round(row.distance_m, 3), reads_f=round(row.reads_f, 3))
    at = replaced_by(rows, row)
    if at is None:
        after = add_table(text, "measured", plain(row))
    else:
        old, after = plain(rows[at]), text
        for key, value in plain(row).items():
            if old[key] != value:
                after = set_value(after, ("measured", at, key), value)
    if after == text:
        return None
    editor.apply({KIT_FILE: after}, f"reading of {row.head} saved")
    return editor.backup.name
