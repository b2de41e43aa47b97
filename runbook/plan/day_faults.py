"""What is wrong with a day's hours and order, past the shape of its tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from typing import Any

from runbook.plan.day import Break, Day, Look
from runbook.plan.faults import Path, Wrong
from runbook.plan.refs import IN_DAY, twice, unknown
from runbook.plan.unsaid import as_far_as_known


def day_wrongs(day: Day, table: Mapping[str, Any], setups: Set[str]) -> Iterator[Wrong]:
    """Faults of a day that may be right in part only (see ``partly``), and of its file's ids.

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
    yield from as_far_as_known(_hours(day))
    yield from as_far_as_known(_breaks(day))
    yield from as_far_as_known(_calls(day))


def _hours(day: Day) -> Iterator[Wrong]:
    if day.wrap <= day.call:
        what = f"{day.wrap} is not after the call at {day.call}"
        do = "a day ends by midnight, 23:59:59; write what follows as a day of its own"
        yield Wrong((("wrap",), ("call",)), what, do)


def _breaks(day: Day) -> Iterator[Wrong]:
    for place, stop in enumerate(day.breaks):
        yield from as_far_as_known(_window(stop, ("break", place)))


def _calls(day: Day) -> Iterator[Wrong]:
    for place, look in enumerate(day.looks):
        yield from as_far_as_known(_call(day, look, ("look", place)))


def _call(day: Day, look: Look, path: Path) -> Iterator[Wrong]:
    if look.call is not None and look.call >= day.wrap:
        what = f"{look.call} is not before the wrap at {day.wrap}"
        do = "give a time before the wrap, or leave it out: the day's call counts then"
        yield Wrong(((*path, "call"), ("wrap",)), what, do)


def _window(stop: Break, path: Path) -> Iterator[Wrong]:
    if stop.latest < stop.earliest:
        what = f"{stop.latest} is before the earliest it may start, {stop.earliest}"
        paths = (*path, "latest"), (*path, "earliest")
        yield Wrong(paths, what, "give the later of the two times")
