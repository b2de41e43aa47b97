"""The clock on the wall, for commands that hand it to what keeps or tells a day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final


class LocalZone(tzinfo):
    """This machine's time zone, with its changes between winter and summer time."""

    def utcoffset(self, dt: datetime | None) -> timedelta | None:
        """Return the offset in force at a local time, by its ``fold`` where it comes twice."""
        return None if dt is None else dt.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, _: datetime | None) -> timedelta | None:
        """Return None: how much of the offset is summer time is not asked."""
        return None

    def tzname(self, dt: datetime | None) -> str | None:
        """Return the name of the zone at a local time."""
        return None if dt is None else dt.replace(tzinfo=None).astimezone().tzname()

    def fromutc(self, dt: datetime) -> datetime:
        """Return the local time of a time in UTC that has this zone."""
        return dt.replace(tzinfo=UTC).astimezone().replace(tzinfo=self)


LOCAL: Final = LocalZone()


def now() -> datetime:
    """The time in this machine's zone."""
    return datetime.now(LOCAL)
