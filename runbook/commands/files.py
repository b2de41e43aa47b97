"""Writing a file whole or not at all, over what was there."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from runbook.files.errors import Fault, Unreadable


def write_whole(path: Path, data: str | bytes, who: str) -> None:
    """Write a file in one go. Raises Unreadable, said by the command ``who``, where it cannot."""
    content = data if isinstance(data, bytes) else data.encode("utf-8", "replace")
    try:
        file, kept = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
    except (OSError, ValueError) as error:
        raise _cannot(path, error, who) from None
    try:
        with os.fdopen(file, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        Path(kept).chmod(_mode(path))
        Path(kept).replace(path)
    except BaseException as error:
        with suppress(OSError):
            Path(kept).unlink()
        if isinstance(error, OSError):
            raise _cannot(path, error, who) from None
        raise


def _mode(path: Path) -> int:
    """The rights of the file replaced; for a new one, what any other program would give it."""
    with suppress(OSError):
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _cannot(path: Path, error: OSError | ValueError, who: str) -> Unreadable:
    why = (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
    do = "name a file in a folder that is there and can be written"
    return Unreadable([Fault(who, None, "-o", f"{path} cannot be written: {why}", do)])
