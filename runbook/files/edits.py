"""What a person changes in a day's files, worked out on their texts; nothing is written here.

Each change takes the texts by file name and gives those that become others, None for a file that
goes. A setup that is ``like`` another is given only what differs from it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

from runbook.files.errors import Path
from runbook.files.inherit import EITHER, NAMED_BY, OWN, Merged, inherit, name_of, place_of
from runbook.files.paths import DAY_FILE, KIT_FILE
from runbook.files.rules import IN_DAY, IN_KIT, IN_SETUP, Pattern, written
from runbook.files.toml_edit import NotEdited, add_table, copy_table, move_table, remove_key, remove_table, set_value
from runbook.files.toml_file import Source
from runbook.model.fields import is_id

Files = Mapping[str, str]
Change = dict[str, str | None]

DAY, KIT = DAY_FILE, KIT_FILE
# ids that are not held to a list of one kind when a day is read, and still follow a new name
_ALSO: Final[tuple[tuple[Pattern, str], ...]] = (
    (("light", "*", "aim"), "panel"),
    (("place_panel", "*", "face_to"), "head"),
    (("subject", "looks_at"), "head"),
    (("drop", "*"), "head"),
    (("drop", "*"), "panel"),
    (("like",), "setup"),
)


@lru_cache(maxsize=128)
def table_of(text: str) -> dict[str, Any]:
    """A text as a table, to look at: the same one is given again for the same text."""
    return tomllib.loads(text)


def setups_of(files: Files) -> dict[str, str]:
    """The ids of the setups, and their files."""
    return {name.removesuffix(".toml"): name for name in files if name not in (DAY, KIT)}


def merged_setups(files: Files) -> dict[str, Merged]:
    """Every setup with what it inherits, by id."""
    sources = {setup: Source(name, files[name], table_of(files[name])) for setup, name in setups_of(files).items()}
    return inherit(sources)[0]


def at(table: Mapping[str, Any], path: Path) -> Path | None:
    """A path with things named by id, as a path of places; None where nothing is written there."""
    return place_of(table, path)


# -- keys --------------------------------------------------------------------------------------


def put(files: Files, name: str, path: Path, value: Any) -> Change:
    """A key with this value. What a setup inherits just so is not written again."""
    text = files[name]
    table = table_of(text)
    if name not in (DAY, KIT):
        inherited = _inherited(files, name, path)
        if inherited == (value,):
            return {name: remove_key(text, raw)} if (raw := at(table, path)) else {}
    other = EITHER.get(str(path[-1]))
    if other is not None and (raw := at(table, (*path[:-1], other))):
        text = remove_key(text, raw)
        table = table_of(text)
    if (raw := at(table, path)) is not None:
        return {name: set_value(text, raw, value)}
    if (outer := at(table, path[:-1])) is not None:
        return {name: set_value(text, (*outer, path[-1]), value)}
    if path[0] in NAMED_BY:
        if path[-1] == NAMED_BY[path[0]]:
            raise NotEdited(f"{path[1]} is inherited; copy it under the new id, then take it out")
        own = {NAMED_BY[path[0]]: path[1], path[-1]: value}
        return {name: add_table(text, path[0], own)}
    return {name: set_value(text, path, value)}


def clear(files: Files, name: str, path: Path) -> Change:
    """Without a key of its own. Raises NotEdited for one that is inherited only."""
    raw = at(table_of(files[name]), path)
    if raw is not None:
        return {name: remove_key(files[name], raw)}
    if name not in (DAY, KIT) and _inherited(files, name, path):
        like = table_of(files[name]).get("like")
        raise NotEdited(f"it comes from {like}; write another value here, or clear it there")
    raise NotEdited("there is nothing to clear")


def _inherited(files: Files, name: str, path: Path) -> tuple[Any] | None:
    """What a setup would have at a path without its own file, in a tuple."""
    merged = merged_setups(files)[name.removesuffix(".toml")]
    if len(merged.chain) < 2 or path[0] in OWN:
        return None
    own = merged.chain[0][1].table
    if len(path) > 1 and path[1] in own.get("drop", []):
        return None
    parent: Any = merged_setups(files)[merged.chain[1][0]].table
    raw = at(parent, path)
    if raw is None:
        return None
    for part in raw:
        parent = parent[part]
    return (parent,)


# -- tables ------------------------------------------------------------------------------------


def add(files: Files, name: str, key: str, table: dict[str, Any]) -> Change:
    """One more thing of a kind."""
    return {name: add_table(files[name], key, table)}


def copy(files: Files, name: str, path: Path, new_id: str) -> Change:
    """A thing once more under another id."""
    key = str(path[0])
    fresh = {NAMED_BY.get(key, "id"): new_id}
    raw = at(table_of(files[name]), path)
    if raw is not None:
        return {name: copy_table(files[name], key, raw[1], {} if key == "measured" else fresh)}
    merged = merged_setups(files)[name.removesuffix(".toml")].table
    inherited = next(item for item in merged[key] if name_of(key, item) == path[1])
    return add(files, name, key, inherited | fresh)


def remove(files: Files, name: str, path: Path) -> Change:
    """Without a thing. Raises NotEdited, with who refers to it, for one that is in use."""
    key = str(path[0])
    if name in (DAY, KIT) and len(path) > 1 and isinstance(path[1], str):
        _refuse_used(files, key, path[1])
    text, raw = files[name], at(table_of(files[name]), path)
    if raw is not None:
        text = remove_table(text, raw)
    if name not in (DAY, KIT) and _inherited(files, name, path) is not None:
        if key not in NAMED_BY:
            raise NotEdited(f"{key} comes from the setup this one is like; take it out there")
        drop = table_of(text).get("drop", [])
        text = set_value(text, ("drop",), [*drop, path[1]])
    elif raw is None:
        raise NotEdited("there is nothing to take out")
    return {name: text}


def move(files: Files, name: str, path: Path, by: int) -> Change:
    """A thing one place up or down among its kind."""
    table = table_of(files[name])
    raw = at(table, path)
    if raw is None:
        raise NotEdited("it is written in the setup this one is like; move it there")
    to = raw[1] + by
    if not 0 <= to < len(table[raw[0]]):
        raise NotEdited(f"it is the {'first' if by < 0 else 'last'} already")
    return {name: move_table(files[name], raw[0], raw[1], to)}


# -- names -------------------------------------------------------------------------------------


def used_at(files: Files, kind: str, name: str) -> Iterator[tuple[str, Path]]:
    """Where an id of a kind is written besides its own table: file and path."""
    for file, text in files.items():
        table = table_of(text)
        places = {DAY: IN_DAY, KIT: IN_KIT}.get(file, (*IN_SETUP, *_ALSO))
        for pattern, of in places:
            if of == kind:
                yield from ((file, path) for path, said in written(table, pattern) if said == name)


def _refuse_used(files: Files, kind: str, name: str) -> None:
    users = list(dict.fromkeys(file.removesuffix(".toml") for file, _ in used_at(files, kind, name)))
    if users:
        more = f" and {len(users) - 3} more" if len(users) > 3 else ""
        raise NotEdited(f"{name} is used by {', '.join(users[:3])}{more}; take it out there first")


def rename(files: Files, kind: str, old: str, new: str) -> Change:
    """A thing of the kit or the day, or a setup, under another id; all that names it follows."""
    if not is_id(new):
        raise NotEdited(f'"{new}" is no id; write 1 to 24 letters, digits, - or _')
    texts: dict[str, str] = dict(files)
    for file, path in used_at(files, kind, old):
        texts[file] = set_value(texts[file], path, new)
    change: Change = {}
    if kind == "setup":
        _refuse_taken(files, new)
        change = {f"{new}.toml": texts.pop(f"{old}.toml"), f"{old}.toml": None}
    else:
        file = DAY if kind in ("crew", "look", "break") else KIT
        raw = at(table_of(files[file]), (kind, old, "id"))
        if raw is None:
            raise NotEdited(f"no {kind} is called {old}")
        texts[file] = set_value(texts[file], raw, new)
    return change | {name: text for name, text in texts.items() if text != files[name]}


def _refuse_taken(files: Files, name: str) -> None:
    if not is_id(name):
        raise NotEdited(f'"{name}" is no id; write 1 to 24 letters, digits, - or _')
    # a file system may not tell capitals from small letters
    if f"{name}.toml".lower() in {file.lower() for file in files}:
        raise NotEdited(f"{name}.toml is there already; give another id")


# -- setups ------------------------------------------------------------------------------------


def add_setup(files: Files, name: str, text: str, after: str | None = None) -> Change:
    """A setup's file, and its place in the order: after another one, else last."""
    _refuse_taken(files, name)
    order = list(table_of(files[DAY]).get("order", []))
    order.insert(order.index(after) + 1 if after in order else len(order), name)
    return {f"{name}.toml": text, DAY: set_value(files[DAY], ("order",), order)}


def remove_setup(files: Files, name: str) -> Change:
    """Without a setup. Raises NotEdited when another is like it, or is to be shot before it."""
    users = [file for file, _ in used_at(files, "setup", name) if file not in (DAY, f"{name}.toml")]
    if users:
        said = ", ".join(dict.fromkeys(file.removesuffix(".toml") for file in users))
        raise NotEdited(f"{name} is named in {said}; change like or before there first")
    order = [each for each in table_of(files[DAY]).get("order", []) if each != name]
    change: Change = {f"{name}.toml": None}
    text = set_value(files[DAY], ("order",), order)
    return change | ({DAY: text} if text != files[DAY] else {})


def ordered(files: Files, order: Sequence[str]) -> Change:
    """The day with its setups in another order. Raises NotEdited for other setups."""
    if sorted(order) != sorted(table_of(files[DAY]).get("order", [])):
        raise NotEdited("the order no longer names the same setups; look at the day again")
    return {DAY: set_value(files[DAY], ("order",), list(order))}


def reorder(files: Files, name: str, by: int) -> Change:
    """A setup earlier (minus) or later in the day."""
    order = list(table_of(files[DAY]).get("order", []))
    if name not in order:
        raise NotEdited(f"{name} is not in the day's order; write it there first")
    at_now = order.index(name)
    to = at_now + by
    if not 0 <= to < len(order):
        raise NotEdited(f"it is the {'first' if by < 0 else 'last'} already")
    order.insert(to, order.pop(at_now))
    return {DAY: set_value(files[DAY], ("order",), order)}
