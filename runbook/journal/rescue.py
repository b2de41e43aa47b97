"""Reading what SQLite still reads of a damaged journal, and keeping the damaged file."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from runbook.journal.errors import translate_errors
from runbook.journal.events import Entry
from runbook.journal.journal_file import COLUMNS, decode_row, rollback_file, temporary_copy

_LEAST_ROW: Final = 40  # bytes: no entry is so short, so a file holds no more than so many
_ROWS_MOST: Final = 1_000_000  # far more than a day's; a damaged size could be any number


def rescue(path: Path) -> list[Entry]:
    """Return every entry that SQLite still reads from a damaged journal, by number.

    The file itself is only read. Raises JournalError when even that fails.
    """
    with translate_errors(path), temporary_copy(path) as copy:
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
            entry = None if row is None else decode_row(row)
            if isinstance(entry, Entry):
                found[n] = entry
    return list(found.values())


def set_aside(path: Path) -> Path:
    """Rename a journal to a free name beside it and give that name; nothing is overwritten.

    An unfinished write beside it goes along: it belongs to this file, and would spoil the next.
    Raises JournalError when that cannot be done.
    """
    with translate_errors(path), _taken_name(path) as aside:
        unfinished = rollback_file(path)
        if unfinished.exists():
            unfinished.replace(rollback_file(aside))
        path.replace(aside)
        return aside


def keep_copy(path: Path) -> Path:
    """Copy a journal, on disk for sure, to a free name beside it and give that name.

    Raises OSError.
    """
    with _taken_name(path) as aside:
        for one, other in ((rollback_file(path), rollback_file(aside)), (path, aside)):
            if one.exists():
                with one.open("rb") as source, other.open("wb") as target:
                    shutil.copyfileobj(source, target)
                    target.flush()
                    os.fsync(target.fileno())
        return aside


def sync_file(path: Path) -> None:
    """Bring a file's content to the disk. Raises OSError."""
    with path.open("rb") as file:
        os.fsync(file.fileno())


@contextmanager
def _taken_name(path: Path) -> Iterator[Path]:
    """A name like ``journal.damaged-1.runlog`` that was free, held by an empty file.

    What happens to be there is never written over; where the work fails, nothing is left there.
    """
    n = 1
    while True:
        name = path.with_name(f"{path.stem}.damaged-{n}{path.suffix}")
        if not rollback_file(name).exists():
            with contextlib.suppress(FileExistsError):
                name.touch(exist_ok=False)
                break
        n += 1
    try:
        yield name
    except OSError:
        name.unlink(missing_ok=True)
        raise
