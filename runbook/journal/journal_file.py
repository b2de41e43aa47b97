"""The journal's SQLite file: made whole, checked when it is opened, and only ever added to.

A rollback journal, and not a write-ahead log, because the file must be whole by itself between any
two entries: it is copied to a stick, mailed, read from a folder that cannot be written; and after
a kill the next opening puts it right without anybody's help. ``synchronous=EXTRA`` also syncs the
folder after SQLite has removed its rollback journal, without which a power cut could bring that,
and so the state before the last entry, back (https://sqlite.org/pragma.html#pragma_synchronous).
"""

from __future__ import annotations

import datetime as dt
import errno
import os
import shutil
import socket
import stat
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote
from zlib import crc32

from runbook.files.atomic_write import new_mode, temp_file
from runbook.journal.errors import JournalError, journal_error, translate_errors
from runbook.journal.events import Entry, Rescued, decode, encode, kind_of

if TYPE_CHECKING:
    import sqlite3

PAGE_SIZE: Final = 4096
APPLICATION_ID: Final = 0x72756E6C  # "runl"
VERSION: Final = 1
SCHEMA: Final = (
    "CREATE TABLE entry (n INTEGER PRIMARY KEY CHECK (n > 0), at TEXT NOT NULL, "
    "offset_s INTEGER NOT NULL, who TEXT NOT NULL, kind TEXT NOT NULL, data TEXT NOT NULL, "
    "crc INTEGER NOT NULL)",
    "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END",
    "CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'an entry is never taken out'); END",
    # INSERT OR REPLACE would delete one without asking the trigger above
    "CREATE TRIGGER entry_first BEFORE INSERT ON entry "
    "WHEN EXISTS (SELECT 1 FROM entry WHERE n = NEW.n) "
    "BEGIN SELECT RAISE(ABORT, 'this number is taken'); END",
)
# number, time (UTC, ISO), offset of the local time in s, who, kind, data (JSON), checksum
Row = tuple[int, str, int, str, str, str, int]
_COLUMNS: Final = "n, at, offset_s, who, kind, data, crc"
_INSERT: Final = f"INSERT INTO entry ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)"
_NO_LOCKS: Final = (errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOLCK)
_MAGIC: Final = b"SQLite format 3\0"
_WAIT_S: Final = 2.0
_ROW_LEAST: Final = 40  # bytes: no entry is shorter, so a file holds no more than so many
_ROWS_MOST: Final = 1_000_000  # far more than a day's; a damaged size could be any number


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
    """An open journal file. Every error of the system or of SQLite comes as JournalError."""

    def __init__(self, path: Path, *, write: bool) -> None:
        """Raises JournalError when the file is not a whole journal of a version known here."""
        self.path = path
        with translate_errors(path):
            _check_start(path)
            self._connection = _connect(path, "rw")
            try:
                self._check()
                if write:
                    # SQLite opens a file that cannot be written without an error, so begin a write
                    self._ask("PRAGMA journal_mode=DELETE")
                    self._connection.execute("BEGIN IMMEDIATE")
                    self._connection.execute(f"PRAGMA user_version={VERSION}")
                    self._connection.rollback()
            except BaseException:
                self.close()
                raise

    def _check(self) -> None:
        """Raise JournalError if the file is too new, damaged, or holds more than our table and triggers.

        A view in place of the table could have rows without end, and a trigger could do anything.
        """
        version = self._ask("PRAGMA user_version")
        if version > VERSION:
            raise journal_error("newer", self.path, f"version {version}, this one knows {VERSION}")
        tables = self._connection.execute("SELECT CAST(sql AS TEXT) FROM sqlite_master LIMIT 50").fetchall()
        if not {sql for (sql,) in tables} <= {sql.encode() for sql in SCHEMA}:
            raise journal_error("damaged", self.path, "its tables are not those of a journal")
        result = self._ask("PRAGMA quick_check(1)")
        if result != b"ok":
            raise journal_error("damaged", self.path, result.decode(errors="replace"))

    def _ask(self, question: str) -> Any:
        return self._connection.execute(question).fetchone()[0]

    def read(self) -> JournalContents:
        """Return all that the file holds. Raises JournalError."""
        rows = self._rows_after(0)
        entries = tuple(row for row in rows if isinstance(row, Entry))
        unreadable = [row for row in rows if isinstance(row, Unreadable)]
        return JournalContents(entries, (*unreadable, *_missing(entries, unreadable)))

    def entries_after(self, last: int) -> list[Entry]:
        """Return the entries on disk after number ``last``. Raises JournalError."""
        return [row for row in self._rows_after(last) if isinstance(row, Entry)]

    def append(self, entries: Iterable[Entry]) -> None:
        """Put entries on the disk, all or none; back only when they are there. Raises JournalError."""
        with translate_errors(self.path), self._connection as connection:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(_INSERT, map(row_of, entries))

    def close(self) -> None:
        """Close the file. What is in it is on the disk already."""
        self._connection.close()

    def _rows_after(self, last: int) -> list[Entry | Unreadable]:
        # damage may have made numbers of rows that no row ever had, so a whole reading has no limit
        where = f"WHERE n > {last} " if last else ""
        with translate_errors(self.path):
            rows = self._connection.execute(f"SELECT {_COLUMNS} FROM entry {where}ORDER BY n")
            return [decode_row(row) for row in rows.fetchall()]


def create(path: Path, entries: Iterable[Entry] = ()) -> None:
    """Make a journal that holds these entries, where no file or an empty one is.

    One transaction: a kill leaves all of it, or an empty file. Raises OSError, sqlite3.Error.
    """
    with closing(_connect(path, "rwc")) as connection:
        connection.execute(f"PRAGMA page_size={PAGE_SIZE}")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version={VERSION}")
        for statement in SCHEMA:
            connection.execute(statement)
        connection.executemany(_INSERT, map(row_of, entries))
        connection.commit()


def is_new(path: Path) -> bool:
    """Return whether there is no journal here yet. Raises JournalError.

    SQLite first undoes a write that a kill or a power cut left unfinished.
    """
    for file in (path, rollback_file(path)):
        check_regular(file)
    with translate_errors(path):
        if rollback_file(path).exists():
            with closing(_connect(path, "rwc")) as connection:
                connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        return not path.exists() or path.stat().st_size == 0


def read_file(path: Path) -> JournalContents:
    """Return what a journal holds; no file, and an empty one, hold nothing. Raises JournalError."""
    try:
        if is_new(path):
            return JournalContents()
        with closing(JournalFile(path, write=False)) as file:
            return file.read()
    except JournalError as problem:
        # a killed writer's last write cannot be undone in a folder that cannot be written
        if problem.kind != "read-only" or not rollback_file(path).exists():
            raise
    with translate_errors(path), temporary_copy(path) as copy:
        return read_file(copy)


def rescue(path: Path) -> list[Entry]:
    """Return every entry that SQLite still reads from a damaged journal, by number.

    A row is asked for by its own number: a page that cannot be read costs the rows on it, and no
    others. The file itself is only read. Raises JournalError when even that fails.
    """
    import sqlite3

    entries = []
    with translate_errors(path), temporary_copy(path) as copy, closing(sqlite3.connect(copy)) as connection:
        connection.text_factory = bytes
        for n in range(1, min(copy.stat().st_size // _ROW_LEAST, _ROWS_MOST) + 1):
            try:
                row = connection.execute(f"SELECT {_COLUMNS} FROM entry WHERE n = {n}").fetchone()
            except (sqlite3.DatabaseError, UnicodeDecodeError):
                continue
            entry = row and decode_row(row)
            if isinstance(entry, Entry):
                entries.append(entry)
    return entries


def _missing(entries: Sequence[Entry], unreadable: Sequence[Unreadable]) -> list[Unreadable]:
    """Return the numbers that should be there and are not, save those a rescue has reported as lost."""
    known = {entry.n for entry in entries} | {row.n for row in unreadable}
    for entry in entries:
        if isinstance(entry.data, Rescued):
            known.update(entry.data.lost)
    last = entries[-1].n if entries else 0
    return [Unreadable(n, "it is missing") for n in range(1, last) if n not in known]


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    import sqlite3

    uri = f"file:{quote(str(path))}?mode={mode}"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=_WAIT_S)
    connection.text_factory = bytes  # texts stay bytes until their checksum is proved
    connection.execute("PRAGMA synchronous=EXTRA")
    connection.execute("PRAGMA fullfsync=ON")
    return connection


def _check_start(path: Path) -> None:
    """Raise JournalError when a file does not begin as ours do, or is cut short.

    SQLite itself would take a stump of a file for an empty one, and write over it, and fill up a
    last page that is not whole.
    """
    with path.open("rb") as file:
        start = file.read(100)
    another = len(start) == 100 and start[68:72] != APPLICATION_ID.to_bytes(4, "big")
    if another or not _MAGIC.startswith(start[:16]):
        raise journal_error("foreign", path)
    if path.stat().st_size % PAGE_SIZE:
        raise journal_error("damaged", path, "it is cut short")


# -- one entry as a row, with a checksum that tells a row written here from one a failing disk made up


def new_entry(n: int, at: dt.datetime, who: str, data: Any) -> Entry:
    """Return a new entry as it will be read from its row.

    Raises ValueError when the data does not fit its kind, or ``at`` has no time zone.
    """
    offset = at.utcoffset()
    if offset is None:
        raise ValueError("the time of an entry needs a time zone")
    who.encode()
    kind = kind_of(data)
    zone = dt.timezone(dt.timedelta(seconds=round(offset.total_seconds())))
    return Entry(n, at.astimezone(zone), who, kind, decode(kind, encode(data)))


def row_of(entry: Entry) -> Row:
    """Return the row of an entry."""
    offset_s = round((entry.at.utcoffset() or dt.timedelta()).total_seconds())
    utc = entry.at.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="microseconds")
    texts = (utc, entry.who, entry.kind, encode(entry.data))
    crc = _checksum(entry.n, offset_s, *(text.encode() for text in texts))
    return (entry.n, utc, offset_s, *texts[1:], crc)


def decode_row(row: tuple[Any, ...]) -> Entry | Unreadable:
    """Return the entry a row holds; texts come as bytes, and any of it may be wrong."""
    n, at, offset_s, who, kind, data, crc = row
    try:
        if _checksum(n, offset_s, at, who, kind, data) != crc:
            return Unreadable(n, "it does not match its checksum")
        name = kind.decode()
        utc = dt.datetime.fromisoformat(at.decode()).replace(tzinfo=dt.UTC)
        local = utc.astimezone(dt.timezone(dt.timedelta(seconds=offset_s)))
        return Entry(n, local, who.decode(), name, decode(name, data))
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        return Unreadable(n, str(error))


def _checksum(n: int, offset_s: int, *texts: bytes) -> int:
    return crc32(b"\0".join((b"%d %d" % (n, offset_s), *texts)))


# -- the files beside a journal: its lock, a write that SQLite left unfinished, damaged journals -----


def rollback_file(path: Path) -> Path:
    """Return the file in which SQLite keeps what an unfinished write must put back."""
    return path.with_name(path.name + "-journal")


def check_regular(path: Path, size_max: int | None = None) -> None:
    """Raise JournalError unless a path leads to a regular file of ``size_max`` bytes at most.

    A pipe would be waited for, and a device could be read without end. A missing file passes.
    """
    with translate_errors(path):
        try:
            status = path.stat()
        except FileNotFoundError:
            return
    if not stat.S_ISREG(status.st_mode):
        raise journal_error("foreign", path, "it is not a regular file")
    if size_max is not None and status.st_size > size_max:
        raise journal_error("foreign", path, f"it is over {size_max // 2**20} MiB")


# -- one writer at a time --------------------------------------------------------------------------


@contextmanager
def locked(path: Path, now: dt.datetime) -> Iterator[None]:
    """Hold the right to write one journal, by a lock that ends with the process.

    The lock is on a small file of its own: SQLite loses its locks when anybody in the process
    closes the journal itself. What is left of that file after a kill stops nobody. Where the file
    system has no locks, only the numbers of the entries keep two writers apart.
    Raises JournalError: ``busy`` with who holds it, ``read-only``, ``full``, ``gone``.
    """
    name = path.with_name(path.name + "-open")
    with translate_errors(path):
        file = _locked_file(name)
    with ExitStack() as release:
        release.callback(os.close, file)  # the lock ends here, even where the name cannot be removed
        with suppress(OSError):  # only for the other one's message
            os.ftruncate(file, 0)
            os.pwrite(file, f"process {os.getpid()} on {socket.gethostname()} since {now:%H:%M}".encode(), 0)
        try:
            yield
        finally:
            with suppress(OSError):
                name.unlink(missing_ok=True)


def _locked_file(name: Path) -> int:
    """Open and lock a file, making it where it is missing. Raises OSError, JournalError where it is locked."""
    while True:
        with ExitStack() as opened:
            file = os.open(name, os.O_RDWR | os.O_CREAT, 0o666)
            opened.callback(os.close, file)
            try:
                _lock(file)
            except BlockingIOError:
                holder = os.pread(file, 200, 0).decode(errors="replace") or "a process just begun"
                what = f"this day is open in another runbook, {holder}"
                raise JournalError("busy", what, "close it there, or open without saving") from None
            # another holder may have removed the name between our open and our lock
            with suppress(FileNotFoundError):
                if os.path.samestat(os.fstat(file), name.stat()):
                    opened.pop_all()
                    return file


def _lock(file: int) -> None:
    try:
        import fcntl
    except ImportError:  # a system without such locks
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno not in _NO_LOCKS:
            raise


# -- copies ----------------------------------------------------------------------------------------


@contextmanager
def temporary_copy(path: Path) -> Iterator[Path]:
    """Yield a copy of a journal, and of an unfinished write beside it, for as long as it is needed."""
    with tempfile.TemporaryDirectory(prefix="runbook-") as folder:
        copy = Path(folder) / path.name
        for source, target in ((path, copy), (rollback_file(path), rollback_file(copy))):
            with suppress(FileNotFoundError):
                shutil.copyfile(source, target)
        yield copy


def set_aside(path: Path) -> Path:
    """Rename a journal, and an unfinished write beside it, to a free name beside it; return that name.

    Raises JournalError.
    """
    with translate_errors(path):
        aside = _free_name(path)
        with suppress(FileNotFoundError):
            rollback_file(path).replace(rollback_file(aside))
        return path.replace(aside)


def keep_copy(path: Path) -> Path:
    """Copy a journal, and an unfinished write beside it, to a free name beside it; return that name.

    It is on disk for sure. Raises OSError.
    """
    aside = _free_name(path)
    for source, copy in ((rollback_file(path), rollback_file(aside)), (path, aside)):
        if source.exists():
            temp_file(path.parent, source.read_bytes(), new_mode()).replace(copy)
    return aside


def _free_name(path: Path) -> Path:
    """Return the first free name like ``journal.damaged-1.runlog`` beside a journal."""
    names = (path.with_name(f"{path.stem}.damaged-{n}{path.suffix}") for n in count(1))
    return next(name for name in names if not name.exists() and not rollback_file(name).exists())
