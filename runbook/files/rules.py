"""What is wrong with a kit and a day, past the shape of their tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from fractions import Fraction
from functools import partial
from typing import Any, Final

from runbook.files.errors import Path, Wrong, instead, shown, split
from runbook.files.validate import Unknown, as_far_as_known, has_unknown_keys
from runbook.model.day import Break, Day, Look
from runbook.model.kit import BARE, Head, Kit, Lens, Measured, Modifier, Stand
from runbook.model.nominal_values import shutter_stops
from runbook.model.power import Dial, stops_below

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
    table: Mapping[str, Any], places: tuple[tuple[Pattern, str], ...], ids: Mapping[str, Set[str]]
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


def ids_in(cls: type, table: Mapping[str, Any], kind: str, key: str = "id") -> frozenset[str] | None:
    """Every id written under ``key`` in a list of tables; None where one of them is not known.

    The rest of such a table need not be right. ``cls`` is the shape that has the list.
    """
    things = table.get(kind)
    if things is None and not has_unknown_keys(cls, table):
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


# words with a meaning of their own where a setup could also name a head or a panel
_TAKEN: Final = {"face", "background"}
_ANY_STEP: Final = Fraction(1, 3)  # what is no power on this dial is one on no dial


def kit_wrongs(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    """Faults of a kit that may be right in part only (see ``partly``), and of its file's ids.

    Of what is paired, both are named, so that the key in the message is the one to change.
    """
    yield from _ids(table)
    yield from unknown(table, IN_KIT, kit_ids(table))
    for field, key, rules in _OF_EACH:
        yield from as_far_as_known(_of_each(kit, field, key, rules))
    yield from as_far_as_known(_camera(kit))
    yield from as_far_as_known(_measured(kit, table))
    yield from as_far_as_known(_measured_fits(kit, table))


def _ids(table: Mapping[str, Any]) -> Iterator[Wrong]:
    for kind in KIT_KINDS:
        yield from twice(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    heads = {name for _, name in written(table, ("head", "*", "id"))}
    for path, name in written(table, ("panel", "*", "id")):
        if name in heads:
            what = f"a head is called {shown(name)} too, so aim and drop could mean either"
            yield Wrong((path,), what, "give the panel another id")
    for kind in ("head", "panel"):
        for path, name in written(table, (kind, "*", "id")):
            if name in _TAKEN:
                what = f"{shown(name)} means something else where a light is aimed"
                yield Wrong((path,), what, f"give the {kind} another id")


def dial_of(head: Head | None) -> Dial | None:
    """A head's dial, if there is such a head and its dial is right."""
    try:
        return head.dial if head else None
    except (ValueError, Unknown):
        return None


def _of_each(
    whole: Kit | Day, field: str, key: str, rules: Iterable[Callable[[Any, Path], Iterator[Wrong]]]
) -> Iterator[Wrong]:
    """What these rules find in each thing of a list."""
    for place, thing in enumerate(getattr(whole, field)):
        for rule in rules:
            yield from as_far_as_known(rule(thing, (key, place)))


def _dial(head: Head, path: Path) -> Iterator[Wrong]:
    try:
        _ = head.dial
    except ValueError as problem:
        yield Wrong(((*path, "power_min"),), *split(problem))


def _recycling(head: Head, path: Path) -> Iterator[Wrong]:
    if head.recycle_min_s > head.recycle_full_s:
        what = f"{head.recycle_min_s:g} s is longer than a full flash takes"
        do = f"write at most recycle_full_s, {head.recycle_full_s:g}"
        yield Wrong(((*path, "recycle_min_s"),), what, do)


def _size(key: str, modifier: Modifier, path: Path) -> Iterator[Wrong]:
    sized = {"round": ("width_m",), "rectangle": ("width_m", "height_m"), "bare": ()}
    if key in sized[modifier.shape] and getattr(modifier, key) < 0.001:
        what = f"a {modifier.shape} modifier must have a size"
        yield Wrong(((*path, key),), what, "write it in metres, like 0.9")


def _bare(modifier: Modifier, path: Path) -> Iterator[Wrong]:
    if modifier.id == BARE and modifier.shape != "bare":
        what = '"bare" always means a head without a modifier'
        yield Wrong(((*path, "shape"),), what, "give this one another id")


def _heights(stand: Stand, path: Path) -> Iterator[Wrong]:
    if stand.height_max_m < stand.height_min_m:
        what = f"{stand.height_max_m:g} m is lower than height_min_m, {stand.height_min_m:g} m"
        yield Wrong(((*path, "height_max_m"),), what, "change one of the two")


def _arm(key: str, stand: Stand, path: Path) -> Iterator[Wrong]:
    if stand.is_boom and getattr(stand, key) is None:
        yield Wrong(((*path, key),), "a boom must have it", f"write {key}, in metres from the pivot")


def _apertures(lens: Lens, path: Path) -> Iterator[Wrong]:
    if lens.f_max < lens.f_min:
        what = f"f/{lens.f_max:g} is wider than f_min, f/{lens.f_min:g}"
        do = "f_min is the widest aperture, the smaller number"
        yield Wrong(((*path, "f_max"),), what, do)


def _camera(kit: Kit) -> Iterator[Wrong]:
    try:
        shutter_stops(kit.camera.sync)
    except ValueError as problem:
        yield Wrong((("camera", "sync"),), *split(problem))


def _measured(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    for path, power in written(table, ("measured", "*", "power")):
        name = table["measured"][path[1]].get("head")
        dial = dial_of(kit.head.get(name)) if isinstance(name, str) else None
        try:
            fires = (dial.read(power) if dial else stops_below(power, _ANY_STEP)).fires
        except ValueError as problem:
            yield Wrong((path,), *split(problem))
        else:
            if not fires:
                yield Wrong((path,), "a head that is off reads nothing", "write its power")


def _measured_fits(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    """A row for what cannot be put together would never be found."""
    for path, name in written(table, ("measured", "*", "accessories", "*")):
        row = kit.measured[path[1]]
        yield from as_far_as_known(_row_fits(kit, row, path, name))


def _row_fits(kit: Kit, row: Measured, path: Path, name: str) -> Iterator[Wrong]:
    accessory = kit.accessory.get(name)
    if accessory is None or row.modifier not in kit.modifier or row.modifier in accessory.fits:
        return
    fits = ", ".join(accessory.fits) or "nothing"
    yield Wrong((path,), f"{name} does not fit {row.modifier}", f"it fits {fits}")


_OF_EACH: Final[tuple[tuple[str, str, tuple[Callable[[Any, Path], Iterator[Wrong]], ...]], ...]] = (
    ("heads", "head", (_dial, _recycling)),
    ("modifiers", "modifier", (partial(_size, "width_m"), partial(_size, "height_m"), _bare)),
    ("stands", "stand", (_heights, partial(_arm, "arm_m"), partial(_arm, "arm_back_m"))),
    ("lenses", "lens", (_apertures,)),
)


def day_wrongs(day: Day, table: Mapping[str, Any], setups: Set[str]) -> Iterator[Wrong]:
    """Faults of a day that may be right in part only (see ``partly``), and of its file's ids.

    A day begins and ends on the one date it bears: every time in it is a time of that day, so one
    that runs past midnight has to be written as two.
    """
    yield from unknown(table, IN_DAY, {"setup": setups})
    yield from twice(table, ("order", "*"), "{} is in the order already")
    for kind in ("crew", "look", "break"):
        yield from twice(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    if not table.get("order", []) and isinstance(table.get("order", []), list):
        what = "no setup is to be shot" if "order" in table else "is missing"
        yield Wrong((("order",),), what, 'write the ids of the setups, like ["one", "two"]')
    yield from as_far_as_known(_hours(day))
    yield from as_far_as_known(_of_each(day, "breaks", "break", (_window,)))
    yield from as_far_as_known(_of_each(day, "looks", "look", (partial(_call, day),)))


def _hours(day: Day) -> Iterator[Wrong]:
    if day.wrap <= day.call:
        what = f"{day.wrap} is not after the call at {day.call}"
        do = "a day ends by midnight, 23:59:59; write what follows as a day of its own"
        yield Wrong((("wrap",), ("call",)), what, do)


def _call(day: Day, look: Look, path: Path) -> Iterator[Wrong]:
    if look.call is not None and look.call >= day.wrap:
        what = f"{look.call} is not before the wrap at {day.wrap}"
        do = "give a time before the wrap, or leave it out: the day's call counts then"
        yield Wrong(((*path, "call"), ("wrap",)), what, do)


def _window(stop: Break, path: Path) -> Iterator[Wrong]:
    if stop.latest < stop.earliest:
        what = f"{stop.latest} is before the earliest it may start, {stop.earliest}"
        paths = (*path, "latest"), (*path, "earliest")
        yield Wrong(paths, what, "give the later of the two times")
