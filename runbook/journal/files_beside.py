"""The files beside a journal: its lock, a write that SQLite left unfinished, and damaged journals that are kept."""

from __future__ import annotations

import datetime as dt
import errno
import os
import shutil
import socket
import stat
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from itertools import count
from pathlib import Path

from runbook.journal.errors import JournalError, journal_error, translate_errors

_NO_LOCKS = (errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOLCK)


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
                raise JournalError("busy", what, "close it there, or look on without writing") from None
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

    It is on disk for sure. Raises OSError, with nothing left of a copy.
    """
    aside = _free_name(path)
    try:
        shutil.copyfile(path, aside)
        sync_file(aside)
        with suppress(FileNotFoundError):
            shutil.copyfile(rollback_file(path), rollback_file(aside))
            sync_file(rollback_file(aside))
    except OSError:
        aside.unlink(missing_ok=True)
        raise
    return aside


def _free_name(path: Path) -> Path:
    """Return the first free name like ``journal.damaged-1.runlog`` beside a journal."""
    names = (path.with_name(f"{path.stem}.damaged-{n}{path.suffix}") for n in count(1))
    return next(name for name in names if not name.exists() and not rollback_file(name).exists())


def sync_file(path: Path) -> None:
    """Bring a file's content to the disk. Raises OSError."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
