"""What can go wrong with a journal file: what is wrong, and the remedy."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, Literal

Kind = Literal["damaged", "foreign", "newer", "busy", "read-only", "full", "gone", "failed"]


class JournalError(Exception):
    """A journal cannot be read or written.

    ``kind`` is for the program, ``what`` and ``do`` are for the person: what is wrong, and what
    would help. Whatever was acknowledged before stays as it was.
    """

    def __init__(self, kind: Kind, what: str, do: str) -> None:
        super().__init__(f"{what}; {do}")
        self.kind: Kind = kind
        self.what = what
        self.do = do


_TEXTS: Final[dict[Kind, tuple[str, str]]] = {
    "damaged": ("is damaged", "set it aside, rescue what can be read, and go on with a fresh journal"),
    "foreign": ("is not a journal of this program", "move it away, or set it aside"),
    "newer": ("was written by a newer version of this program", "open it with that version"),
    "busy": ("is being written by another program", "close it there, then try again"),
    "read-only": ("cannot be written: no permission", "make the folder writable, or go on without a record on disk"),
    "full": ("could not be written: the disk is full", "free some space, then try again"),
    "gone": ("is no longer where it was", "put it back, or write the journal out to another file"),
    "failed": ("could not be read or written", "check the disk, then try again"),
}

_ERRNO_KINDS: Final[dict[int, Kind]] = {
    **dict.fromkeys((errno.ENOSPC, errno.EDQUOT, errno.EFBIG), "full"),
    **dict.fromkeys((errno.EROFS, errno.EACCES, errno.EPERM), "read-only"),
    **dict.fromkeys((errno.ENOENT, errno.ENOTDIR), "gone"),
    errno.EISDIR: "foreign",
}

# SQLite's result codes, https://sqlite.org/rescode.html
_MOVED: Final = 8 | 4 << 8  # SQLITE_READONLY_DBMOVED
_SQLITE_KINDS: Final[dict[int, Kind]] = {
    1: "damaged",  # SQLITE_ERROR: our own statements are right, so a table or a column is not what it was
    5: "busy",  # SQLITE_BUSY
    6: "busy",  # SQLITE_LOCKED
    8: "read-only",  # SQLITE_READONLY
    11: "damaged",  # SQLITE_CORRUPT
    13: "full",  # SQLITE_FULL
    14: "read-only",  # SQLITE_CANTOPEN
    19: "busy",  # SQLITE_CONSTRAINT: the number of the new entry is taken, so somebody else wrote one
    26: "damaged",  # SQLITE_NOTADB
}


def journal_error(kind: Kind, path: Path, detail: str = "") -> JournalError:
    """Return the error of this kind with this file; ``detail`` is added to what is wrong."""
    what, do = _TEXTS[kind]
    return JournalError(kind, f"{path.name} {what}" + (f" ({detail})" if detail else ""), do)


@contextmanager
def translate_errors(path: Path) -> Iterator[None]:
    """Raise errors of the system and of SQLite as a JournalError about this file."""
    import sqlite3

    try:
        yield
    except OSError as error:
        kind = _ERRNO_KINDS.get(error.errno or 0, "failed")
        raise journal_error(kind, path, error.strerror or str(error)) from None
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0)  # an error of the binding itself has none
        kind = "gone" if code == _MOVED else _SQLITE_KINDS.get(code & 0xFF, "failed")
        raise journal_error(kind, path, str(error)) from None
    except RuntimeError:  # how Path.resolve reports a link that leads back to itself
        raise journal_error("failed", path, "its link leads back to itself") from None
    except UnicodeDecodeError:  # SQLite quotes what it cannot understand, whatever that is
        raise journal_error("damaged", path) from None


def resolve(path: Path) -> Path:
    """Return where a path really leads. Raises JournalError."""
    with translate_errors(path):
        return path.resolve()
