"""A day's folder as a plan: its files read with care, every check, everything wrong at once."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from pydantic import ValidationError

from runbook.files import kit_rules, rules
from runbook.files.errors import Fault, Unreadable, Wrong, shown, shown_path, unreadable
from runbook.files.inherit import Fits, Locator, Merged, Source, alone, fits_of, inherit
from runbook.files.paths import DAY_FILE, KIT_FILE
from runbook.files.validate import brackets_corrected, members, parse, partly, shape_wrongs
from runbook.model.day import Day, Plan
from runbook.model.fields import is_id
from runbook.model.kit import Kit
from runbook.model.power import Dial
from runbook.model.setup import MERGE_KEYS, Setup

SIZE_MAX: Final = 1024 * 1024
PARTS_MAX: Final = 64  # of a key: our own have three
# a key of so many parts that to read it would take hours
_LONG_KEY: Final = re.compile(rf"(?<![\w.-])(?:(?:[\w-]+|\"[^\"]*\"|'[^']*')\s*\.\s*){{{PARTS_MAX}}}")
_PLACE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_AIMED_AT: Final = (("light", "head"), ("place_panel", "panel"))
_START: Final = "every day has one; start a day with: runbook new DAY"
_Shape = TypeVar("_Shape", Kit, Day, Setup)
Ids = dict[str, Set[str]]


# -- one file ---------------------------------------------------------------------------------


def read_bytes(path: Path) -> bytes:
    """What a file holds. Raises Unreadable with one fault when it is no fit file."""
    try:
        mode = path.stat()
        if not stat.S_ISREG(mode.st_mode):
            raise _refused(path, "is not a regular file", "write a file there, or give it another name")
        if mode.st_size > SIZE_MAX:
            raise _too_big(path)
        with path.open("rb") as file:
            return file.read(SIZE_MAX + 1)
    except (OSError, ValueError) as problem:
        raise unreadable(path, problem) from None


@lru_cache(maxsize=256)  # while a day is edited, most of its files are read again and again as they are
def parsed(path: Path, data: bytes) -> Source:
    """A file's bytes as TOML. Raises Unreadable with one fault when they are not."""
    if len(data) > SIZE_MAX:
        raise _too_big(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        what = f"byte 0x{data[problem.start]:02x} is not UTF-8"
        raise _refused(path, what, "save the file as UTF-8 text", line) from None
    for number, line_text in enumerate(text.split("\n"), 1):
        if line_text.count(".") >= PARTS_MAX and _LONG_KEY.search(line_text):
            raise _refused(path, f"a key in it has over {PARTS_MAX} parts", "write fewer dots", number)
    try:
        return Source(shown_path(path), text, tomllib.loads(text))
    except tomllib.TOMLDecodeError as problem:
        raise _not_toml(path, text, str(problem)) from None
    except RecursionError:
        raise _refused(path, "brackets are nested too deeply to read", "close them") from None
    except (ValueError, OverflowError):
        # the digits Python will turn into a whole number have a limit
        digits = re.search(r"[0-9_]{1000,}", text)
        line = text.count("\n", 0, digits.start()) + 1 if digits else 1
        raise _refused(path, "a number or a date in it cannot be read", "write fewer digits", line) from None


def _not_toml(path: Path, text: str, message: str) -> Unreadable:
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else text.rstrip("\n").count("\n") + 1
    what = _PLACE.sub("", message)[:100]
    do = "write each line as key = value, with texts in quotes"
    return _refused(path, f"is not TOML: {what[:1].lower()}{what[1:]}", do, line)


def _too_big(path: Path) -> Unreadable:
    return _refused(path, "is over 1 MiB", "no file of a day is so big; is it the right one?")


def _refused(path: Path, what: str, do: str, line: int | None = None) -> Unreadable:
    return Unreadable([Fault(shown_path(path), line, "", what, do)])


# -- all of them -------------------------------------------------------------------------------


class _Reader:
    """Reads a day's files one after the other, keeping the faults of all of them."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.locator = Locator()
        self.fits: Fits = {}

    def source(self, path: Path, data: bytes | Unreadable) -> Source | None:
        try:
            if isinstance(data, bytes):
                return parsed(path, data)
            self.faults += data.faults
        except Unreadable as problem:
            self.faults += problem.faults
        return None

    def corrected(self, name: str, cls: type, source: Source) -> Merged:
        """A file with its tables in the right brackets; the wrong ones are faults."""
        table, wrongs = brackets_corrected(cls, source.table)
        own = alone(name, replace(source, table=table))
        self.blame(own, wrongs)
        return own

    def blame(self, merged: Merged, wrongs: Iterable[Wrong]) -> None:
        """Keep these faults, each at the file and line that wrote it."""
        for wrong in wrongs:
            self.locator.note(merged, wrong)

    def value(
        self, cls: type[_Shape], merged: Merged, table: dict[str, Any], dials: Mapping[str, Dial] | None = None
    ) -> tuple[_Shape | None, _Shape]:
        """A table as its value, if it is right; and as far as it is (see ``partly``)."""
        shape: Any = cls
        try:
            value = cast(_Shape, parse(shape, table, dials))
        except ValidationError as problem:
            self.blame(merged, shape_wrongs(cls, problem, merged.whole, _keys_of_a_file(cls)))
            value = None
        return value, partly(cls, table, merged.whole) if value is None or not merged.whole else value

    def kit(self, source: Source | None, ids: Ids) -> Kit:
        """The kit, as far as it is right; its ids join ``ids``."""
        if source is None:
            return partly(Kit, {}, whole=False)
        own = self.corrected("kit", Kit, source)
        _, kit = self.value(Kit, own, own.table)
        self.blame(own, kit_rules.kit_wrongs(kit, own.table))
        ids |= rules.kit_ids(own.table)
        self.fits = fits_of(own.table)
        return kit

    def day(self, source: Source | None, ids: Ids) -> Day | None:
        """The day, if its shape is right; the ids of its looks join ``ids``."""
        if source is None:
            return None
        own = self.corrected("day", Day, source)
        day, known = self.value(Day, own, own.table)
        self.blame(own, kit_rules.day_wrongs(known, own.table, ids["setup"]))
        for kind in ("look", "crew"):
            if (known_ids := rules.ids_in(Day, own.table, kind)) is not None:
                ids[kind] = known_ids
        if "stand" in ids and "crew" in ids:
            ids[rules.HOLDER] = {*ids["stand"], *ids["crew"]}
        return day

    def setups(self, sources: dict[str, Source], kit: Kit, ids: Ids) -> dict[str, Setup]:
        """Every setup whose shape is right, by id."""
        own = {name: self.corrected(name, Setup, source) for name, source in sources.items()}
        unread = ids["setup"] - own.keys()
        merged, wrongs = inherit({name: each.source for name, each in own.items()}, self.fits, unread)
        dials = kit_rules.dials_of(kit)
        values = {}
        for name, setup in merged.items():
            if not is_id(name):
                what, do = f"{shown(name)} is not an id", "name the file with 1 to 24 letters, digits, - or _"
                self.faults.append(Fault(setup.source.shown, None, "", what, do))
            self.blame(own[name], wrongs[name])
            table = setup.table | {"id": name if is_id(name) else "_"}
            value, known = self.value(Setup, setup, table, dials)
            lit, placed = (rules.ids_in(Setup, table, key, by) if setup.whole else None for key, by in _AIMED_AT)
            self.blame(setup, rules.setup_ids_wrongs(name, setup.table, ids, whole=setup.whole))
            self.blame(setup, rules.setup_wrongs(rules.Parts(kit, known, setup.table, lit, placed)))
            if value is not None:
                values[name] = value
        return values


def _keys_of_a_file(cls: type) -> tuple[str, ...]:
    """The keys at the top of a file; a setup's id is the file's name."""
    keys = tuple(member.key for member in members(cls))
    return (*(key for key in keys if key != "id"), *MERGE_KEYS) if cls is Setup else keys


def read_files(folder: Path, files: Mapping[str, bytes | Unreadable]) -> Plan:
    """Read a day's folder as if it held these files, by name. Raises Unreadable with everything that is wrong."""
    reader = _Reader()
    found = {name: reader.source(folder / name, files[name]) for name in sorted(files)}
    for name in (DAY_FILE, KIT_FILE):
        if name not in files:
            reader.faults.append(Fault(shown_path(folder / name), None, "", "does not exist", _START))
    setups = {Path(name).stem: source for name, source in found.items() if name not in (DAY_FILE, KIT_FILE)}
    ids: Ids = {"setup": frozenset(setups)}
    kit = reader.kit(found.get(KIT_FILE), ids)
    day = reader.day(found.get(DAY_FILE), ids)
    values = reader.setups({name: source for name, source in setups.items() if source is not None}, kit, ids)
    faults = [*reader.faults, *reader.locator.faults()]
    if faults or day is None:
        raise Unreadable(faults)
    return Plan(day=day, kit=kit, setups=values)


def read_day(folder: Path) -> Plan:
    """Read a day's folder: ``kit.toml``, ``day.toml``, and every other ``*.toml`` as a setup.

    Files whose names begin with a dot are ignored. Raises Unreadable with everything that is wrong.
    """
    files: dict[str, bytes | Unreadable] = {}
    for path in _paths(folder):
        try:
            files[path.name] = read_bytes(path)
        except Unreadable as problem:
            files[path.name] = problem
    return read_files(folder, files)


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
    """A digest of the plan's files, to see whether they changed since. Raises OSError."""
    from hashlib import sha256

    total = sha256()
    for path in _paths(folder):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()[:16]
