"""What is wrong with a day's hours and order, past the shape of its tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Set
from typing import Any

from runbook.plan.faults import Wrong
from runbook.plan.refs import IN_DAY, twice, unknown


def day_wrongs(table: dict[str, Any], parts: dict[str, Any], setups: Set[str]) -> Iterator[Wrong]:
    """Faults of a day's file; ``parts`` are its fields that are right by themselves.

    A day begins and ends on the one date it bears: every time in it is a time of that day, so one
    that runs past midnight has to be written as two.
    """
    yield from unknown(table, IN_DAY, {"setup": setups})
    yield from twice(table, ("order", "*"), "{} is in the order already")
    for kind in ("crew", "look", "break"):
        yield from twice(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    if not table.get("order", []) and isinstance(table.get("order", []), list):
        what = "no setup is to be shot" if "order" in table else "is missing"
        yield Wrong((("order",),), what, 'write the ids of the setups, like ["one", "two"]')
    yield from _hours(parts)


def _hours(parts: dict[str, Any]) -> Iterator[Wrong]:
    call, wrap = parts.get("call"), parts.get("wrap")
    if isinstance(call, dt.time) and isinstance(wrap, dt.time) and wrap <= call:
        what = f"{wrap} is not after the call at {call}"
        do = "a day ends by midnight, 23:59:59; write what follows as a day of its own"
        yield Wrong((("wrap",), ("call",)), what, do)
    for stop in parts.get("breaks", ()):
        if stop.latest < stop.earliest:
            what = f"{stop.latest} is before the earliest it may start, {stop.earliest}"
            paths = ("break", stop.id, "latest"), ("break", stop.id, "earliest")
            yield Wrong(paths, what, "give the later of the two times")
