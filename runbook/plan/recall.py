"""A day as it was last read, so that files nobody has touched are not read anew.

To read a day's files is to import a parser and a validator, build the one and run both: half of
what a quick command makes a person wait for. So a day that was read right is kept in their cache,
as Python keeps its bytecode: with the bytes it was read from, a mark of the code that read them,
and a sum over all of it. Where one of these is another, it is as if nothing had been kept. Without
that folder nothing is lost but time.
"""

from __future__ import annotations

import os
import pickle
import stat
import sys
from collections.abc import Mapping
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any, Final
from zlib import crc32

from runbook import __version__
from runbook.plan.day import Plan

_DAYS: Final = 32  # kept at the most
_SUM: Final = 4  # bytes of the sum at the end of what is kept: it is there against accidents
_OURS: Final = __name__.rpartition(".")[0]
_MADE_OF: Final = frozenset(
    {("fractions", "Fraction"), ("datetime", "date"), ("datetime", "time")}
    | {(f"{_OURS}.{name}", "") for name in ("day", "kit", "power", "setup")}
)


class _Values(pickle.Unpickler):
    """Makes a plan's values. Raises UnpicklingError for whatever else a file would have made."""

    def find_class(self, module: str, name: str) -> Any:
        if "." not in name and not _MADE_OF.isdisjoint({(module, name), (module, "")}):
            found = super().find_class(module, name)
            if isinstance(found, type):
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is no part of a plan")


def recalled(folder: Path, files: Mapping[str, bytes]) -> Plan | None:
    """The plan kept of a day whose files hold this, by name; None where there is none."""
    try:
        place = _place(folder)
        if not stat.S_ISREG(place.stat().st_mode):
            return None
        kept, found = (data := place.read_bytes())[:-_SUM], data[-_SUM:]
        if found != _sum(kept):
            return None
        values = BytesIO(kept)
        if _Values(values).load() != (_reader(), files):
            return None
        plan = _Values(values).load()
    except Exception:  # a file that is there and none of ours may raise whatever it likes
        return None
    return plan if isinstance(plan, Plan) else None


def keep(folder: Path, files: Mapping[str, bytes], plan: Plan) -> None:
    """Keep the plan that was read from these files, where it can be kept."""
    with suppress(OSError, RuntimeError):  # no right, no room, no home: it will be read again
        place = _place(folder)
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        written = place.with_name(f"{place.name}.{os.getpid()}")
        kept = pickle.dumps((_reader(), dict(files))) + pickle.dumps(plan)
        try:
            written.write_bytes(kept + _sum(kept))
            written.replace(place)
        except OSError:
            written.unlink(missing_ok=True)
            raise
        _forget(place.parent)


def _sum(kept: bytes) -> bytes:
    return crc32(kept).to_bytes(_SUM, "big")


def _place(folder: Path) -> Path:
    cache = Path(os.environ.get("XDG_CACHE_HOME", ""))
    if not cache.is_absolute():  # as good as not set, by the XDG Base Directory Specification
        cache = Path.home() / ".cache"
    on_disk = folder.stat()
    return cache / "runbook" / f"{on_disk.st_dev:x}-{on_disk.st_ino:x}.day"


def _reader() -> tuple[str, str | None, tuple[tuple[str, int, int], ...]]:
    """A mark of the code that reads: its version, the interpreter's, and its files as they are."""
    with os.scandir(Path(__file__).parent) as found:
        code = [(file.name, file.stat()) for file in found if file.name.endswith(".py")]
    files = tuple(sorted((name, about.st_mtime_ns, about.st_size) for name, about in code))
    return __version__, sys.implementation.cache_tag, files


def _forget(folder: Path) -> None:
    """Only the days read last stay."""
    last = sorted(folder.iterdir(), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in last[_DAYS:]:
        path.unlink()
