"""The journal's SQLite file: made whole, checked when it is opened, and only ever added to.

A rollback journal, and not a write-ahead log, because the file must be whole by itself between any
two entries: it is copied to a stick, mailed, read from a folder that cannot be written; and after
a kill the next opening puts it right without anybody's help. ``synchronous=EXTRA`` also syncs the
folder after SQLite has taken its rollback journal away, without which a power cut could bring that,
and so the state before the last entry, back (https://sqlite.org/pragma.html#pragma_synchronous).
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import stat
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote
from zlib import crc32

from runbook.journal.errors import journal_error, translate_errors
from runbook.journal.events import Entry, Rescued, decode, encode, kind_of

if TYPE_CHECKING:
    import sqlite3

PAGE_SIZE: Final = 4096
COLUMNS = "n, at, offset_s, who, kind, data, crc"
# n, at (UTC, ISO), offset of the local time in s, who, kind, data (JSON), checksum
Row = tuple[int, str, int, str, str, str, int]
APPLICATION_ID: Final = 0x72756E6C  # "runl"
_MAGIC: Final = b"SQLite format 3\0"
_WAIT_S: Final = 2.0

# Each script takes a file of the version that is its index to the next; a new file starts at 0.
VERSIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE entry (n INTEGER PRIMARY KEY CHECK (n > 0), at TEXT NOT NULL, "
        "offset_s INTEGER NOT NULL, who TEXT NOT NULL, kind TEXT NOT NULL, data TEXT NOT NULL, "
        "crc INTEGER NOT NULL)",
        "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END",
        "CREATE TRIGGER entry_kept BEFORE DELETE ON entry "
        "BEGIN SELECT RAISE(ABORT, 'an entry is never taken out'); END",
        # INSERT OR REPLACE would take one out without asking the trigger above
        "CREATE TRIGGER entry_first BEFORE INSERT ON entry "
        "WHEN EXISTS (SELECT 1 FROM entry WHERE n = NEW.n) "
        "BEGIN SELECT RAISE(ABORT, 'this number is taken'); END",
    ),
)
_INSERT: Final = f"INSERT INTO entry ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)"


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A row that holds no true entry: its number, and what is wrong."""

    n: int
    why: str


@dataclass(frozen=True, slots=True)
class JournalContents:
    """What a journal holds at one moment: its entries, and the numbers that cannot be read."""

    entries: tuple[Entry, ...] = ()
    unreadable: tuple[Unreadable, ...] = ()


class JournalFile:
    """An open journal file. Every refusal of the system or of SQLite comes as JournalError.

    ``tried`` are the entries a refused ``append`` would have added: only a look at the disk can
    tell whether it did.
    """

    def __init__(self, path: Path, *, write: bool) -> None:
        """Raises JournalError when the file is not a whole journal of a version known here."""
        self.path = path
        self.tried: tuple[Entry, ...] = ()
        with translate_errors(path):
            _check_start(path)
            self._connection = _connect(path, "rw")
            self._is = _identity(path)
            try:
                self._check(write)
            except BaseException:
                self.close()
                raise

    def _check(self, write: bool) -> None:
        version = int(self._ask("PRAGMA user_version"))
        if version > len(VERSIONS):
            raise journal_error("newer", self.path, f"version {version}, this one knows {len(VERSIONS)}")
        _check_tables(self._connection, self.path, version)
        found = self._ask("PRAGMA quick_check(1)")
        if found != b"ok":
            raise journal_error("damaged", self.path, found.decode(errors="replace"))
        if write:
            self._ask("PRAGMA journal_mode=DELETE")
            self._connection.execute("BEGIN IMMEDIATE")
            # SQLite opens a file it cannot write without a word, so begin a write in any case
            _upgrade(self._connection, version)
            self._connection.execute("COMMIT" if version < len(VERSIONS) else "ROLLBACK")

    def _ask(self, question: str) -> bytes:
        answer: bytes = self._connection.execute(question).fetchone()[0]
        return answer

    def read(self) -> JournalContents:
        """All that the file holds."""
        read = self._rows_after(0)
        entries = tuple(one for one in read if isinstance(one, Entry))
        unreadable = [one for one in read if isinstance(one, Unreadable)]
        return JournalContents(entries, (*unreadable, *_missing(entries, unreadable)))

    def append(self, rows: Sequence[Row], entries: tuple[Entry, ...]) -> None:
        """Put rows on the disk, all or none; back only when they are there."""
        self._stands()
        self.tried = entries
        with translate_errors(self.path), self._connection as connection:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(_INSERT, rows)
        self._stands()
        self.tried = ()

    def landed(self, last: int) -> list[Entry]:
        """What is on the disk after entry ``last`` although nobody here was told so."""
        self._stands()
        read = self._rows_after(last)
        self.tried = ()
        return [one for one in read if isinstance(one, Entry)]

    def close(self) -> None:
        """Close the file. What is in it is on the disk already."""
        self._connection.close()

    def _rows_after(self, last: int) -> list[Entry | Unreadable]:
        # damage may have made numbers of rows that no row ever had, so a whole reading has no limit
        where = f"WHERE n > {last} " if last else ""
        with translate_errors(self.path):
            rows = self._connection.execute(f"SELECT {COLUMNS} FROM entry {where}ORDER BY n")
            return [decode_row(row) for row in rows.fetchall()]

    def _stands(self) -> None:
        """Raises JournalError when the name no longer leads to the file that is open."""
        with translate_errors(self.path):
            if _identity(self.path) != self._is:
                raise journal_error("gone", self.path, "another file has its name")


def create(path: Path, entries: Iterable[Entry] = ()) -> None:
    """Make a journal that holds these entries, where no file or an empty one is.

    One transaction: a kill leaves all of it, or an empty file. Raises OSError, sqlite3.Error.
    """
    connection = _connect(path, "rwc")
    try:
        connection.execute(f"PRAGMA page_size={PAGE_SIZE}")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
        _upgrade(connection, 0)
        rows = (encode_row(entry.n, entry.at, entry.who, entry.data)[0] for entry in entries)
        connection.executemany(_INSERT, rows)
        connection.execute("COMMIT")
    finally:
        connection.close()


def read_once(path: Path) -> JournalContents:
    """What a journal holds; no file, and an empty one, hold nothing. Raises JournalError."""
    if is_new(path):
        return JournalContents()
    file = JournalFile(path, write=False)
    try:
        return file.read()
    finally:
        file.close()


def is_new(path: Path) -> bool:
    """Whether there is no journal here yet. Raises JournalError."""
    for one in (path, rollback_file(path)):
        check_regular(one)
    with translate_errors(path):
        finish_rollback(path)
        return not path.exists() or path.stat().st_size == 0


def _missing(entries: Sequence[Entry], unreadable: Sequence[Unreadable]) -> list[Unreadable]:
    """The numbers that should be there and are not, save those a rescue has owned up to."""
    known = {entry.n for entry in entries} | {row.n for row in unreadable}
    for entry in entries:
        if isinstance(entry.data, Rescued):
            known.update(entry.data.lost)
    last = entries[-1].n if entries else 0
    return [Unreadable(n, "it is missing") for n in range(1, last) if n not in known]


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    import sqlite3

    connection = sqlite3.connect(
        f"file:{quote(str(path))}?mode={mode}", uri=True, isolation_level=None, timeout=_WAIT_S
    )
    # Texts stay bytes until their checksum is proved.
    connection.text_factory = bytes
    connection.execute("PRAGMA synchronous=EXTRA")
    connection.execute("PRAGMA fullfsync=ON")
    return connection


def _upgrade(connection: sqlite3.Connection, version: int) -> None:
    """Bring a file of an older version up to date, inside the caller's transaction."""
    for script in VERSIONS[version:]:
        for statement in script:
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version={len(VERSIONS)}")


def _check_tables(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Raise JournalError if the file holds more than the table and triggers of its version.

    A view in place of the table could have rows without end, and a trigger could do anything.
    """
    import sqlite3

    listed = "SELECT CAST(sql AS TEXT) FROM sqlite_master LIMIT 50"
    rows = connection.execute(listed).fetchall()
    with closing(sqlite3.connect(":memory:")) as model:
        model.text_factory = bytes
        for statement in (line for script in VERSIONS[:version] for line in script):
            model.execute(statement)
        right = model.execute(listed).fetchall()
    if not set(rows) <= set(right):
        raise journal_error("damaged", path, "its tables are not those of a journal")


def check_regular(path: Path, size_max: int | None = None) -> None:
    """Raise JournalError unless a path leads to a regular file of ``size_max`` bytes at most.

    A pipe would be waited for, and a device could be read without end. No file is no trouble.
    """
    with translate_errors(path):
        try:
            found = path.stat()
        except FileNotFoundError:
            return
    if not stat.S_ISREG(found.st_mode):
        raise journal_error("foreign", path, "it is not a regular file")
    if size_max is not None and found.st_size > size_max:
        raise journal_error("foreign", path, f"it is over {size_max // 2**20} MiB")


def _check_start(path: Path) -> None:
    """Raises JournalError when a file does not begin as ours do.

    SQLite itself would take a stump of a file for an empty one, and write over it, and fill up a
    last page that is not whole.
    """
    with path.open("rb") as file:
        start = file.read(100)
        size = os.fstat(file.fileno()).st_size
    stump = size < 100 and _MAGIC.startswith(start[:16])
    if not stump and (start[:16] != _MAGIC or start[68:72] != APPLICATION_ID.to_bytes(4, "big")):
        raise journal_error("foreign", path)
    if size % PAGE_SIZE:
        raise journal_error("damaged", path, "it is cut short")


def _identity(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino


def rollback_file(path: Path) -> Path:
    """The file in which SQLite keeps what an unfinished write must put back."""
    return path.with_name(path.name + "-journal")


def finish_rollback(path: Path) -> None:
    """Have SQLite undo a write that a kill or a power cut left unfinished. Raises sqlite3.Error."""
    import sqlite3

    if rollback_file(path).exists():
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()


@contextmanager
def temporary_copy(path: Path) -> Iterator[Path]:
    """A copy of a journal, and of an unfinished write beside it, for as long as it is needed."""
    with tempfile.TemporaryDirectory(prefix="runbook-") as folder:
        copy = Path(folder) / path.name
        for one, other in ((path, copy), (rollback_file(path), rollback_file(copy))):
            with suppress(FileNotFoundError):
                shutil.copyfile(one, other)
        yield copy


# -- one entry as a row, with a checksum that tells a row written here from one a failing disk made up


def encode_row(n: int, at: dt.datetime, who: str, data: Any) -> tuple[Row, Entry]:
    """The row of a new entry, and the entry as it will be read from that row.

    Raises ValueError when the data does not fit its kind, or ``at`` has no time zone.
    """
    offset = at.utcoffset()
    if offset is None:
        raise ValueError("the time of an entry needs a time zone")
    kind, text = kind_of(data), encode(data)
    who.encode()
    utc = at.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="microseconds")
    offset_s = round(offset.total_seconds())
    entry = Entry(n, _local(utc, offset_s), who, kind, decode(kind, text))
    crc = _checksum(n, offset_s, *(part.encode() for part in (utc, who, kind, text)))
    return (n, utc, offset_s, who, kind, text, crc), entry


def decode_row(row: tuple[Any, ...]) -> Entry | Unreadable:
    """The entry a row holds; texts come as bytes, and any of it may be wrong."""
    n, at, offset_s, who, kind, data, crc = row
    try:
        if _checksum(n, offset_s, at, who, kind, data) != crc:
            return Unreadable(n, "it does not match its checksum")
        name = kind.decode()
        return Entry(n, _local(at.decode(), offset_s), who.decode(), name, decode(name, data))
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        return Unreadable(n, str(error))


def _local(utc: str, offset_s: int) -> dt.datetime:
    zone = dt.timezone(dt.timedelta(seconds=offset_s))
    return dt.datetime.fromisoformat(utc).replace(tzinfo=dt.UTC).astimezone(zone)


def _checksum(n: int, offset_s: int, *texts: bytes) -> int:
    return crc32(b"\0".join((b"%d %d" % (n, offset_s), *texts)))
