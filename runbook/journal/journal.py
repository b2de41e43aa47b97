"""The journal of a day: one append-only file beside the day.

What ``append`` has returned is on the disk. One program at a time writes; any number may read.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from itertools import count
from pathlib import Path
from typing import Any, Self

from runbook.files.atomic_write import sync_folder
from runbook.journal.errors import JournalError, journal_error, resolve, translate_errors
from runbook.journal.events import Entry, Rescued
from runbook.journal.journal_file import (
    JournalContents,
    JournalFile,
    Row,
    check_regular,
    create,
    encode_row,
    is_new,
    read_once,
    rollback_file,
    temporary_copy,
)
from runbook.journal.lock import JournalLock
from runbook.journal.rescue import keep_copy, rescue, set_aside

Clock = Callable[[], dt.datetime]


def journal_path(folder: Path, *, rehearsal: bool = False) -> Path:
    """The journal of a day's folder, or of its rehearsal."""
    return folder / ("rehearsal.runlog" if rehearsal else "journal.runlog")


@contextmanager
def _taken(path: Path, clock: Clock) -> Iterator[tuple[JournalLock, JournalFile, bool]]:
    """A journal's file, held and open to write in, and whether it was there with nothing in it.

    Made when there is none. Both are kept, unless what is done with them first fails.
    """
    with ExitStack() as let_go:
        hold = JournalLock(path, clock())
        let_go.callback(hold.release)
        was_empty = False
        if is_new(path):
            was_empty = path.exists()
            with translate_errors(path):
                create(path)
        file = JournalFile(path, write=True)
        let_go.callback(file.close)
        yield hold, file, was_empty
        let_go.pop_all()


class Journal:
    """A journal open for writing, held against any other writer until ``close``.

    ``on_disk`` is False for one that only lives in memory. ``unreadable`` lists the numbers under
    which the file holds no true entry; all the others are there. ``was_empty`` tells that there was
    a file with nothing in it: whatever it once held is gone. ``is_locked`` is False where the file
    system has no locks to keep a second writer out.
    """

    def __init__(self, clock: Clock, who: str, seen: JournalContents) -> None:
        """Not for use by itself: see ``open`` and ``in_memory``."""
        self.who = who
        self.unreadable = seen.unreadable
        self.is_locked = True
        self.was_empty = False
        self._clock = clock
        self._entries = list(seen.entries)
        self._given = len(self._entries)
        self._file: JournalFile | None = None
        self._hold: JournalLock | None = None

    @classmethod
    def open(cls, path: Path, *, clock: Clock, who: str) -> Self:
        """Open a day's journal to write in, making it when there is none; an empty file is none.

        ``who`` signs the entries that no one else does. Raises JournalError.
        """
        path = resolve(path)
        with _taken(path, clock) as (hold, file, was_empty):
            journal = cls(clock, who, file.read())
        journal._file, journal._hold = file, hold
        journal.is_locked = hold.sure
        journal.was_empty = was_empty
        return journal

    @classmethod
    def in_memory(cls, *, clock: Clock, who: str, entries: Iterable[Entry] = (), on_disk: bool = True) -> Self:
        """A journal without a file, for a day that must go on; see ``write_out``.

        ``on_disk`` says that the entries given are still on a disk.
        """
        journal = cls(clock, who, JournalContents(tuple(entries)))
        journal._given = len(journal._entries) if on_disk else 0
        return journal

    @staticmethod
    def read(path: Path, size_max: int | None = None) -> JournalContents:
        """What a journal holds now, whether or not somebody has it open to write.

        No file is no entries. A file over ``size_max`` bytes is not read. Raises JournalError.
        """
        path = resolve(path)
        check_regular(path, size_max)
        try:
            return read_once(path)
        except JournalError as problem:
            # A killed writer's last write cannot be undone in a folder that cannot be written.
            if problem.kind != "read-only" or not rollback_file(path).exists():
                raise
        with translate_errors(path), temporary_copy(path) as copy:
            return read_once(copy)

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
        """What was put down on no disk: it is gone when the program ends."""
        return () if self.on_disk else self._entries[self._given :]

    def append(self, data: Any, who: str | None = None) -> Entry:
        """Put down what happened, now; it is on disk when this returns.

        Raises JournalError, with the journal as it was, so that it can be tried again; ValueError
        when the data does not fit its kind.
        """
        return self.append_all((data,), who)[0]

    def append_all(self, data: Sequence[Any], who: str | None = None) -> tuple[Entry, ...]:
        """Put down several things that happened now, in order, all of them or none.

        Raises as ``append`` does.
        """
        at, signed = self._clock(), self.who if who is None else who
        rows, entries = self._made(at, signed, data)
        if self._file is not None:
            tried = self._file.tried
            if tried:
                landed = self._file.landed(self._entries[-1].n if self._entries else 0)
                self._entries += landed
                if tried[-1] in landed and _same(tried, entries):
                    return tried
                rows, entries = self._made(at, signed, data)
            self._file.append(rows, entries)
        self._entries += entries
        return entries

    def _made(self, at: dt.datetime, who: str, data: Sequence[Any]) -> tuple[list[Row], tuple[Entry, ...]]:
        both = [encode_row(n, at, who, each) for n, each in zip(self._next(), data, strict=False)]
        return [row for row, _ in both], tuple(entry for _, entry in both)

    def go_back_to(self, path: Path) -> int:
        """Write what is only in memory to the file it began from, and go on there.

        The entries keep their numbers, times and signatures; all of them are written, or none.
        Returns how many that were. Raises JournalError, with the journal in memory as it was;
        also when somebody else wrote in the file meanwhile.
        """
        path = resolve(path)
        with _taken(path, self._clock) as (hold, file, _):
            seen = file.read()
            rest = self._after(seen, path)
            if rest:
                file.append([encode_row(e.n, e.at, e.who, e.data)[0] for e in rest], rest)
        self._entries = [*seen.entries, *rest]
        self._file, self._hold, self.unreadable = file, hold, seen.unreadable
        self.is_locked = hold.sure
        return len(rest)

    def _after(self, seen: JournalContents, path: Path) -> tuple[Entry, ...]:
        """What a file that was seen lacks. Raises JournalError when it holds what we do not."""
        there = len(seen.entries)
        # one that was refused may have landed all the same, by the clock of that try
        if not _same(seen.entries, self._entries[:there]):
            raise journal_error("busy", path, "it holds what was never said here")
        return tuple(self._entries[there:])

    def write_out(self, path: Path) -> None:
        """Write all entries to a new journal file. Raises JournalError, also when it exists."""
        path = resolve(path)
        with translate_errors(path):
            try:
                path.touch(exist_ok=False)
            except FileExistsError:
                what, do = f"{path.name} is there already", "choose a name that is free"
                raise JournalError("failed", what, do) from None
            try:
                create(path, self._entries)
            except BaseException:
                path.unlink()
                raise

    def write_again(self, path: Path) -> int:
        """Write all entries to a fresh journal at ``path`` and go on there; how many they were.

        For a file that was damaged, or is gone, while the program has everything in memory. What is
        at ``path`` is kept beside it. Raises JournalError, with the journal as it was.
        """
        path = resolve(path)
        ours = self._hold if self._file is not None and self._file.path == path else None
        hold = ours or JournalLock(path, self._clock())
        try:
            lost = tuple(row.n for row in self.unreadable)
            count = len(self._entries)
            with translate_errors(path):
                aside = _kept(path) or (self._file.path.name if self._file else "")
                data = Rescued(aside, count, lost, whole=not lost)
                note = encode_row(next(self._next()), self._clock(), self.who, data)[1]
                _replace(path, [*self._entries, note])
            file = JournalFile(path, write=True)
        except BaseException:
            if ours is None:
                hold.release()
            raise
        if self._file is not None:
            self._file.close()
        if self._hold is not None and ours is None:
            self._hold.release()
        self._entries.append(note)
        self._file, self._hold, self.unreadable = file, hold, ()
        self.is_locked = hold.sure
        return count

    def close(self) -> None:
        """Close the file and let others write. A journal in memory stays as it is."""
        if self._file is not None and self._hold is not None:
            self._file.close()
            self._hold.release()
            self._hold = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _next(self) -> Iterator[int]:
        """The numbers that are free, from the next one on."""
        taken = {row.n for row in self.unreadable}
        first = self._entries[-1].n + 1 if self._entries else 1
        return (n for n in count(first) if n not in taken)


def _same(some: Sequence[Entry], others: Sequence[Entry]) -> bool:
    """Whether the same people say the same of both, under the same numbers."""
    return [_but_when(each) for each in some] == [_but_when(each) for each in others]


def _but_when(entry: Entry) -> tuple[int, str, Any]:
    return entry.n, entry.who, entry.data


def repair(path: Path, *, clock: Clock, who: str) -> Path:
    """Put a fresh journal with all that can be rescued in a damaged one's place.

    The damaged file is kept under the name given back. The new one starts with the rescued entries
    as they were, their numbers too, and an entry that says what was lost. Raises JournalError.
    """
    path = resolve(path)
    hold = JournalLock(path, clock())
    try:
        kept = rescue(path)
        there = {entry.n for entry in kept}
        lost = tuple(n for n in range(1, max(there, default=0)) if n not in there)
        with translate_errors(path):
            aside = keep_copy(path)
            last = encode_row(max(there, default=0) + 1, clock(), who, Rescued(aside.name, len(kept), lost))[1]
            _replace(path, [*kept, last])
    finally:
        hold.release()
    return aside


def _replace(path: Path, entries: Sequence[Entry]) -> None:
    """Put a journal with these entries in a file's place; at every moment either is there whole.

    Raises OSError or sqlite3.Error.
    """
    new = path.with_name(path.name + "-new")
    new.unlink(missing_ok=True)
    create(new, entries)
    sync_folder(path.parent)
    # It belongs to the file before, and would be taken for the new one's.
    rollback_file(path).unlink(missing_ok=True)
    new.replace(path)
    sync_folder(path.parent)


def _kept(path: Path) -> str:
    """Keep what is under a name, as a copy or else by renaming it; its name, empty for nothing.

    Raises JournalError.
    """
    if not path.exists():
        return ""
    try:
        return keep_copy(path).name
    except OSError:  # it cannot even be read
        return set_aside(path).name
