"""The journal of a day: one append-only file beside the day.

What ``append`` has returned is on the disk. One program at a time writes; any number may read.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, suppress
from itertools import count, islice
from pathlib import Path
from typing import Any, Self

from runbook.files.atomic_write import sync_folder
from runbook.journal import journal_file as disk
from runbook.journal.errors import JournalError, journal_error, resolve, translate_errors
from runbook.journal.events import Entry, Rescued
from runbook.journal.journal_file import JournalContents, JournalFile

Clock = Callable[[], dt.datetime]


def journal_path(folder: Path, *, rehearsal: bool = False) -> Path:
    """Return the journal of a day's folder, or of its rehearsal."""
    return folder / ("rehearsal.runlog" if rehearsal else "journal.runlog")


class Journal:
    """A journal open for writing, held against any other writer until ``close``.

    Without a file it only lives in memory. ``unreadable`` lists the numbers under which the file
    holds no true entry; all the others are there. ``was_empty`` says that there was a file with
    nothing in it: whatever it once held is gone.
    """

    def __init__(self, clock: Clock, who: str, seen: JournalContents) -> None:
        """Not for use by itself: see ``open`` and ``in_memory``."""
        self.who = who
        self.unreadable = seen.unreadable
        self.was_empty = False
        self._clock = clock
        self._entries = list(seen.entries)
        self._given = len(self._entries)
        self._file: JournalFile | None = None
        self._lock = ExitStack()

    @classmethod
    def open(cls, path: Path, *, clock: Clock, who: str) -> Self:
        """Open a day's journal to write in, making it when there is none; an empty file is none.

        ``who`` signs the entries that no one else does. Raises JournalError.
        """
        path = resolve(path)
        with ExitStack() as lock:
            lock.enter_context(disk.locked(path, clock()))
            was_empty = disk.is_new(path) and path.exists()
            file = _open_or_create(path)
            lock.callback(file.close)
            journal = cls(clock, who, file.read())
            journal._file, journal._lock, journal.was_empty = file, lock.pop_all(), was_empty
        return journal

    @classmethod
    def in_memory(cls, *, clock: Clock, who: str, entries: Iterable[Entry] = (), on_disk: bool = True) -> Self:
        """Return a journal without a file, for a day that must go on; see ``write_out``.

        ``on_disk`` says that the entries given are still on a disk.
        """
        journal = cls(clock, who, JournalContents(tuple(entries)))
        journal._given = len(journal._entries) if on_disk else 0
        return journal

    @staticmethod
    def read(path: Path, size_max: int | None = None) -> JournalContents:
        """Return what a journal holds now, whether or not somebody has it open to write.

        No file is no entries. A file over ``size_max`` bytes is not read. Raises JournalError.
        """
        path = resolve(path)
        disk.check_regular(path, size_max)
        return disk.read_file(path)

    @property
    def on_disk(self) -> bool:
        """Whether what ``append`` returns outlives the program."""
        return self._file is not None

    @property
    def path(self) -> Path | None:
        """The file that ``append`` writes to; None for a journal in memory."""
        return None if self._file is None else self._file.path

    @property
    def entries(self) -> Sequence[Entry]:
        """All that was acknowledged, in order."""
        return self._entries

    @property
    def unwritten(self) -> Sequence[Entry]:
        """What is on no disk: it is gone when the program ends."""
        return () if self.on_disk else self._entries[self._given :]

    def append(self, data: Any, who: str | None = None) -> Entry:
        """Record what happened, now; it is on disk when this returns.

        Raises JournalError, so that it can be tried again; ValueError when the data does not fit its kind.
        """
        return self.append_all((data,), who)[0]

    def append_all(self, data: Sequence[Any], who: str | None = None) -> tuple[Entry, ...]:
        """Record several things that happened now, in order, all of them or none.

        Raises as ``append`` does.
        """
        at, who = self._clock(), self.who if who is None else who
        numbers = islice(self._free_numbers(), len(data))
        entries = tuple(disk.new_entry(n, at, who, each) for n, each in zip(numbers, data, strict=True))
        if self._file is not None:
            try:
                self._file.append(entries)
            except JournalError:
                if self._adopt_landed(self._file) != list(entries):
                    raise
                return entries
        self._entries += entries
        return entries

    def _adopt_landed(self, file: JournalFile) -> list[Entry]:
        """Take in what is on the disk past our last entry: somebody else's, or our own though it was refused."""
        landed: list[Entry] = []
        with suppress(JournalError):
            landed = file.entries_after(self._entries[-1].n if self._entries else 0)
        self._entries += landed
        return landed

    def go_back_to(self, path: Path) -> int:
        """Write what is only in memory to the file it began from, and go on there.

        The entries keep their numbers, times and signatures; all of them are written, or none.
        Returns how many that were. Raises JournalError, with the journal in memory as it was;
        also when somebody else wrote in the file meanwhile.
        """
        path = resolve(path)
        with ExitStack() as lock:
            lock.enter_context(disk.locked(path, self._clock()))
            file = _open_or_create(path)
            lock.callback(file.close)
            seen = file.read()
            rest = self._entries[len(seen.entries) :]
            # one that was refused may have landed all the same, by the clock of that try
            if any(_without_time(a) != _without_time(b) for a, b in zip(seen.entries, self._entries, strict=False)):
                raise journal_error("busy", path, "it holds entries that are not in this one")
            file.append(rest)
            self._file, self._lock, self.unreadable = file, lock.pop_all(), seen.unreadable
        self._entries = [*seen.entries, *rest]
        return len(rest)

    def write_out(self, path: Path) -> None:
        """Write all entries to a new journal file. Raises JournalError, also when it exists."""
        path = resolve(path)
        with translate_errors(path):
            if path.exists():
                raise JournalError("failed", f"{path.name} already exists", "choose a name that is free")
            try:
                disk.create(path, self._entries)
            except BaseException:
                path.unlink(missing_ok=True)
                raise

    def write_again(self, path: Path) -> int:
        """Write all entries to a fresh journal at ``path`` and go on there; how many they were.

        For a file that was damaged, or is gone, while the program has everything in memory. What is
        at ``path`` is kept beside it. Raises JournalError, with the journal as it was.
        """
        path = resolve(path)
        with ExitStack() as lock:
            if self.path != path:
                lock.enter_context(disk.locked(path, self._clock()))
            lost = tuple(row.n for row in self.unreadable)
            with translate_errors(path):
                aside = _keep(path) or (self.path.name if self.path else "")
                report = Rescued(aside, len(self._entries), lost, whole=not lost)
                last = disk.new_entry(next(self._free_numbers()), self._clock(), self.who, report)
                _replace(path, [*self._entries, last])
            file = JournalFile(path, write=True)
            if self._file is not None:
                self._file.close()
            if self.path != path:
                self._lock.close()
                self._lock = lock.pop_all()
        self._lock.callback(file.close)
        self._entries.append(last)
        self._file, self.unreadable = file, ()
        return len(self._entries) - 1

    def close(self) -> None:
        """Close the file and let others write. A journal in memory stays as it is."""
        self._lock.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _free_numbers(self) -> Iterator[int]:
        """Return the numbers for the next entries."""
        taken = {row.n for row in self.unreadable}
        first = self._entries[-1].n + 1 if self._entries else 1
        return (n for n in count(first) if n not in taken)


def _open_or_create(path: Path) -> JournalFile:
    if disk.is_new(path):
        with translate_errors(path):
            disk.create(path)
    return JournalFile(path, write=True)


def _without_time(entry: Entry) -> tuple[int, str, Any]:
    return entry.n, entry.who, entry.data


def repair(path: Path, *, clock: Clock, who: str) -> Path:
    """Put a fresh journal with all that can be rescued in a damaged one's place.

    The damaged file is kept under the name returned. The new one starts with the rescued entries
    as they were, their numbers too, and an entry that says what was lost. Raises JournalError.
    """
    path = resolve(path)
    with disk.locked(path, clock()), translate_errors(path):
        kept = disk.rescue(path)
        numbers = {entry.n for entry in kept}
        last = max(numbers, default=0)
        lost = tuple(n for n in range(1, last) if n not in numbers)
        aside = disk.keep_copy(path)
        _replace(path, [*kept, disk.new_entry(last + 1, clock(), who, Rescued(aside.name, len(kept), lost))])
    return aside


def _replace(path: Path, entries: Sequence[Entry]) -> None:
    """Put a journal with these entries in a file's place; at every moment either is there whole.

    Raises OSError or sqlite3.Error.
    """
    new = path.with_name(path.name + "-new")
    new.unlink(missing_ok=True)
    disk.create(new, entries)
    sync_folder(path.parent)
    # it belongs to the file before, and would be taken for the new one's
    disk.rollback_file(path).unlink(missing_ok=True)
    new.replace(path)
    sync_folder(path.parent)


def _keep(path: Path) -> str:
    """Keep a file as a copy, or else by renaming it; return its name, empty for no file. Raises JournalError."""
    if not path.exists():
        return ""
    try:
        return disk.keep_copy(path).name
    except OSError:  # it cannot even be read
        return disk.set_aside(path).name
