"""A day's folder while it is edited: every change whole or not at all, and every one undoable."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from runbook.files.atomic_write import new_mode, put_back, replace_files, temp_file
from runbook.files.edits import Change
from runbook.files.errors import Unreadable
from runbook.files.load import day_bytes, read_files
from runbook.files.toml_edit import NotEdited
from runbook.model.day import Plan

_BOM: Final = b"\xef\xbb\xbf"
Bytes = dict[str, bytes | None]


@dataclass(frozen=True, slots=True)
class Deed:
    """One change as it was written: the files it touched, before and after, and what it was."""

    before: Bytes
    after: Bytes
    said: str


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
        """The day as it would be. Raises NotEdited, with the reader's own words, if it could not
        be read."""
        return self._read(self._after(change), change)

    def _after(self, change: Change) -> Bytes:
        after: Bytes = {}
        for name, text in change.items():
            bom = _BOM if self.files.get(name, b"").startswith(_BOM) else b""
            after[name] = None if text is None else bom + text.encode()
        return after

    def _read(self, after: Bytes, touched: Iterable[str]) -> Plan:
        try:
            return read_files(self.folder, _with(self.files, after))
        except Unreadable as why:
            raise NotEdited(_first(why, touched)) from None

    def apply(self, change: Change, said: str) -> None:
        """Write a change. Raises NotEdited, with nothing changed, when the day could not be read
        after it, when somebody else changed the files meanwhile, or when it cannot be written."""
        before = {name: self.files.get(name) for name in change}
        deed = Deed(before, self._after(change), said)
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
        return self.undone[-1].said

    def redo(self) -> str:
        """Make again the change that was undone last; returns what it was."""
        if not self.undone:
            raise NotEdited("no edit to bring back")
        self._write(self.undone[-1].after)
        self.done.append(self.undone.pop())
        return self.done[-1].said

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
        plan = self._read(after, after)
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


def _first(why: Unreadable, touched: Iterable[str]) -> str:
    """The first fault, in the file that was touched if there is one, in a line."""
    names = set(touched)
    faults = sorted(why.faults, key=lambda fault: Path(fault.file).name not in names)
    fault = faults[0]
    where = "" if Path(fault.file).name in names else f"{Path(fault.file).stem}: "
    key = f"{fault.key}: " if fault.key else ""
    do = f"; {fault.do}" if fault.do else ""
    return f"{where}{key}{fault.what}{do}"
