"""Everything a day's files hold, thing by thing, and the form of each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from runbook.plan.changes import DAY, KIT, Files, at, merged_setups, setups_of, table_of
from runbook.plan.day import Day
from runbook.plan.faults import Path
from runbook.plan.form import Field, Ids, Reading, fields_of, shape_of
from runbook.plan.inherit import Merged
from runbook.plan.kit import BARE, Kit
from runbook.plan.refs import KIT_KINDS
from runbook.plan.setup import Setup
from runbook.plan.shape import members
from runbook.plan.tuples import NamedTuple

_MANY: Final = {
    "crew": "crew", "look": "looks", "break": "breaks", "head": "heads", "modifier": "modifiers",
    "accessory": "accessories", "stand": "stands", "panel": "panels", "cloth": "cloths",
    "bag": "bags", "lens": "lenses", "measured": "measured",
}  # fmt: skip


class Thing(NamedTuple):
    """One entry of the outline: a file, a table of it, or (``path`` None) the name of a kind.

    ``kind`` is the key of its table; ``day`` and ``setup`` are whole files.
    """

    kind: str
    file: str
    path: Path | None
    title: str
    shape: type

    @property
    def id(self) -> str:
        """A setup's id, or that of a thing of the kit or the day."""
        if self.kind == "setup":
            return self.file.removesuffix(".toml")
        return str(self.path[-1]) if self.path else ""


def outline(files: Files) -> list[Thing]:
    """The setups in order, those that are in none, then the day and the kit by kind."""
    order = [name for name in table_of(files[DAY]).get("order", []) if isinstance(name, str)]
    there = setups_of(files)
    names = [name for name in order if name in there]
    names += sorted(set(there) - set(order))
    things = [Thing("setup", DAY, None, "setups", Setup)]
    for name in names:
        title = name if name in order else f"{name} (not in the order)"
        things.append(Thing("setup", there[name], (), title, Setup))
    for file, cls, whole in ((DAY, Day, "day"), (KIT, Kit, "")):
        if whole:
            things.append(Thing(whole, file, (), "the day", cls))
        table = table_of(files[file])
        for member in members(cls):
            found = shape_of(member)
            if found is None:
                continue
            shape, many = found
            if not many:
                if not whole:
                    things.append(Thing(member.key, file, (member.key,), member.key, shape))
                continue
            things.append(Thing(member.key, file, None, _MANY[member.key], shape))
            for place, item in enumerate(table.get(member.key, [])):
                title = item.get("id") or f"{item.get('head')} {item.get('modifier', BARE)}"
                path = (member.key, item.get("id", place))
                things.append(Thing(member.key, file, path, title, shape))
    return things


def ids_of(files: Files) -> Ids:
    """The ids of everything, by kind, in the order they are written."""
    kit, day = table_of(files[KIT]), table_of(files[DAY])
    ids = {kind: _ids(kit, kind) for kind in KIT_KINDS}
    ids["modifier"] = tuple(dict.fromkeys((BARE, *ids["modifier"])))
    return ids | {"look": _ids(day, "look"), "setup": tuple(setups_of(files))}


def _ids(table: Mapping[str, Any], kind: str) -> tuple[str, ...]:
    return tuple(item["id"] for item in table.get(kind, []))


def form_of(files: Files, thing: Thing) -> list[Field]:
    """The lines of a thing's form; none for the name of a kind."""
    if thing.path is None:
        return []
    merged: Merged | None = None
    table: Any = table_of(files[thing.file])
    if thing.kind == "setup":
        merged = merged_setups(files)[thing.id]
        table = merged.table
    for part in at(table, thing.path) or ():
        table = table[part]
    if thing.path and at(table_of(files[thing.file]), thing.path) is None:
        table = {}  # a section that is not written: all of it is as it is without
    return list(
        fields_of(thing.shape, table, Reading(thing.file, ids_of(files), merged), thing.path)
    )
