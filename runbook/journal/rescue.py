"""Reading what is left of a damaged journal, and setting the damaged file aside.

SQLite gives up where a page is wrong. Here every page of the file is looked at by itself, and every
row with a true checksum is kept, whatever became of the rest.
Format: https://sqlite.org/fileformat2.html, sections 1.6 (b-tree pages) and 2.1 (records).
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from runbook.journal.entries import Entry
from runbook.journal.row import entry_of
from runbook.journal.trouble import telling

PAGE_SIZE: Final = 4096
_LEAF: Final = 0x0D
_INNER: Final = 0x05
_LEAST_ROW: Final = 40  # bytes: no entry is so short, so a page holds no more than so many
_PAGES_MOST: Final = 10_000  # a day's journal is a hundred; a damaged count could be any number
_COLUMNS: Final = 7
_INT_SIZES: Final = (0, 1, 2, 3, 4, 6, 8)


def rescue(path: Path) -> list[Entry]:
    """Every entry that can still be read from a damaged journal, by number.

    The file itself is only read. Raises JournalTrouble when even that fails.
    """
    import sqlite3

    with telling(path), copied(path) as copy:
        found = _scanned(copy.read_bytes())
        # An interrupted write is undone: what it moved about may be whole again then.
        with contextlib.suppress(sqlite3.Error):
            settle(copy)
        found = _scanned(copy.read_bytes()) | found
    return [found[n] for n in sorted(found)]


def reached(path: Path) -> int:
    """The highest number that a damaged journal itself says it had an entry under; 0 for none.

    A page that leads to others names the last number on each; where those pages are gone, that is
    what tells of them. There may have been more. Raises JournalTrouble.
    """
    with telling(path):
        file = path.read_bytes()
    pages = max(int.from_bytes(file[28:32], "big"), len(file) // PAGE_SIZE)
    most = min(pages, _PAGES_MOST) * PAGE_SIZE // _LEAST_ROW
    named = [
        max(keys)
        for start in range(0, len(file), PAGE_SIZE)
        if (keys := _keys(file[start : start + PAGE_SIZE])) and max(keys) <= most
    ]
    return max(named, default=0)


def _keys(page: bytes) -> list[int]:
    """The numbers on a page that leads to others; none where it is no whole one."""
    if len(page) < PAGE_SIZE or page[0] != _INNER:
        return []
    count = int.from_bytes(page[3:5], "big")
    slots = range(12, 12 + 2 * count, 2)
    cells = [int.from_bytes(page[slot : slot + 2], "big") for slot in slots]
    try:
        keys = [_varint(page, cell + 4)[0] for cell in cells]
    except IndexError:
        return []
    whole = all(0 < one < other for one, other in pairwise([0.5, *keys]))
    return keys if whole else []


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


def _scanned(file: bytes) -> dict[int, Entry]:
    found: dict[int, Entry] = {}
    for start in range(0, len(file), PAGE_SIZE):
        page = file[start : start + PAGE_SIZE]
        head = 100 if start == 0 else 0
        if len(page) <= head + 8 or page[head] != _LEAF:
            continue
        count = int.from_bytes(page[head + 3 : head + 5], "big")
        for slot in range(head + 8, min(head + 8 + 2 * count, len(page) - 1), 2):
            cell = int.from_bytes(page[slot : slot + 2], "big")
            with contextlib.suppress(IndexError, ValueError):
                entry = entry_of(_record(file, page, cell))
                if isinstance(entry, Entry):
                    found[entry.n] = entry
    return found


def _record(file: bytes, page: bytes, cell: int) -> tuple[Any, ...]:
    """The columns of a table leaf's cell. Raises IndexError or ValueError when it is no row."""
    size, at = _varint(page, cell)
    n, at = _varint(page, at)
    payload = _payload(file, page, at, size)
    header, at = _varint(payload, 0)
    types: list[int] = []
    while at < header and len(types) < _COLUMNS:
        kind, at = _varint(payload, at)
        types.append(kind)
    if len(types) != _COLUMNS:
        raise ValueError("not a row of entries")
    values, at = [], header
    for kind in types:
        value, at = _value(payload, at, kind)
        values.append(value)
    return (n, *values[1:])  # the first column is the row's number, stored as its key


def _payload(file: bytes, page: bytes, at: int, size: int) -> bytes:
    most = PAGE_SIZE - 35
    if size <= most:
        return page[at : at + size]
    least = (PAGE_SIZE - 12) * 32 // 255 - 23
    local = least + (size - least) % (PAGE_SIZE - 4)
    local = local if local <= most else least
    parts = [page[at : at + local]]
    left = size - local
    following = int.from_bytes(page[at + local : at + local + 4], "big")
    while left > 0 and following > 0 and len(parts) <= len(file) // PAGE_SIZE:
        start = (following - 1) * PAGE_SIZE
        parts.append(file[start + 4 : start + 4 + min(left, PAGE_SIZE - 4)])
        left -= PAGE_SIZE - 4
        following = int.from_bytes(file[start : start + 4], "big")
    return b"".join(parts)


def _value(payload: bytes, at: int, kind: int) -> tuple[Any, int]:
    if kind in (8, 9):
        return kind - 8, at
    if 0 < kind < len(_INT_SIZES):
        end = at + _INT_SIZES[kind]
        return int.from_bytes(payload[at:end], "big", signed=True), end
    if kind >= 12:
        end = at + (kind - 12) // 2
        return payload[at:end], end
    return None, at


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for _ in range(8):
        byte = data[at]
        at += 1
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at
    return value << 8 | data[at], at + 1
