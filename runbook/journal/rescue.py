"""Reading what SQLite still reads of a damaged journal, and keeping the damaged file."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from runbook.journal.entries import Entry
from runbook.journal.row import COLUMNS, entry_of
from runbook.journal.trouble import telling

PAGE_SIZE: Final = 4096
_LEAST_ROW: Final = 40  # bytes: no entry is so short, so a file holds no more than so many
_ROWS_MOST: Final = 1_000_000  # far more than a day's; a damaged size could be any number


def rescue(path: Path) -> list[Entry]:
    """Return every entry that SQLite still reads from a damaged journal, by number.

    The file itself is only read. Raises JournalTrouble when even that fails.
    """
    with telling(path), copied(path) as copy:
        return _rows_read(copy)


def _rows_read(copy: Path) -> list[Entry]:
    """The rows with a true checksum, each asked for by its own number.

    A page that cannot be read costs the rows on it: those of the other pages are still led to.
    """
    import sqlite3

    most = min(copy.stat().st_size // _LEAST_ROW, _ROWS_MOST)
    found: dict[int, Entry] = {}
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        connection.text_factory = bytes
        for n in range(1, most + 1):
            try:
                row = connection.execute(f"SELECT {COLUMNS} FROM entry WHERE n = {n}").fetchone()
            except (sqlite3.DatabaseError, UnicodeDecodeError):
                continue
            entry = None if row is None else entry_of(row)
            if isinstance(entry, Entry):
                found[n] = entry
    return list(found.values())


def set_aside(path: Path) -> Path:
    """Rename a journal to a free name beside it and give that name; nothing is overwritten.

    An unfinished write beside it goes along: it belongs to this file, and would spoil the next.
    Raises JournalTrouble when that cannot be done.
    """
    with telling(path), _taken_name(path) as aside:
        unfinished = beside(path)
        if unfinished.exists():
            unfinished.replace(beside(aside))
        path.replace(aside)
        return aside


def keep_copy(path: Path) -> Path:
    """Copy a journal, on disk for sure, to a free name beside it and give that name.

    Raises OSError.
    """
    with _taken_name(path) as aside:
        for one, other in ((beside(path), beside(aside)), (path, aside)):
            if one.exists():
                with one.open("rb") as source, other.open("wb") as target:
                    shutil.copyfileobj(source, target)
                    target.flush()
                    os.fsync(target.fileno())
        return aside


def beside(path: Path) -> Path:
    """The file in which SQLite keeps what an unfinished write must put back."""
    return path.with_name(path.name + "-journal")


def sync_file(path: Path) -> None:
    """Bring a file's content to the disk. Raises OSError."""
    with path.open("rb") as file:
        os.fsync(file.fileno())


def sync_folder(path: Path) -> None:
    """Bring the names in a file's folder to the disk. Raises OSError."""
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


@contextmanager
def _taken_name(path: Path) -> Iterator[Path]:
    """A name like ``journal.damaged-1.runlog`` that was free, held by an empty file.

    What happens to be there is never written over; where the work fails, nothing is left there.
    """
    n = 1
    while True:
        name = path.with_name(f"{path.stem}.damaged-{n}{path.suffix}")
        if not beside(name).exists():
            with contextlib.suppress(FileExistsError):
                name.touch(exist_ok=False)
                break
        n += 1
    try:
        yield name
    except OSError:
        name.unlink(missing_ok=True)
        raise


def settle(path: Path) -> None:
    """Have SQLite undo a write that a kill or a power cut left unfinished. Raises sqlite3.Error."""
    import sqlite3

    if beside(path).exists():
        with contextlib.closing(sqlite3.connect(path)) as connection:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()


@contextmanager
def copied(path: Path) -> Iterator[Path]:
    """A copy of a journal, and of an unfinished write beside it, for as long as it is needed."""
    with tempfile.TemporaryDirectory(prefix="runbook-") as folder:
        copy = Path(folder) / path.name
        for one, other in ((path, copy), (beside(path), beside(copy))):
            with contextlib.suppress(FileNotFoundError):
                shutil.copyfile(one, other)
        yield copy
