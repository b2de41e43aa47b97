"""``like`` and ``drop``: a setup that starts from another one and changes some things.

Tables are merged key by key, lights by ``head``, panels by ``panel``; lists are replaced whole.
``drop`` takes away what was inherited, before the setup's own lights and panels are added, so a
head that is dropped and lit again starts afresh. Of ``aim_reading_f`` and ``under_key_stops`` the
one written last stands: they are two ways to say the same thing. ``before`` is about a setup's
place in the day, not about its light: it is not inherited.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Set
from dataclasses import dataclass, replace
from typing import Any, Final

from runbook.files.errors import Fault, Path, Wrong, instead, shown
from runbook.files.toml_file import Source
from runbook.model.fields import is_id

NAMED_BY: Final = {"light": "head", "place_panel": "panel"}  # else by id
LONGEST: Final = 200  # setups that may be like one another in a row: many a day's
OWN: Final = frozenset({"before"})  # what a setup has for itself only
EITHER: Final = {"aim_reading_f": "under_key_stops", "under_key_stops": "aim_reading_f"}


# of a setup's list of tables, where each stands by its name: found once, as there may be many
_Places = dict[tuple[str, str], dict[str | None, int]]


@dataclass(frozen=True, slots=True)
class Nameless:
    """Stands for the id of a light or panel that has none, in the merged setup's paths."""

    setup: str
    place: int


@dataclass(frozen=True, slots=True)
class Merged:
    """A setup with what it inherits.

    ``table`` is as one file would have it; ``chain`` holds the files it comes from, its own first;
    ``names`` the ids of its lights and panels by place; ``whole`` is False when a file of the chain
    could not be read, a table in it is none, or it is not known whose a light or panel is: what is
    missing may be written there.
    """

    id: str
    table: dict[str, Any]
    chain: tuple[tuple[str, Source], ...]
    names: dict[str, tuple[Any, ...]]
    whole: bool


def name_of(key: str, item: Any) -> str | None:
    """The id by which a member of a list of tables is known."""
    name = item.get(NAMED_BY.get(key, "id")) if isinstance(item, dict) else None
    return name if isinstance(name, str) else None


def _keyed(setup: str, key: str, value: Any) -> dict[Any, Any] | None:
    if not isinstance(value, list):
        return None
    keyed: dict[Any, Any] = {}
    for index, item in enumerate(value):
        name = name_of(key, item)
        if name is None or name in keyed:
            keyed[Nameless(setup, index)] = item
        else:
            keyed[name] = item
    return keyed


def _dropped(table: dict[str, Any]) -> list[str]:
    drop = table.get("drop", [])
    return [name for name in drop if isinstance(name, str)] if isinstance(drop, list) else []


def _over(old: Any, new: Any) -> Any:
    if not (isinstance(old, dict) and isinstance(new, dict)):
        return new
    merged = {key: value for key, value in old.items() if EITHER.get(key) not in new}
    for key, value in new.items():
        merged[key] = _over(merged[key], value) if key in merged else value
    return merged


def _merge(base: dict[str, Any], setup: str, own: dict[str, Any]) -> dict[str, Any]:
    """A setup's own table, over that of another; lights and panels are kept by id."""
    merged = {key: value for key, value in base.items() if key not in OWN}
    for key in NAMED_BY:
        if isinstance(merged.get(key), dict):
            gone = _dropped(own)
            merged[key] = {name: item for name, item in merged[key].items() if name not in gone}
    for key, value in own.items():
        keyed = _keyed(setup, key, value) if key in NAMED_BY else None
        new = value if keyed is None else keyed
        merged[key] = _over(merged[key], new) if key in merged else new
    return merged


def _hides(base: dict[str, Any], own: dict[str, Any]) -> bool:
    """Whether a table of a setup's own stands in for one of the other's that is none by mistake."""
    return any(
        isinstance(value, list if key in NAMED_BY else dict) and not isinstance(base[key], dict)
        for key, value in own.items()
        if key in base
    )


def _loops(sources: dict[str, Source]) -> dict[str, tuple[str, ...]]:
    """Of every setup in a loop of ``like``, that loop, from its first name on."""
    loops: dict[str, tuple[str, ...]] = {}
    seen: set[str] = set()
    for setup in sources:
        chain: dict[str, int] = {}
        name: Any = setup
        while isinstance(name, str) and name in sources and name not in seen:
            seen.add(name)
            chain[name] = len(chain)
            name = sources[name].table.get("like")
        if isinstance(name, str) and name in chain:
            ring = [*chain][chain[name] :]
            first = ring.index(min(ring))
            loops |= dict.fromkeys(ring, (*ring[first:], *ring[:first]))
    return loops


class _Merger:
    """Merges each setup once, parents first."""

    def __init__(self, sources: dict[str, Source]) -> None:
        self.sources = sources
        self.loops = _loops(sources)
        # the merged table with lights and panels by id, the chain, and whether it is whole
        self.done: dict[str, tuple[dict[str, Any], tuple[tuple[str, Source], ...], bool]] = {}
        self.too_far: set[str] = set()  # setups whose chain is cut before them

    def keyed(self, setup: str) -> tuple[dict[str, Any], tuple[tuple[str, Source], ...], bool]:
        for name in reversed(list(self._unmerged(setup))):
            source = self.sources[name]
            parent = self._parent(name)
            if parent and len(self.done[parent][1]) == LONGEST:
                self.too_far.add(name)
                parent = None
            base, chain, whole = self.done[parent] if parent else ({}, (), True)
            table = _merge(base, name, source.table)
            if parent is not None:
                whole = whole and not _hides(base, source.table) and _names_in(table) is not None
            else:
                whole = "like" not in source.table
            self.done[name] = (table, ((name, source), *chain), whole)
        return self.done[setup]

    def _parent(self, setup: str) -> str | None:
        like = self.sources[setup].table.get("like")
        known = isinstance(like, str) and like in self.sources and setup not in self.loops
        return like if known else None

    def _unmerged(self, setup: str) -> Iterator[str]:
        name: str | None = setup
        while name is not None and name not in self.done:
            yield name
            name = self._parent(name)


def _listed(keyed: dict[str, Any]) -> tuple[dict[str, Any], dict[str, tuple[Any, ...]]]:
    """A merged table as a file would have it, and the ids of its lights and panels by place."""
    table = {key: value for key, value in keyed.items() if key not in ("like", "drop")}
    names = {key: tuple(table[key]) for key in NAMED_BY if isinstance(table.get(key), dict)}
    for key in names:
        table[key] = list(table[key].values())
    return table, names


def inherit(
    sources: dict[str, Source], broken: Collection[str] = ()
) -> tuple[dict[str, Merged], dict[str, list[Wrong]]]:
    """Every setup by id with what it inherits worked in, and what is wrong with like and drop.

    ``broken`` are setups that are known, but could not be read.
    """
    merger = _Merger(sources)
    merged, wrongs = {}, {}
    for setup, source in sources.items():
        keyed, chain, whole = merger.keyed(setup)
        table, names = _listed(keyed)
        merged[setup] = Merged(setup, table, chain, names, whole)
        like, loop = source.table.get("like"), merger.loops.get(setup, ())
        wrongs[setup] = list(_like_wrongs(setup, like, sources, broken, loop))
        if setup in merger.too_far:
            what = f"starts from {shown(like)}, the last of {LONGEST} that start from one another"
            do = "start from one nearer to the first of them, or write it whole"
            wrongs[setup].append(Wrong((("like",),), what, do))
        base, _, base_is_whole = merger.done[chain[1][0]] if len(chain) > 1 else ({}, (), whole)
        there = _names_in(base) if base_is_whole else None
        wrongs[setup] += _drop_wrongs(source.table, there, len(chain) > 1)
    return merged, wrongs


def _like_wrongs(
    setup: str, like: Any, sources: dict[str, Source], broken: Collection[str], loop: tuple[str, ...]
) -> Iterator[Wrong]:
    if like is None:
        return
    if not isinstance(like, str):
        yield Wrong((("like",),), f"{shown(like)} is no setup", 'write an id, like "other-setup"')
    elif like not in sources and like not in broken:
        others = {*sources, *broken} - {setup}
        yield Wrong((("like",),), f"no setup is called {shown(like)}", instead(like, others))
    elif loop and setup == loop[0]:  # one fault a loop
        round_trip = " -> ".join((*loop, setup))
        yield Wrong((("like",),), f"goes round in a loop: {round_trip}", "break it at one of them")


def _names_in(keyed: dict[str, Any]) -> set[str] | None:
    """The ids of a merged table's lights and panels; None where one is not known."""
    tables = [keyed[key] for key in NAMED_BY if isinstance(keyed.get(key), dict)]
    names = {name for table in tables for name in table}
    return None if any(isinstance(name, Nameless) for name in names) else names


def _drop_wrongs(own: dict[str, Any], there: Set[str] | None, has_like: bool) -> Iterator[Wrong]:
    """Faults of ``drop``; ``there`` are the ids that can be dropped, None if they are not known."""
    drop = own.get("drop")
    if drop is None:
        return
    if not isinstance(drop, list):
        yield Wrong((("drop",),), f"{shown(drop)} is no list", 'write ids in brackets, like ["B"]')
        return
    if there is not None and not has_like:
        yield Wrong((("drop",),), "there is no like, so there is nothing to drop", "take it away")
        return
    for index, name in enumerate(drop):
        if not isinstance(name, str):
            yield Wrong((("drop", index),), f"{shown(name)} is no id", 'write an id, like "B"')
        elif there is not None and name not in there:
            what = f"{shown(name)} is not in the setup this one is like"
            yield Wrong((("drop", index),), what, instead(name, there))


@dataclass(frozen=True, slots=True)
class _Had:
    """How a setup has a fault: the files from its own to the one that writes the value, the value
    itself, and what would be right in this setup."""

    chain: tuple[tuple[str, Source], ...]
    value: Any
    do: str


class Locator:
    """Turns what is wrong with a merged table into faults at the files and lines that wrote it.

    A value is where it was written last; a table is where it was begun, so that a fault inherited
    by several setups is one fault. Of several values that do not go together, the one written
    nearest to the setup itself is at fault. A value that is right where it was written, and wrong
    in a setup that is like that one, is a fault of its ``drop``, or its ``like``.
    """

    def __init__(self) -> None:
        self._lines: dict[str, dict[Path, int]] = {}
        self._places: _Places = {}
        # each fault, and which setups have it; what would be right for each of them may differ
        self._had: dict[Fault, dict[str, _Had]] = {}

    def note(self, chain: tuple[tuple[str, Source], ...], wrong: Wrong) -> None:
        """Take in a fault of the setup at the head of a chain."""
        found = [_written(chain, path, self._places) for path in wrong.paths]
        rank, path, rest = min(found, key=lambda place: place[0])
        source = chain[rank][1]
        key = _key_text(source.table, path, rest)
        fault = Fault(source.shown, self._line(source, path), key, wrong.what, wrong.do)
        had = _Had(chain[: rank + 1], _at(source.table, path), wrong.do)
        self._had.setdefault(replace(fault, do=""), {})[chain[0][0]] = had

    def faults(self) -> Iterator[Fault]:
        """Every fault taken in, once, at the setup that brings it about."""
        for fault, setups in self._had.items():
            for had in setups.values():
                if any(setup in setups for setup, _ in had.chain[1:]):
                    continue  # it is wrong there already
                own = len(had.chain) == 1
                found = fault if own else self._brought_about(fault, had)
                yield replace(found, do=had.do)

    def _brought_about(self, fault: Fault, had: _Had) -> Fault:
        source = had.chain[0][1]
        line = self._line(source, _cause(source.table, had.value))
        what = f"{fault.what}; it is taken over from {fault.file}:{fault.line}"
        return replace(fault, file=source.shown, line=line, what=what)

    def _line(self, source: Source, path: Path) -> int | None:
        """Where a path is written; a whole file is its first line."""
        lines = self._lines.get(source.shown)
        if lines is None:
            from runbook.files.toml_edit import key_lines  # only when there is a fault to point at

            lines = self._lines[source.shown] = key_lines(source.text)
        # a table in the wrong brackets is a list in the text, or a list there is one table
        ways = (path, (*path[:1], 0, *path[1:]), path[:1] + path[2:])
        return next((lines[way] for way in ways if way in lines), None) if path else 1


def _cause(table: dict[str, Any], value: Any) -> Path:
    """What makes a value wrong in a setup that takes it over: what it names is dropped, or else
    something of the setup's own does not go with it."""
    drop = table.get("drop")
    if isinstance(drop, list) and isinstance(value, str) and value in drop:
        return ("drop", drop.index(value))
    return ("like",)


def _at(table: Any, path: Path) -> Any:
    for part in path:
        table = table[part]
    return table


def _written(chain: tuple[tuple[str, Source], ...], path: Path, places: _Places) -> tuple[int, Path, Path]:
    """Which file of a chain writes a path: its place in the chain, the path there, and the rest."""
    for cut in range(len(path), 0, -1):
        found = list(_writers(chain, path[:cut], places))
        if found:
            rank, raw, value = found[0]
            if isinstance(value, dict):
                rank, raw, value = found[-1]
            return rank, raw, path[cut:]
    return len(chain) - 1, (), path


def writer_of(chain: tuple[tuple[str, Source], ...], path: Path) -> str | None:
    """The setup of a chain that writes a path last: the value there is its. None if none does."""
    rank = next((rank for rank, _, _ in _writers(chain, path, {})), None)
    return None if rank is None else chain[rank][0]


def _writers(chain: tuple[tuple[str, Source], ...], path: Path, places: _Places) -> Iterator[tuple[int, Path, Any]]:
    for rank, (setup, source) in enumerate(chain[:1] if path[0] in OWN else chain):
        found = follow(setup, source.table, path, places)
        if found is not None:
            yield rank, *found
        if path[0] in NAMED_BY and len(path) > 1 and path[1] in _dropped(source.table):
            return


def follow(setup: str, table: Any, path: Path, places: _Places) -> tuple[Path, Any] | None:
    """Return a path with things named by id as one of places, and the value there, if any."""
    raw: Path = ()
    for part in path:
        index: Any = part
        if isinstance(table, list) and not isinstance(part, int):
            index = _place(setup, str(raw[-1]), table, part, places)
        try:
            table = table[index]
        except (LookupError, TypeError):
            return None
        raw += (index,)
    return raw, table


def _place(setup: str, key: str, items: list[Any], name: Any, places: _Places) -> int | None:
    """Where in its list a light, a panel or a thing of the kit is written."""
    if isinstance(name, Nameless):
        return name.place if name.setup == setup else None
    if (setup, key) not in places:
        named = [(name_of(key, item), place) for place, item in enumerate(items)]
        places[setup, key] = dict(reversed(named))  # of two of one name the first
    return places[setup, key].get(name)


def _key_text(table: Any, path: Path, rest: Path) -> str:
    text, key = "", ""
    for part in path:
        table = table[part]
        if isinstance(part, int):
            name = name_of(key, table)
            text += f".{name}" if name and is_id(name) else f"[{part + 1}]"
        else:
            text, key = f"{text}.{part}", part
    for part in rest:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return " ".join(text.removeprefix(".").split())[:100]
