"""What a person changes in a day's files, and the folder while it is edited.

A change is worked out on the texts of the files: it takes them by name and returns those that become others, None for
a file that goes. A setup that is ``like`` another is given only what differs from it. The ``Editor`` writes a change
whole or not at all, and can undo every one.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any, Final

from runbook.files.atomic_write import new_mode, put_back, replace_files, temp_file
from runbook.files.errors import Path, Unreadable
from runbook.files.inherit import EITHER, NAMED_BY, OWN, Merged, Source, fits_of, inherit, name_of, place_of, takes_away
from runbook.files.load import day_bytes, read_files
from runbook.files.paths import DAY_FILE, KIT_FILE
from runbook.files.rules import DAY_KINDS, IN_DAY, IN_KIT, IN_SETUP, Pattern, written
from runbook.files.toml_edit import NotEdited, add_table, move_table, remove_key, remove_table, set_value
from runbook.files.validate import plain
from runbook.model.day import Plan
from runbook.model.fields import is_id
from runbook.model.kit import Measured

Files = Mapping[str, str]
Change = dict[str, str | None]

# ids that are not held to a list of one kind when a day is read, and still follow a new name
_ALSO: Final[tuple[tuple[Pattern, str], ...]] = (
    (("light", "*", "aim"), "panel"),
    (("place_panel", "*", "face_to"), "head"),
    (("place_panel", "*", "catches"), "head"),
    (("hang", "*", "face_to"), "head"),
    (("subject", "looks_at"), "head"),
    (("place_panel", "*", "held_by"), "stand"),
    (("place_panel", "*", "held_by"), "crew"),
    (("drop", "*"), "head"),
    (("drop", "*"), "panel"),
    (("drop", "*"), "cloth"),
    (("like",), "setup"),
)


@lru_cache(maxsize=128)
def table_of(text: str) -> dict[str, Any]:
    """A text as a table, to look at: the same one is given again for the same text."""
    return tomllib.loads(text)


def setups_of(files: Files) -> dict[str, str]:
    """The ids of the setups, and their files."""
    return {name.removesuffix(".toml"): name for name in files if name not in (DAY_FILE, KIT_FILE)}


def merged_setups(files: Files) -> dict[str, Merged]:
    """Every setup with what it inherits, by id."""
    sources = {setup: Source(name, files[name], table_of(files[name])) for setup, name in setups_of(files).items()}
    return inherit(sources, fits_of(table_of(files.get(KIT_FILE, ""))))[0]


# -- keys --------------------------------------------------------------------------------------


def put(files: Files, name: str, path: Path, value: Any) -> Change:
    """A key with this value. What a setup inherits just so is not written again."""
    text = files[name]
    if _inherited(files, name, path) == (value,) and not _is_taken_away(table_of(text), path):
        raw = place_of(table_of(text), path)
        return {name: remove_key(text, raw)} if raw else {}
    for other in EITHER.get(str(path[-1]), ()):
        if raw := place_of(table_of(text), (*path[:-1], other)):
            text = remove_key(text, raw)
    outer = place_of(table_of(text), path[:-1])
    if outer is not None:
        return {name: set_value(text, (*outer, path[-1]), value)}
    if path[0] not in NAMED_BY:
        return {name: set_value(text, path, value)}
    if path[-1] == NAMED_BY[path[0]]:
        raise NotEdited(f"{path[1]} is inherited; copy it under the new id, then delete it")
    return {name: add_table(text, path[0], {NAMED_BY[path[0]]: path[1], path[-1]: value})}


def _is_taken_away(table: Mapping[str, Any], path: Path) -> bool:
    """Whether another key beside this one takes away what would be inherited for it."""
    for part in place_of(table, path[:-1]) or ():
        table = table[part]
    return any(path[-1] in takes_away(key, value) for key, value in table.items()) if len(path) > 1 else False


def clear(files: Files, name: str, path: Path) -> Change:
    """Without a key of its own. Raises NotEdited for one that is inherited only."""
    raw = place_of(table_of(files[name]), path)
    if raw is not None:
        return {name: remove_key(files[name], raw)}
    if _inherited(files, name, path):
        like = table_of(files[name]).get("like")
        raise NotEdited(f"it is inherited from {like}; write another value here, or clear it there")
    raise NotEdited("there is nothing to clear")


def _inherited(files: Files, name: str, path: Path) -> tuple[Any] | None:
    """What a setup would have at a path without its own file, in a tuple; None for nothing, and for other files."""
    if name in (DAY_FILE, KIT_FILE) or path[0] in OWN:
        return None
    merged = merged_setups(files)
    chain = merged[name.removesuffix(".toml")].chain
    if len(chain) < 2 or (len(path) > 1 and path[1] in chain[0][1].table.get("drop", [])):
        return None
    value: Any = merged[chain[1][0]].table
    raw = place_of(value, path)
    for part in raw or ():
        value = value[part]
    return None if raw is None else (value,)


# -- tables ------------------------------------------------------------------------------------


def add(files: Files, name: str, key: str, table: dict[str, Any]) -> Change:
    """One more thing of a kind."""
    return {name: add_table(files[name], key, table)}


def copy(files: Files, name: str, path: Path, new_id: str) -> Change:
    """A thing of the kit or the day once more under another id; a measured row has none."""
    table = table_of(files[name])
    raw = place_of(table, path)
    assert raw is not None
    key, place = raw
    return add(files, name, key, table[key][place] | ({"id": new_id} if new_id else {}))


def remove(files: Files, name: str, path: Path) -> Change:
    """Without a thing. Raises NotEdited, with who refers to it, for one that is in use."""
    key = str(path[0])
    if name in (DAY_FILE, KIT_FILE) and len(path) > 1 and isinstance(path[1], str):
        users = _users(files, key, path[1])
        if users:
            more = f" and {len(users) - 3} more" if len(users) > 3 else ""
            raise NotEdited(f"{path[1]} is used by {', '.join(users[:3])}{more}; delete it there first")
    text, raw = files[name], place_of(table_of(files[name]), path)
    if raw is not None:
        text = remove_table(text, raw)
    if _inherited(files, name, path) is not None:
        if key not in NAMED_BY:
            raise NotEdited(f"{key} is inherited; delete it in the setup that this one is like")
        text = set_value(text, ("drop",), [*table_of(text).get("drop", []), path[1]])
    elif raw is None:
        raise NotEdited("there is nothing to delete")
    return {name: text}


def move(files: Files, name: str, path: Path, by: int) -> Change:
    """A thing one place up or down among its kind."""
    table = table_of(files[name])
    raw = place_of(table, path)
    if raw is None:
        raise NotEdited("it is inherited; move it in the setup that this one is like")
    to = _place_beside(raw[1], by, len(table[raw[0]]))
    return {name: move_table(files[name], raw[0], raw[1], to)}


def _place_beside(place: int, by: int, count: int) -> int:
    if not 0 <= place + by < count:
        raise NotEdited(f"it is the {'first' if by < 0 else 'last'} already")
    return place + by


# -- names -------------------------------------------------------------------------------------


def used_at(files: Files, kind: str, name: str) -> Iterator[tuple[str, Path]]:
    """Where an id of a kind is written besides its own table: file and path."""
    for file, text in files.items():
        for pattern, of in {DAY_FILE: IN_DAY, KIT_FILE: IN_KIT}.get(file, (*IN_SETUP, *_ALSO)):
            if of == kind:
                yield from ((file, path) for path, word in written(table_of(text), pattern) if word == name)


def _users(files: Files, kind: str, name: str) -> list[str]:
    return list(dict.fromkeys(file.removesuffix(".toml") for file, _ in used_at(files, kind, name)))


def rename(files: Files, kind: str, old: str, new: str) -> Change:
    """A thing of the kit or the day, or a setup, under another id; all that names it follows."""
    if not is_id(new):
        raise NotEdited(f'"{new}" is not an id; write 1 to 24 letters, digits, - or _')
    texts: dict[str, str] = dict(files)
    for file, path in used_at(files, kind, old):
        texts[file] = set_value(texts[file], path, new)
    change: Change = {}
    if kind == "setup":
        _refuse_taken(files, new)
        change = {f"{new}.toml": texts.pop(f"{old}.toml"), f"{old}.toml": None}
    else:
        file = DAY_FILE if kind in DAY_KINDS else KIT_FILE
        raw = place_of(table_of(files[file]), (kind, old, "id"))
        assert raw is not None
        texts[file] = set_value(texts[file], raw, new)
    return change | {name: text for name, text in texts.items() if text != files[name]}


def _refuse_taken(files: Files, name: str) -> None:
    if not is_id(name):
        raise NotEdited(f'"{name}" is not an id; write 1 to 24 letters, digits, - or _')
    # a file system may not tell capitals from small letters
    if f"{name}.toml".lower() in {file.lower() for file in files}:
        raise NotEdited(f"{name}.toml already exists; give another id")


# -- setups ------------------------------------------------------------------------------------


def _order(files: Files) -> list[str]:
    return list(table_of(files[DAY_FILE]).get("order", []))


def _with_order(files: Files, order: Sequence[str]) -> Change:
    return {DAY_FILE: set_value(files[DAY_FILE], ("order",), list(order))}


def add_setup(files: Files, name: str, text: str, after: str | None = None) -> Change:
    """A setup's file, and its place in the order: after another one, else last."""
    _refuse_taken(files, name)
    order = _order(files)
    order.insert(order.index(after) + 1 if after in order else len(order), name)
    return {f"{name}.toml": text} | _with_order(files, order)


def remove_setup(files: Files, name: str) -> Change:
    """Without a setup. Raises NotEdited when another is like it, or is to be shot before it."""
    users = [user for user in _users(files, "setup", name) if user not in (DAY_FILE.removesuffix(".toml"), name)]
    if users:
        raise NotEdited(f"{name} is named in {', '.join(users)}; change like or before there first")
    order = _order(files)
    left = [each for each in order if each != name]
    return {f"{name}.toml": None} | (_with_order(files, left) if left != order else {})


def ordered(files: Files, order: Sequence[str]) -> Change:
    """The day with its setups in another order. Raises NotEdited for other setups."""
    if sorted(order) != sorted(_order(files)):
        raise NotEdited("the setups of the day have changed meanwhile; calculate the hours again")
    return _with_order(files, order)


def reorder(files: Files, name: str, by: int) -> Change:
    """A setup earlier (minus) or later in the day."""
    order = _order(files)
    if name not in order:
        raise NotEdited(f"{name} is not in the day's order; write it there first")
    place = order.index(name)
    order.insert(_place_beside(place, by, len(order)), order.pop(place))
    return _with_order(files, order)


# -- what setups like another lose -------------------------------------------------------------


def losses(files: Files, change: Change, base: str) -> tuple[str, ...]:
    """A line for each setup, like ``base`` at some remove, that would have less than it has."""
    after = merged_setups({name: text for name, text in {**files, **change}.items() if text is not None})
    lines = []
    for child, merged in merged_setups(files).items():
        if child in after and base in (name for name, _ in merged.chain[1:]):
            lost = list(dict.fromkeys(_lost(merged.table, after[child].table)))
            lines += [f"{child} loses {', '.join(lost)}"] if lost else []
    return tuple(lines)


def _lost(before: Mapping[str, Any], after: Mapping[str, Any], of: str = "") -> Iterator[str]:
    """What a table has, and has no more."""
    for key, value in before.items():
        if key in NAMED_BY:
            yield from _lost_parts(key, value, after.get(key, []))
        elif isinstance(value, dict):
            yield from (f"{key} {lost}" for lost in _lost(value, after.get(key, {})))
        elif isinstance(value, list):
            yield from (f"{item}{of}" for item in value if item not in after.get(key, []))
        elif key not in after and not any(other in after for other in EITHER.get(key, ())):
            yield f"{key}{of}"


def _lost_parts(key: str, before: list[dict[str, Any]], after: list[dict[str, Any]]) -> Iterator[str]:
    """Lights are compared with those of the same role: another head may do the same work."""
    left = list(after)
    for item in before:
        same = [each for each in left if each.get("role") == item.get("role")]
        match = next((each for each in same if name_of(key, each) == name_of(key, item)), None)
        if match is None and key == "light":
            match = next(iter(same), None)
        label = f"{'' if key == 'light' else 'panel '}{name_of(key, item)}"
        if match is None:
            yield f"its {item['role']} ({label})" if "role" in item else label
        else:
            left.remove(match)
            yield from _lost({k: v for k, v in item.items() if k != NAMED_BY[key]}, match, f" of {label}")


# -- the folder --------------------------------------------------------------------------------

_BOM: Final = b"\xef\xbb\xbf"
Bytes = dict[str, bytes | None]


@dataclass(frozen=True, slots=True)
class Deed:
    """One change as it was written: the files it touched, before and after, and what it was."""

    before: Bytes
    after: Bytes
    what: str


def stamp_of(moment: datetime) -> str:
    """A moment, to the second, as the name of a backup has it."""
    return f"{moment:%Y%m%d-%H%M%S}"


class Editor:
    """A day's folder on disk, and what was done to it since it was opened.

    ``stamp`` names the folder its files are kept in, as they were, before the first change is
    written: ``.backup-<stamp>``. ``complete`` works out what the files leave out of a plan. Raises Unreadable as
    ``read_day``.
    """

    def __init__(self, folder: FilePath, stamp: str, complete: Callable[[Plan], Plan] = lambda plan: plan) -> None:
        self.complete = complete
        self.folder = folder
        self.backup = folder / f".backup-{stamp}"
        put_back(folder)
        self.files = day_bytes(folder)
        self.plan = complete(read_files(folder, self.files))
        self.texts = _texts(self.files)
        self.done: list[Deed] = []
        self.undone: list[Deed] = []
        self.kept = False

    def preview(self, change: Change) -> Plan:
        """The day as it would be. Raises NotEdited, with the reader's own words, if it could not be read."""
        return self._read(self._after(change))

    def _after(self, change: Change) -> Bytes:
        marked = {name for name, data in self.files.items() if data.startswith(_BOM)}
        return {
            name: None if text is None else (_BOM if name in marked else b"") + text.encode()
            for name, text in change.items()
        }

    def _read(self, after: Bytes) -> Plan:
        try:
            return self.complete(read_files(self.folder, _with(self.files, after)))
        except Unreadable as why:
            raise NotEdited(_first(why, after)) from None

    def apply(self, change: Change, what: str) -> None:
        """Write a change. Raises NotEdited, with nothing changed, when the day could not be read
        after it, when somebody else changed the files meanwhile, or when it cannot be written."""
        before = {name: self.files.get(name) for name in change}
        deed = Deed(before, self._after(change), what)
        if deed.before != deed.after:
            self._write(deed.after)
            self.done.append(deed)
            self.undone.clear()

    def undo(self) -> str:
        """Put the files back as they were before the last change; returns what it was."""
        if not self.done:
            raise NotEdited("no edit is left to undo")
        self._write(self.done[-1].before)
        self.undone.append(self.done.pop())
        return self.undone[-1].what

    def redo(self) -> str:
        """Make again the change that was undone last; returns what it was."""
        if not self.undone:
            raise NotEdited("no edit to bring back")
        self._write(self.undone[-1].after)
        self.done.append(self.undone.pop())
        return self.done[-1].what

    def look_again(self) -> bool:
        """Take in what somebody else changed on disk; what was done before can not be undone then.

        Returns whether anything was. Raises Unreadable as ``read_day``.
        """
        files = day_bytes(self.folder)
        if files == self.files:
            return False
        self.plan = self.complete(read_files(self.folder, files))
        self.files, self.texts = files, _texts(files)
        self.done, self.undone = [], []
        return True

    def _write(self, after: Bytes) -> None:
        plan = self._read(after)
        try:
            now = day_bytes(self.folder)
        except Unreadable as why:
            raise NotEdited(str(why.faults[0])) from None
        if now != self.files:
            names = {name for name in now | self.files if now.get(name) != self.files.get(name)}
            raise NotEdited(
                f"{', '.join(sorted(names))} changed on disk meanwhile; check the values here and try again"
            )
        try:
            self._keep()
            replace_files(self.folder, self.files, after)
        except OSError as why:
            with suppress(OSError):  # where nothing is in it yet
                self.backup.rmdir()
            reason = (why.strerror or str(why)).lower()
            raise NotEdited(f"not written, nothing is changed: {reason}") from None
        self.plan = plan
        self.files = _with(self.files, after)
        self.texts = _texts(self.files)

    def _keep(self) -> None:
        """Keep the files as they were before the first change, once."""
        if self.kept or not self.files:
            return
        self.backup.mkdir(exist_ok=True)
        for name, data in self.files.items():
            temp_file(self.backup, data, new_mode()).replace(self.backup / name)
        self.kept = True


def _texts(files: Mapping[str, bytes]) -> dict[str, str]:
    return {name: data.decode("utf-8-sig") for name, data in files.items()}


def _with(files: Mapping[str, bytes], after: Bytes) -> dict[str, bytes]:
    return {name: data for name, data in {**files, **after}.items() if data is not None}


def _first(why: Unreadable, touched: Bytes) -> str:
    """The first fault, in the file that was touched if there is one, in a line."""
    fault = min(why.faults, key=lambda fault: FilePath(fault.file).name not in touched)
    where = "" if FilePath(fault.file).name in touched else FilePath(fault.file).stem
    return str(replace(fault, file=where, line=None))


# -- a reading kept in kit.toml ----------------------------------------------------------------


def same_use(rows: Sequence[Measured], row: Measured) -> tuple[int, ...]:
    """Which of the kit's rows are for the same head, modifier and accessories."""

    def use(each: Measured) -> tuple[str, str, list[str]]:
        return each.head, each.modifier, sorted(each.accessories)

    return tuple(n for n, each in enumerate(rows) if use(each) == use(row))


def replaced_by(rows: Sequence[Measured], row: Measured) -> int | None:
    """Which of the kit's rows never counts again once this one is there; None where all do.

    Of several rows for the same head, modifier and accessories the one nearest in distance counts, and of two as near
    the later. So a row taken at the same distance is written over; those taken from elsewhere stay.
    """
    at_m = round(row.distance_m, 3)
    same = [n for n in same_use(rows, row) if round(rows[n].distance_m, 3) == at_m]
    return same[-1] if same else None


def with_reading(files: Files, rows: Sequence[Measured], row: Measured) -> tuple[Change, int]:
    """The kit with a row, over the one that never counts again; and the row's place among the others."""
    row = replace(row, distance_m=round(row.distance_m, 3), reads_f=round(row.reads_f, 3))
    at, text = replaced_by(rows, row), files[KIT_FILE]
    if at is None:
        return {KIT_FILE: add_table(text, "measured", plain(row))}, len(rows)
    old = plain(rows[at])
    for key, value in plain(row).items():
        if old[key] != value:
            text = set_value(text, ("measured", at, key), value)
    return {KIT_FILE: text}, at


def keep_measured(folder: FilePath, row: Measured, stamp: str) -> str | None:
    """Write a ``[[measured]]`` row into a day's kit.toml, whole or not at all.

    The files as they were are kept in ``.backup-<stamp>``, whose name is given back; None where the
    kit says so already, and nothing was written. Raises Unreadable where the day on disk cannot be
    read, NotEdited where kit.toml cannot be written.
    """
    editor = Editor(folder, stamp)
    change, _ = with_reading(editor.texts, editor.plan.kit.measured, row)
    if change[KIT_FILE] == editor.texts[KIT_FILE]:
        return None
    editor.apply(change, f"reading of {row.head} saved")
    return editor.backup.name
