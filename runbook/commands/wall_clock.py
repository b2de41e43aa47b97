"""The clock on the wall, for commands that hand it to what keeps or tells a day."""

from __future__ import annotations

from datetime import datetime


def now() -> datetime:
    """The time, with this machine's offset from UTC."""
    return datetime.now().astimezone()
