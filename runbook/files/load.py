"""A day's folder as a plan: which files are the day's, every check, everything wrong at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from pydantic import ValidationError

from runbook.files.errors import Fault, Unreadable, Wrong, shown, split
from runbook.files.inherit import NAMED_BY, Locator, Merged, inherit
from runbook.files.rules import IN_SETUP, day_wrongs, dial_of, ids_in, kit_ids, kit_wrongs, twice, unknown, written
from runbook.files.setup_rules import Parts, setup_wrongs
from runbook.files.toml_file import DAY_FILE, KIT_FILE, Source, parsed, read_bytes, read_source, shown_path, unreadable
from runbook.files.validate import Unknown, brackets_corrected, members, missing, parse, partly, shape_wrongs
from runbook.model.day import Day, Plan
from runbook.model.fields import is_id
from runbook.model.kit import Kit
from runbook.model.power import Dial
from runbook.model.setup import Setup

_START: Final = "every day has one; start a day with: runbook new DAY"
_Shape = TypeVar("_Shape", Kit, Day, Setup)


# while a day is edited, most of its files are read again and again as they are
_parsed = lru_cache(maxsize=256)(parsed)


@dataclass(frozen=True, slots=True)
class _Known:
    """What a setup is held against: the kit as far as it is right, and every id there is."""

    kit: Kit
    ids: dict[str, Set[str]]


def read(folder: Path, files: Mapping[str, Path | bytes]) -> Plan:
    """The day these files make, by name. Raises Unreadable with everything that is wrong."""
    reader = _Reader()
    found = {name: reader.source(folder / name, file) for name, file in files.items()}
    sources = {name: source for name, source in found.items() if source}
    for name in (DAY_FILE, KIT_FILE):
        if name not in files:
            where = shown_path(folder / name)
            reader.faults.append(Fault(where, None, "", "is not there", _START))
    stems = {name: Path(name).stem for name in files if name not in (DAY_FILE, KIT_FILE)}
    setup_sources = {
        stem: reader.corrected(stem, Setup, sources[name]) for name, stem in stems.items() if name in sources
    }
    ids: dict[str, Set[str]] = {"setup": frozenset(stems.values())}
    kit = reader.kit(sources.get(KIT_FILE), ids)
    day = reader.day(sources.get(DAY_FILE), ids)
    setups = reader.setups(setup_sources, _Known(kit, ids))
    faults = [*reader.faults, *reader.locator.faults()]
    if faults or day is None:
        raise Unreadable(faults)
    return Plan(day=day, kit=kit, setups=setups)


class _Reader:
    """Reads a day's files one after the other, keeping the faults of all of them."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.locator = Locator()

    def source(self, path: Path, file: Path | bytes) -> Source | None:
        try:
            return _parsed(path, file) if isinstance(file, bytes) else read_source(file)
        except Unreadable as problem:
            self.faults += problem.faults
            return None

    def corrected(self, name: str, cls: type, source: Source) -> Source:
        """A file with its tables in the right brackets; the wrong ones are told."""
        table, wrongs = brackets_corrected(cls, source.table)
        source = replace(source, table=table)
        self.blame(((name, source),), wrongs)
        return source

    def blame(self, chain: tuple[tuple[str, Source], ...], wrongs: Iterable[Wrong]) -> None:
        """Keep these faults, each at the file and line that wrote it."""
        for wrong in wrongs:
            self.locator.note(chain, wrong)

    def shaped(self, cls: type[_Shape], table: dict[str, Any], merged: Merged) -> tuple[_Shape | None, _Shape]:
        """A table as its shape, if it is right; and as far as it is (see ``partly``)."""
        shape: Any = cls
        try:
            value = cast(_Shape, parse(shape, table))
        except ValidationError as problem:
            wrongs = shape_wrongs(cls, problem, merged.whole, _keys_of_a_file(cls))
            self.blame(merged.chain, (_by_name(wrong, merged) for wrong in wrongs))
            return None, partly(cls, table, merged.whole)
        return value, value if merged.whole else partly(cls, table, whole=False)

    def kit(self, source: Source | None, ids: dict[str, Set[str]]) -> Kit:
        """The kit, as far as it is right; its ids join ``ids``."""
        if source is None:
            return partly(Kit, {}, whole=False)
        source = self.corrected("kit", Kit, source)
        chain = (("kit", source),)
        _, kit = self.shaped(Kit, source.table, Merged("kit", source.table, chain, {}, True))
        self.blame(chain, kit_wrongs(kit, source.table))
        ids |= kit_ids(source.table)
        return kit

    def day(self, source: Source | None, ids: dict[str, Set[str]]) -> Day | None:
        """The day, if its shape is right; the ids of its looks join ``ids``."""
        if source is None:
            return None
        source = self.corrected("day", Day, source)
        chain = (("day", source),)
        day, known = self.shaped(Day, source.table, Merged("day", source.table, chain, {}, True))
        self.blame(chain, day_wrongs(known, source.table, ids["setup"]))
        looks = ids_in(Day, source.table, "look")
        if looks is not None:
            ids["look"] = looks
        return day

    def setups(self, sources: dict[str, Source], known: _Known) -> dict[str, Setup]:
        """Every setup whose shape is right, by id."""
        broken = known.ids["setup"] - sources.keys()
        merged, wrongs = inherit(sources, broken)
        read = {}
        for name, setup in merged.items():
            if not is_id(name):
                what, do = (f"{shown(name)} is no id", "name the file with 1 to 24 letters, digits, - or _")
                self.faults.append(Fault(sources[name].shown, None, "", what, do))
            self.blame(setup.chain, wrongs[name])
            value = self.setup(setup, known)
            if value is not None:
                read[name] = value
        return read

    def setup(self, merged: Merged, known: _Known) -> Setup | None:
        table, power_wrongs = _dialled(merged.table, known.kit)
        file_id = {"id": merged.id if is_id(merged.id) else "_"}
        found = [*_own_wrongs(merged), *unknown(table, IN_SETUP, known.ids), *power_wrongs]
        value, right = self.shaped(Setup, table | file_id, merged)
        parts = Parts(
            kit=known.kit,
            setup=right,
            table=merged.table,
            lit=ids_in(Setup, table, "light", "head") if merged.whole else None,
            placed=ids_in(Setup, table, "place_panel", "panel") if merged.whole else None,
        )
        found += setup_wrongs(parts)
        self.blame(merged.chain, (_by_name(wrong, merged) for wrong in found))
        return value


def _keys_of_a_file(cls: type) -> tuple[str, ...]:
    """The keys at the top of a file; a setup's id is the file's name, and what it is like is no
    part of its value."""
    keys = tuple(member.key for member in members(cls))
    return (*(key for key in keys if key != "id"), "like", "drop") if cls is Setup else keys


def _own_wrongs(merged: Merged) -> Iterator[Wrong]:
    table = merged.table
    if "id" in table:
        yield Wrong((("id",),), "no such key", "a setup's id is its file's name")
    yield from twice(table, ("light", "*", "head"), "head {} is lit already in this setup")
    yield from twice(table, ("place_panel", "*", "panel"), "panel {} is placed already")
    for path, name in written(table, ("before", "*")):
        if name == merged.id:
            yield Wrong((path,), "a setup cannot be before itself", "name the one that comes later")
    if not merged.whole:
        yield from _without_id(table)


def _without_id(table: dict[str, Any]) -> Iterator[Wrong]:
    """Lights and panels without the key that names them, in a setup that inherits.

    Whatever else such a table lacks may be inherited. The key that names it cannot be.
    """
    for key, name in NAMED_BY.items():
        for index, item in enumerate(table[key] if isinstance(table.get(key), list) else ()):
            if isinstance(item, dict) and name not in item:
                yield Wrong(((key, index, name),), *missing(Setup, (key, index, name)))


def _dialled(table: dict[str, Any], kit: Kit) -> tuple[dict[str, Any], list[Wrong]]:
    """The table with each power read on its own head's dial, and those which are not on it."""
    if not isinstance(table.get("light"), list):
        return table, []
    lights, wrongs = [], []
    for index, light in enumerate(table["light"]):
        read = light
        dial = _dial_of(light, kit)
        if dial is not None:
            try:
                read = light | {"power": dial.read(light["power"])}
            except ValueError as problem:  # it may be one of another dial, and fires then as well
                wrongs.append(Wrong((("light", index, "power"),), *split(problem)))
        lights.append(read)
    return table | {"light": lights}, wrongs


def _dial_of(light: Any, kit: Kit) -> Dial | None:
    """The dial of a light's head, where its power is written for one that is known."""
    if not (isinstance(light, dict) and all(isinstance(light.get(key), str) for key in ("head", "power"))):
        return None
    try:
        return dial_of(kit.head.get(light["head"]))
    except Unknown:
        return None


def _by_name(wrong: Wrong, merged: Merged) -> Wrong:
    """The same fault with lights and panels named by id, as they may stand in several files."""
    return replace(wrong, paths=tuple(_path_by_name(path, merged.names) for path in wrong.paths))


def _path_by_name(path: tuple[Any, ...], names: dict[str, tuple[Any, ...]]) -> tuple[Any, ...]:
    if len(path) > 1 and path[0] in names and isinstance(path[1], int):
        return (path[0], names[path[0]][path[1]], *path[2:])
    return path


def read_day(folder: Path) -> Plan:
    """Read a day's folder: ``kit.toml``, ``day.toml``, and every other ``*.toml`` as a setup.

    Files whose names begin with a dot are ignored. Raises Unreadable with everything that is wrong.
    """
    try:
        files = day_bytes(folder)
    except Unreadable:  # told with all that is wrong with the others
        return read(folder, {path.name: path for path in _paths(folder)})
    return read(folder, files)


def read_files(folder: Path, files: Mapping[str, bytes]) -> Plan:
    """Read a day's folder as if it held these files, by name. Raises Unreadable as ``read_day``."""
    return read(folder, {name: files[name] for name in sorted(files)})


def day_bytes(folder: Path) -> dict[str, bytes]:
    """What the day's files hold, by name. Raises Unreadable with one fault where that fails."""
    return {path.name: read_bytes(path) for path in _paths(folder)}


def _paths(folder: Path) -> list[Path]:
    """The files of a folder that are the day's, by name."""
    try:
        names = sorted(path.name for path in folder.iterdir())
    except (OSError, ValueError) as problem:
        raise unreadable(folder, problem) from None
    return [folder / name for name in names if name.endswith(".toml") and name[0] != "."]


def digest_of(folder: Path) -> str:
    """A short sum over the plan's files, to tell whether they changed since. Raises OSError."""
    from hashlib import sha256

    total = sha256()
    for path in _paths(folder):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()[:16]
