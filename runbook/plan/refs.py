"""Ids written in one table that must be the ids of things in another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from typing import Any, Final

from runbook.plan.faults import Path, Wrong, instead, shown

Pattern = tuple[str, ...]  # the way to an id; "*" is every member of a list

KIT_KINDS: Final = (
    "head", "modifier", "accessory", "stand", "panel", "cloth", "bag", "lens"
)  # fmt: skip
IN_KIT: Final[tuple[tuple[Pattern, str], ...]] = (
    (("accessory", "*", "fits", "*"), "modifier"),
    (("measured", "*", "head"), "head"),
    (("measured", "*", "modifier"), "modifier"),
    (("measured", "*", "accessories", "*"), "accessory"),
)
IN_DAY: Final[tuple[tuple[Pattern, str], ...]] = ((("order", "*"), "setup"),)
IN_SETUP: Final[tuple[tuple[Pattern, str], ...]] = (
    (("look",), "look"),
    (("before", "*"), "setup"),
    (("view", "lens"), "lens"),
    (("light", "*", "head"), "head"),
    (("light", "*", "stand"), "stand"),
    (("light", "*", "modifier"), "modifier"),
    (("light", "*", "accessories", "*"), "accessory"),
    (("light", "*", "through", "*"), "cloth"),
    (("light", "*", "bags", "*"), "bag"),
    (("place_panel", "*", "panel"), "panel"),
    (("place_panel", "*", "bags", "*"), "bag"),
)


def written(table: Any, pattern: Pattern, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Every text a pattern leads to, with its path. What is of another type is passed over."""
    if not pattern:
        if isinstance(table, str):
            yield path, table
    elif pattern[0] == "*":
        if isinstance(table, list):
            for index, item in enumerate(table):
                yield from written(item, pattern[1:], (*path, index))
    elif isinstance(table, dict) and pattern[0] in table:
        yield from written(table[pattern[0]], pattern[1:], (*path, pattern[0]))


def unknown(
    table: Mapping[str, Any],
    places: tuple[tuple[Pattern, str], ...],
    ids: Mapping[str, Set[str]],
) -> Iterator[Wrong]:
    """Every id that names nothing. A kind that is not in ``ids`` is not known, so not checked."""
    for pattern, kind in places:
        if kind not in ids:
            continue
        for path, name in written(table, pattern):
            if name not in ids[kind]:
                yield Wrong((path,), f"no {kind} is called {shown(name)}", instead(name, ids[kind]))


def twice(table: Mapping[str, Any], pattern: Pattern, what: str) -> Iterator[Wrong]:
    """Every text written a second time where each must be there once."""
    seen: set[str] = set()
    for path, name in written(table, pattern):
        if name in seen:
            yield Wrong((path,), what.format(shown(name)), "give it once")
        seen.add(name)
