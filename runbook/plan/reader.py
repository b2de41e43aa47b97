"""A day's files made a plan: every check, and everything that is wrong at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from pydantic_core import ValidationError

from runbook.plan.bounds import is_id
from runbook.plan.day import Day, Plan
from runbook.plan.day_faults import day_wrongs
from runbook.plan.faults import Fault, Unreadable, Wrong, split
from runbook.plan.inherit import Locator, Merged, inherit
from runbook.plan.kit import Kit
from runbook.plan.kit_faults import dial_of, kit_wrongs
from runbook.plan.power import OFF
from runbook.plan.refs import IN_SETUP, ids_in, kit_ids, twice, unknown, written
from runbook.plan.setup import Setup
from runbook.plan.setup_faults import Parts, setup_wrongs
from runbook.plan.shape import validator
from runbook.plan.source import DAY_FILE, KIT_FILE, Source, parsed, read_source, shown_path
from runbook.plan.tuples import NamedTuple

_START: Final = "every day has one; start a day with: runbook new DAY"
_Shape = TypeVar("_Shape", Kit, Day, Setup)


# while a day is edited, most of its files are read again and again as they are
_parsed = lru_cache(maxsize=256)(parsed)


class _Known(NamedTuple):
    """What a setup is held against: the right parts of the kit, and every id there is."""

    kit: Kit
    camera_is_right: bool
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
    setup_sources = {stems[name]: source for name, source in sources.items() if name in stems}
    ids: dict[str, Set[str]] = {"setup": frozenset(stems.values())}
    kit, camera_is_right = reader.kit(sources.get(KIT_FILE), ids)
    day = reader.day(sources.get(DAY_FILE), ids)
    setups = reader.setups(setup_sources, _Known(kit, camera_is_right, ids))
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

    def blame(self, chain: tuple[tuple[str, Source], ...], wrongs: Iterable[Wrong]) -> None:
        """Keep these faults, each at the file and line that wrote it."""
        for wrong in wrongs:
            self.locator.note(chain, wrong)

    def shaped(
        self, cls: type[_Shape], table: dict[str, Any], merged: Merged
    ) -> tuple[_Shape | None, dict[str, Any]]:
        """A table as its shape, and by itself each field that is right."""
        shape: Any = cls
        try:
            value = cast(_Shape, validator(shape).validate_python(table))
        except ValidationError as problem:
            from runbook.plan.words import salvage, shape_wrongs

            also = ("like", "drop") if cls is Setup else ()
            wrongs = shape_wrongs(cls, problem, merged.whole, also)
            self.blame(merged.chain, (_by_name(wrong, merged) for wrong in wrongs))
            return None, salvage(cls, table)
        return value, value._asdict()

    def kit(self, source: Source | None, ids: dict[str, Set[str]]) -> tuple[Kit, bool]:
        """The kit, or its right parts; its ids join ``ids``."""
        if source is None:
            return Kit(), False
        chain = (("kit", source),)
        whole, parts = self.shaped(Kit, source.table, Merged("kit", source.table, chain, {}, True))
        kit = whole or Kit(**parts)
        self.blame(chain, kit_wrongs(kit, source.table))
        ids |= kit_ids(source.table)
        return kit, whole is not None or "camera" in parts

    def day(self, source: Source | None, ids: dict[str, Set[str]]) -> Day | None:
        """The day, if its shape is right; the ids of its looks join ``ids``."""
        if source is None:
            return None
        chain = (("day", source),)
        day, parts = self.shaped(Day, source.table, Merged("day", source.table, chain, {}, True))
        self.blame(chain, day_wrongs(source.table, parts, ids["setup"]))
        ids["look"] = ids_in(source.table, "look")
        return day

    def setups(self, sources: dict[str, Source], known: _Known) -> dict[str, Setup]:
        """Every setup whose shape is right, by id."""
        broken = known.ids["setup"] - sources.keys()
        merged, wrongs = inherit(sources, broken)
        read = {}
        for name, setup in merged.items():
            if not is_id(name):
                what, do = (
                    f'"{name}" is no id',
                    "name the file with 1 to 24 letters, digits, - or _",
                )
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
        value, fields = self.shaped(Setup, table | file_id, merged)
        parts = Parts(
            kit=known.kit,
            camera=known.kit.camera if known.camera_is_right else None,
            exposure=fields.get("exposure"),
            view=fields.get("view"),
            subject=fields.get("subject"),
            background=fields.get("background"),
            lights=fields.get("lights", ()),
            panels=fields.get("panels", ()),
            lit=_named(table, "light", "head") if merged.whole else None,
            placed=_named(table, "place_panel", "panel") if merged.whole else None,
        )
        found += setup_wrongs(parts)
        self.blame(merged.chain, (_by_name(wrong, merged) for wrong in found))
        return value


def _named(table: dict[str, Any], key: str, name: str) -> frozenset[str]:
    return frozenset(text for _, text in written(table, (key, "*", name)))


def _own_wrongs(merged: Merged) -> Iterator[Wrong]:
    table = merged.table
    if "id" in table:
        yield Wrong((("id",),), "no such key", "a setup's id is its file's name")
    yield from twice(table, ("light", "*", "head"), "head {} is lit already in this setup")
    yield from twice(table, ("place_panel", "*", "panel"), "panel {} is placed already")
    for path, name in written(table, ("before", "*")):
        if name == merged.id:
            yield Wrong((path,), "a setup cannot be before itself", "name the one that comes later")


def _dialled(table: dict[str, Any], kit: Kit) -> tuple[dict[str, Any], list[Wrong]]:
    """The table with each power read on its own head's dial, and those which are not on it."""
    if not isinstance(table.get("light"), list):
        return table, []
    lights, wrongs = [], []
    for index, light in enumerate(table["light"]):
        read = light
        dial = dial_of(kit.head.get(light["head"])) if _is_dialled(light) else None
        if dial is not None:
            try:
                read = light | {"power": dial.read(light["power"])}
            except ValueError as problem:
                wrongs.append(Wrong((("light", index, "power"),), *split(problem)))
                read = light | {"power": OFF}
        lights.append(read)
    return table | {"light": lights}, wrongs


def _is_dialled(light: Any) -> bool:
    return isinstance(light, dict) and all(
        isinstance(light.get(key), str) for key in ("head", "power")
    )


def _by_name(wrong: Wrong, merged: Merged) -> Wrong:
    """The same fault with lights and panels named by id, as they may stand in several files."""
    return wrong._replace(paths=tuple(_path_by_name(path, merged.names) for path in wrong.paths))


def _path_by_name(path: tuple[Any, ...], names: dict[str, tuple[Any, ...]]) -> tuple[Any, ...]:
    if len(path) > 1 and path[0] in names and isinstance(path[1], int):
        return (path[0], names[path[0]][path[1]], *path[2:])
    return path
