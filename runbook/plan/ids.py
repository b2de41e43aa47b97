"""Every id that a file gives to something, as far as they are known."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any

from runbook.plan.kit import BARE, Kit
from runbook.plan.partly import has_strange_keys
from runbook.plan.refs import KIT_KINDS, written


def ids_in(
    cls: type, table: Mapping[str, Any], kind: str, key: str = "id"
) -> frozenset[str] | None:
    """Every id written under ``key`` in a list of tables; None where one of them is not known.

    The rest of such a table need not be right. ``cls`` is the shape that has the list.
    """
    things = table.get(kind)
    if things is None and not has_strange_keys(cls, table):
        return frozenset()
    if not isinstance(things, list):
        return None
    names = [name for _, name in written(table, (kind, "*", key))]
    return frozenset(names) if len(names) == len(things) else None


def kit_ids(table: Mapping[str, Any]) -> dict[str, Set[str]]:
    """Every id of a kit's file, by those kinds whose ids are known. ``bare`` needs no entry."""
    found = {kind: ids_in(Kit, table, kind) for kind in KIT_KINDS}
    ids: dict[str, Set[str]] = {kind: names for kind, names in found.items() if names is not None}
    return ids | ({"modifier": ids["modifier"] | {BARE}} if "modifier" in ids else {})
