"""``like`` and ``drop``: a setup that starts from another one and changes some things.

Tables are merged key by key, lights by ``head``, panels by ``panel``, hung cloths by ``cloth``; lists are replaced
whole. ``drop`` takes away what was inherited, before the setup's own lights, panels and cloths are added, so a head
that is dropped and lit again starts afresh. Of ``power``, ``aim_reading_f`` and ``under_key_stops``, of ``face_to`` and
``catches``, and of ``looks_at`` and ``facing_*``, what a setup says replaces what the other one says; ``power =
"solve"`` takes away the other's power only. A new modifier keeps the other's accessories that fit it. ``before`` is
about a setup's place in the day, not about its light: it is not inherited.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Set
from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter
from typing import Any, Final

from runbook.files.errors import Fault, Path, Wrong, instead, shown
from runbook.model import power
from runbook.model.fields import is_id

NAMED_BY: Final = {"light": "head", "place_panel": "panel", "hang": "cloth"}  # else by id
CALLED: Final = {"light": "light", "place_panel": "panel", "hang": "hung cloth"}  # else by their key
SOLVE: Final = str(power.SOLVE)
OWN: Final = frozenset({"before"})  # what a setup has for itself only
_EITHER: Final = (
    (("aim_reading_f",), ("under_key_stops",)),
    (("face_to",), ("catches",)),
    (("looks_at",), ("facing_side", "facing_deg")),
)
# the keys that a key cannot stand beside
EITHER: Final = {key: other for pair in _EITHER for keys, other in (pair, pair[::-1]) for key in keys}
_POWER: Final = ("power", "aim_reading_f", "under_key_stops")
# what replaces what the other setup says under these keys too
REPLACES: Final = EITHER | {key: tuple(other for other in _POWER if other != key) for key in _POWER}
Fits = Mapping[str, Collection[str]]  # the modifiers that an accessory fits, by its id


@dataclass(frozen=True, slots=True)
class Source:
    """A file that is TOML: how a person would name it, its text, and its table."""

    shown: str
    text: str
    table: dict[str, Any]


Chain = tuple[tuple[str, Source], ...]


@dataclass(frozen=True, slots=True)
class Merged:
    """A setup with what it inherits, or a file that inherits nothing.

    ``table`` is as one file would have it; ``chain`` holds the files it comes from, its own first; ``origins`` says of
    every path in it which setup wrote it, and at which path of its file. A table is where it was begun. ``whole`` is
    False when a file of the chain could not be read, a table in it is none, or it is not known whose a light or panel
    is: what is missing may be written there.
    """

    id: str
    table: dict[str, Any]
    chain: Chain
    origins: dict[Path, tuple[str, Path]]
    whole: bool

    @property
    def source(self) -> Source:
        return self.chain[0][1]

    def origin(self, path: Path) -> tuple[int, Path]:
        """Which file of the chain a path is written in, and the path there; for what is missing, its table's."""
        known = next(path[:n] for n in range(len(path), -1, -1) if path[:n] in self.origins)
        setup, raw = self.origins[known]
        return [name for name, _ in self.chain].index(setup), (*raw, *path[len(known) :])


def alone(name: str, source: Source) -> Merged:
    """A file that inherits nothing."""
    return Merged(name, source.table, ((name, source),), {(): (name, ())}, whole=True)


def name_of(key: str, item: Any) -> str | None:
    """The id by which a member of a list of tables is known."""
    name = item.get(NAMED_BY.get(key, "id")) if isinstance(item, dict) else None
    return name if isinstance(name, str) else None


def place_of(table: Any, path: Path) -> Path | None:
    """A path with things named by id, as one with their places; None where nothing is written there."""
    raw: Path = ()
    for part in path:
        index = part
        if isinstance(table, list) and isinstance(part, str):
            index = next((n for n, item in enumerate(table) if name_of(raw[-1], item) == part), None)
        try:
            table = table[index]
        except (LookupError, TypeError):
            return None
        raw += (index,)
    return raw


# -- merging -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Node:
    """A value, or a table's members by key, or lights, panels and hung cloths by id; and who wrote it where.

    One of those without an id, or with that of another, goes by its setup and place.
    """

    by: tuple[str, Path]
    value: Any = None
    inside: dict[Any, _Node] | None = None
    listed: bool = False


def _node(setup: str, value: Any, path: Path) -> _Node:
    by = (setup, path)
    if isinstance(value, dict):
        return _Node(by, inside={key: _node(setup, item, (*path, key)) for key, item in value.items()})
    if not (isinstance(value, list) and len(path) == 1 and path[0] in NAMED_BY):
        return _Node(by, value)
    inside: dict[Any, _Node] = {}
    for place, item in enumerate(value):
        name = name_of(path[0], item)
        inside[(setup, place) if name is None or name in inside else name] = _node(setup, item, (*path, place))
    return _Node(by, inside=inside, listed=True)


def takes_away(key: Any, value: Any) -> tuple[str, ...]:
    """The keys of the other setup that a key with this value takes away."""
    return () if value == SOLVE else REPLACES.get(key, ())


def fits_of(kit: Mapping[str, Any]) -> Fits:
    """The modifiers that each accessory of a kit's file fits, as far as they are right."""
    things = kit.get("accessory")
    return {
        thing["id"]: thing["fits"]
        for thing in (things if isinstance(things, list) else ())
        if name_of("accessory", thing) and isinstance(thing.get("fits"), list)
    }


def _over(old: _Node, new: _Node, fits: Fits) -> _Node:
    if old.inside is None or new.inside is None:
        return new
    replaced = {other for key, node in new.inside.items() for other in takes_away(key, node.value)}
    inside = {key: node for key, node in old.inside.items() if key not in replaced}
    if "modifier" in new.inside and "accessories" in inside:
        inside["accessories"] = _that_fit(inside["accessories"], new.inside["modifier"].value, fits)
    inside |= {key: _over(inside[key], node, fits) if key in inside else node for key, node in new.inside.items()}
    return replace(old, inside=inside)


def _that_fit(accessories: _Node, modifier: Any, fits: Fits) -> _Node:
    """Accessories without those that do not fit a modifier; what the kit does not know stays."""
    if not isinstance(accessories.value, list):
        return accessories
    known = [isinstance(name, str) and name in fits for name in accessories.value]
    pairs = zip(accessories.value, known, strict=True)
    return replace(accessories, value=[name for name, is_known in pairs if not is_known or modifier in fits[name]])


def _inherited(base: _Node, dropped: Collection[str]) -> _Node:
    """What a setup starts with that is like another."""
    inside = {key: node for key, node in (base.inside or {}).items() if key not in OWN}
    for key in NAMED_BY.keys() & inside.keys():
        left = {name: item for name, item in (inside[key].inside or {}).items() if name not in dropped}
        inside[key] = replace(inside[key], inside=left if inside[key].listed else None)
    return replace(base, inside=inside)


def _plain(node: _Node, path: Path, origins: dict[Path, tuple[str, Path]]) -> Any:
    """A node as its file would have it; where each path of it comes from joins ``origins``."""
    origins[path] = node.by
    if node.inside is None:
        return node.value
    if node.listed:
        return [_plain(item, (*path, place), origins) for place, item in enumerate(node.inside.values())]
    return {key: _plain(item, (*path, key), origins) for key, item in node.inside.items()}


def _names_in(node: _Node) -> set[str] | None:
    """The ids of a setup's lights, panels and hung cloths; None where one is not known."""
    lists = [node.inside[key] for key in NAMED_BY if node.inside and key in node.inside]
    names = {name for each in lists for name in each.inside or ()}
    return names if all(isinstance(name, str) for name in names) else None


def _dropped(table: Mapping[str, Any]) -> list[str]:
    drop = table.get("drop", [])
    return [name for name in drop if isinstance(name, str)] if isinstance(drop, list) else []


def _hides(base: _Node, own: _Node) -> bool:
    """Whether a table of a setup's own replaces one of the other's that is none by mistake."""
    pairs = ((base.inside or {}).get(key) for key, node in (own.inside or {}).items() if node.inside is not None)
    return any(node is not None and node.inside is None for node in pairs)


def _in_order(like: dict[str, str]) -> tuple[list[str], dict[str, tuple[str, ...]]]:
    """Setups after those they are like; and of each in a loop of ``like`` that loop, from its first name on.

    Those in a loop are like none.
    """
    loops: dict[str, tuple[str, ...]] = {}
    while True:
        try:
            return [*TopologicalSorter({name: [other] for name, other in like.items()}).static_order()], loops
        except CycleError as error:
            ring = error.args[1][:0:-1]
            first = ring.index(min(ring))
            loops |= dict.fromkeys(ring, (*ring[first:], *ring[:first]))
            like = {name: other for name, other in like.items() if name not in ring}


def inherit(
    sources: dict[str, Source], fits: Fits, broken: Collection[str] = ()
) -> tuple[dict[str, Merged], dict[str, list[Wrong]]]:
    """Every setup by id with what it inherits worked in, and what is wrong with like and drop.

    ``fits`` are the modifiers that each accessory fits. ``broken`` are setups that are known, but could not be read.
    """
    likes = {name: source.table.get("like") for name, source in sources.items()}
    parents = {name: like for name, like in likes.items() if isinstance(like, str) and like in sources}
    order, loops = _in_order(parents)
    nodes: dict[str, _Node] = {}
    merged: dict[str, Merged] = {}
    wrongs: dict[str, list[Wrong]] = {}
    for name in (*order, *(sources.keys() - {*order})):
        source, like, parent = sources[name], likes[name], parents.get(name)
        own = _node(name, {key: value for key, value in source.table.items() if key not in ("like", "drop")}, ())
        chain: Chain = ((name, source),)
        wrongs[name] = list(_like_wrongs(name, like, sources.keys() | {*broken}, loops.get(name, ())))
        if parent is not None and name not in loops:
            base = nodes[parent]
            nodes[name] = _over(_inherited(base, _dropped(source.table)), own, fits)
            chain += merged[parent].chain
            whole = merged[parent].whole and not _hides(base, own) and _names_in(nodes[name]) is not None
            wrongs[name] += _drop_wrongs(source.table, _names_in(base) if merged[parent].whole else None, has_like=True)
        else:
            nodes[name], whole = own, like is None
            wrongs[name] += _drop_wrongs(source.table, set() if whole else None, has_like=False)
        origins: dict[Path, tuple[str, Path]] = {}
        merged[name] = Merged(name, _plain(nodes[name], (), origins), chain, origins, whole)
    return {name: merged[name] for name in sources}, wrongs


def _like_wrongs(setup: str, like: Any, known: Set[str], loop: tuple[str, ...]) -> Iterator[Wrong]:
    if like is None:
        return
    if not isinstance(like, str):
        yield Wrong((("like",),), f"{shown(like)} is not a setup", 'write an id, like "other-setup"')
    elif like not in known:
        yield Wrong((("like",),), f"no setup is called {shown(like)}", instead(like, known - {setup}))
    elif loop and setup == loop[0]:  # one fault a loop
        round_trip = " -> ".join((*loop, setup))
        yield Wrong((("like",),), f"goes round in a loop: {round_trip}", "break it at one of them")


def _drop_wrongs(own: Mapping[str, Any], there: Set[str] | None, *, has_like: bool) -> Iterator[Wrong]:
    """Faults of ``drop``; ``there`` are the ids that can be dropped, None if they are not known."""
    drop = own.get("drop", [])
    if not isinstance(drop, list):
        yield Wrong((("drop",),), f"{shown(drop)} is not a list", 'write ids in brackets, like ["B"]')
    elif "drop" in own and there is not None and not has_like:
        yield Wrong((("drop",),), "there is no like, so there is nothing to drop", "delete it")
    else:
        for place, name in enumerate(drop):
            if not isinstance(name, str):
                yield Wrong((("drop", place),), f"{shown(name)} is not an id", 'write an id, like "B"')
            elif there is not None and name not in there:
                what = f"{shown(name)} is not in the setup this one is like"
                yield Wrong((("drop", place),), what, instead(name, there))


# -- where a fault is written ------------------------------------------------------------------


class Locator:
    """Turns what is wrong with a merged table into faults at the files and lines that wrote it.

    A fault inherited by several setups is one fault. Of several values that do not go together, the one written nearest
    to the setup itself is at fault. A value that is right where it was written, and wrong in a setup that is like that
    one, is a fault of its ``drop``, or its ``like``.
    """

    def __init__(self) -> None:
        self._lines: dict[str, dict[Path, int]] = {}
        # each fault, and the setups that have it: the files from their own to the one that writes the value, the value
        # itself, and what would be right in this setup
        self._found: dict[Fault, dict[str, tuple[Chain, Any, str]]] = {}

    def note(self, merged: Merged, wrong: Wrong) -> None:
        """Take in a fault of a setup."""
        rank, path = min(map(merged.origin, wrong.paths), key=lambda place: place[0])
        source = merged.chain[rank][1]
        key, value = _key_and_value(source.table, path)
        fault = Fault(source.shown, self._line(source, path), key, wrong.what)
        self._found.setdefault(fault, {})[merged.id] = (merged.chain[: rank + 1], value, wrong.do)

    def faults(self) -> Iterator[Fault]:
        """Every fault taken in, once, at the setup that brings it about."""
        for fault, setups in self._found.items():
            for chain, value, do in setups.values():
                if len(chain) == 1:
                    yield replace(fault, do=do)
                elif not any(setup in setups for setup, _ in chain[1:]):  # else it is wrong there already
                    own = chain[0][1]
                    drop = own.table.get("drop")
                    cause = ("drop", drop.index(value)) if isinstance(drop, list) and value in drop else ("like",)
                    what = f"{fault.what}; inherited from {fault.file}:{fault.line}"
                    yield replace(fault, file=own.shown, line=self._line(own, cause), what=what, do=do)

    def _line(self, source: Source, path: Path) -> int:
        """Where a path is written, or the table that lacks it; a whole file is its first line."""
        if source.shown not in self._lines:
            from runbook.files.toml_edit import key_lines  # only when there is a fault to point at

            self._lines[source.shown] = key_lines(source.text)
        lines = self._lines[source.shown]
        # a table in the wrong brackets is a list in the text, or a list there is one table
        ways = (
            way for n in range(len(path), 0, -1) for way in (path[:n], (path[0], 0, *path[1:n]), (path[0], *path[2:n]))
        )
        return next((lines[way] for way in ways if way in lines), 1)


def _key_and_value(table: Any, path: Path) -> tuple[str, Any]:
    """A path as a person reads it, ``light.A.power`` or ``head[2].mass_kg``; and the value there, None if none is."""
    text, key = "", ""
    for part in path:
        try:
            table = table[part]
        except (LookupError, TypeError):
            table = None
        if isinstance(part, int):
            name = name_of(key, table)
            text += f".{name}" if name and is_id(name) else f"[{part + 1}]"
        else:
            text, key = f"{text}.{part}", part
    return " ".join(text.removeprefix(".").split())[:100], table
