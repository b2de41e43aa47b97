"""Holding a journal for one writer at a time, by a lock that dies with the process."""

from __future__ import annotations

import contextlib
import datetime as dt
import errno
import os
import socket
from pathlib import Path

from runbook.journal.errors import JournalError, of_os

_NO_LOCKS = (errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOLCK)


class JournalLock:
    """The right to write one journal, held until ``release`` or the end of the process.

    The lock is on a small file of its own beside the journal: SQLite loses its locks when anybody
    in the process closes the journal itself. What is left of that file after a kill holds nobody
    up. ``sure`` is False where the file system knows no locks: then only the numbers of the
    entries keep two writers from each other's journal.
    """

    def __init__(self, path: Path, now: dt.datetime) -> None:
        """Raises JournalError: ``busy`` with who holds it, ``read-only``, ``full``, ``gone``."""
        self._name = path.with_name(path.name + "-open")
        self.sure = True
        try:
            self._file = self._locked()
        except OSError as error:
            raise of_os(error, path) from None
        with contextlib.suppress(OSError):  # only for the other one's message
            os.ftruncate(self._file, 0)
            line = f"process {os.getpid()} on {socket.gethostname()} since {now:%H:%M}"
            os.pwrite(self._file, line.encode(), 0)

    def _locked(self) -> int:
        while True:
            file = os.open(self._name, os.O_RDWR | os.O_CREAT, 0o666)
            try:
                self.sure = _lock(file)
                # Another holder may have taken the name away between our open and our lock.
                if _same(file, self._name):
                    return file
            except BlockingIOError:
                holder = os.pread(file, 200, 0).decode(errors="replace") or "a process just begun"
                os.close(file)
                raise JournalError(
                    "busy",
                    f"this day is open in another runbook, {holder}",
                    "close it there, or look on without writing",
                ) from None
            except OSError:
                os.close(file)
                raise
            os.close(file)

    def release(self) -> None:
        """Let others write. The name goes first, while it is still surely ours.

        Where it cannot be removed, closing the file gives up the lock all the same.
        """
        with contextlib.suppress(OSError):
            self._name.unlink(missing_ok=True)
        os.close(self._file)


def _lock(file: int) -> bool:
    try:
        import fcntl
    except ImportError:  # a system without such locks
        return False
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _NO_LOCKS:
            return False
        raise
    return True


def _same(file: int, name: Path) -> bool:
    try:
        there = name.stat()
    except FileNotFoundError:
        return False
    here = os.fstat(file)
    return (here.st_dev, here.st_ino) == (there.st_dev, there.st_ino)
