"""One entry as a row of the journal's table, with a checksum, and back.

The checksum tells a row that was written from one that a failing disk made up: SQLite's own check
sees only the shape of the file.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, NamedTuple
from zlib import crc32

from runbook.journal.entries import Entry, kind_of, read, written

COLUMNS = "n, at, offset_s, who, kind, data, crc"
# n, at (UTC, ISO), offset of the local time in s, who, kind, data (JSON), checksum
Row = tuple[int, str, int, str, str, str, int]


class Unreadable(NamedTuple):
    """A row that holds no true entry: its number, and what is wrong."""

    n: int
    why: str


def made(n: int, at: dt.datetime, who: str, data: Any) -> tuple[Row, Entry]:
    """The row of a new entry, and the entry as it will be read from that row.

    Raises ValueError when the data does not fit its kind, or ``at`` has no time zone.
    """
    offset = at.utcoffset()
    if offset is None:
        raise ValueError("the time of an entry needs a time zone")
    kind, text = kind_of(data), written(data)
    who.encode()
    utc = at.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="microseconds")
    offset_s = round(offset.total_seconds())
    entry = Entry(n, _local(utc, offset_s), who, kind, read(kind, text))
    crc = _checksum(n, offset_s, *(part.encode() for part in (utc, who, kind, text)))
    return (n, utc, offset_s, who, kind, text, crc), entry


def entry_of(row: tuple[Any, ...]) -> Entry | Unreadable:
    """The entry a row holds; texts come as bytes, and any of it may be wrong."""
    n, at, offset_s, who, kind, data, crc = row
    try:
        if _checksum(n, offset_s, at, who, kind, data) != crc:
            return Unreadable(n, "it does not match its checksum")
        name = kind.decode()
        return Entry(n, _local(at.decode(), offset_s), who.decode(), name, read(name, data))
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        return Unreadable(n, str(error))


def _local(utc: str, offset_s: int) -> dt.datetime:
    zone = dt.timezone(dt.timedelta(seconds=offset_s))
    return dt.datetime.fromisoformat(utc).replace(tzinfo=dt.UTC).astimezone(zone)


def _checksum(n: int, offset_s: int, *texts: bytes) -> int:
    return crc32(b"\0".join((b"%d %d" % (n, offset_s), *texts)))
