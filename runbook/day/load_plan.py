"""A day's folder as a plan that is whole: the powers its files leave out are worked out."""

from __future__ import annotations

from pathlib import Path

from runbook.files import load
from runbook.light.solve import with_powers
from runbook.model.day import Plan


def read_day(folder: Path) -> Plan:
    """Read a day's folder. Raises Unreadable with everything that is wrong."""
    return with_powers(load.read_day(folder))
