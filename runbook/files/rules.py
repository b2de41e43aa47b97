"""What is wrong with a setup past the shape of its table: ids, ranges, what does not go together; and ids anywhere.

A setup and its kit may be right in part only (see ``partly``). A rule that asks for a value that is wrong ends there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final, get_args

from runbook.files.errors import Path, Wrong, instead, shown, split
from runbook.files.inherit import CALLED, NAMED_BY
from runbook.files.validate import Unknown, has_unknown_keys, missing, wrongs_of
from runbook.model.fields import is_id
from runbook.model.geometry import ground_radius
from runbook.model.kit import BARE, Kit, Stand
from runbook.model.nominal_values import aperture_stops, iso_stops, shutter_stops
from runbook.model.panels import hung_stance, stance_of
from runbook.model.power import SOLVE
from runbook.model.setup import FeatherSide, HungCloth, Light, PanelPlace, Setup, View

Pattern = tuple[str, ...]  # the way to an id; "*" is every member of a list
Ids = Mapping[str, Set[str]]  # by kind; a kind that is not there is not known

KIT_KINDS: Final = ("head", "modifier", "accessory", "stand", "panel", "cloth", "bag", "lens")
DAY_KINDS: Final = ("crew", "look", "break")
IN_KIT: Final[tuple[tuple[Pattern, str], ...]] = (
    (("accessory", "*", "fits", "*"), "modifier"),
    (("measured", "*", "head"), "head"),
    (("measured", "*", "modifier"), "modifier"),
    (("measured", "*", "accessories", "*"), "accessory"),
)
IN_DAY: Final[tuple[tuple[Pattern, str], ...]] = ((("order", "*"), "setup"),)
# of the things that can be in one place only, the kind by the way to it
_THINGS: Final[tuple[tuple[Pattern, str], ...]] = (
    (("light", "*", "stand"), "stand"),
    (("light", "*", "modifier"), "modifier"),
    (("light", "*", "accessories", "*"), "accessory"),
    (("light", "*", "through", "*"), "cloth"),
    (("light", "*", "bags", "*"), "bag"),
    (("place_panel", "*", "bags", "*"), "bag"),
    (("hang", "*", "held_by", "*"), "stand"),
    (("hang", "*", "bags", "*"), "bag"),
)
HOLDER: Final = "stand or crew member"  # what can hold a panel
_HELD_BY: Final = ("place_panel", "*", "held_by")
IN_SETUP: Final[tuple[tuple[Pattern, str], ...]] = (
    (("look",), "look"),
    (("before", "*"), "setup"),
    (("view", "lens"), "lens"),
    (("light", "*", "head"), "head"),
    (("place_panel", "*", "panel"), "panel"),
    (_HELD_BY, HOLDER),
    (("hang", "*", "cloth"), "cloth"),
    *_THINGS,
)
# words with a meaning of their own where a setup could also name a head or a panel
TAKEN: Final = {"face", "background"}
_CLOSE: Final = 1e-9
_MARK_STOPS: Final = 0.1  # a lens marked f/1.8 opens to f/1.8, whatever its exact value
_LONGEST_S, _SHORTEST_S = -12.0, 17.0  # shutter times in stops: over an hour, under 1/100000


# -- ids ---------------------------------------------------------------------------------------


def written(table: Any, pattern: Pattern, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Every text a pattern leads to, with its path. What is of another type is left out."""
    if not pattern:
        if isinstance(table, str):
            yield path, table
    elif pattern[0] == "*":
        for index, item in enumerate(table if isinstance(table, list) else ()):
            yield from written(item, pattern[1:], (*path, index))
    elif isinstance(table, dict) and pattern[0] in table:
        yield from written(table[pattern[0]], pattern[1:], (*path, pattern[0]))


def unknown_wrongs(table: Mapping[str, Any], places: tuple[tuple[Pattern, str], ...], ids: Ids) -> Iterator[Wrong]:
    """Every id that names nothing."""
    for pattern, kind in places:
        for path, name in written(table, pattern) if kind in ids else ():
            if is_id(name) and name not in ids[kind]:  # what is not an id is a fault of its shape
                yield Wrong((path,), f"no {kind} is called {shown(name)}", instead(name, ids[kind]))


def twice_wrongs(table: Mapping[str, Any], pattern: Pattern, what: str) -> Iterator[Wrong]:
    """Every text written a second time where each must be there once."""
    seen: set[str] = set()
    for path, name in written(table, pattern):
        if name in seen:
            yield Wrong((path,), what.format(shown(name)), "give it once")
        seen.add(name)


def ids_in(cls: type, table: Mapping[str, Any], kind: str, key: str = "id") -> frozenset[str] | None:
    """Every id written under ``key`` in a list of tables; None where one of them is not known.

    The rest of such a table need not be right. ``cls`` is the value that has the list.
    """
    things = table.get(kind)
    if things is None and not has_unknown_keys(cls, table):
        return frozenset()
    names = [name for _, name in written(table, (kind, "*", key))]
    return frozenset(names) if isinstance(things, list) and len(names) == len(things) else None


def kit_ids(table: Mapping[str, Any]) -> dict[str, Set[str]]:
    """Every id of a kit's file, by those kinds whose ids are known. ``bare`` needs no entry."""
    found = {kind: ids_in(Kit, table, kind) for kind in KIT_KINDS}
    return {kind: {*ids, BARE} if kind == "modifier" else ids for kind, ids in found.items() if ids is not None}


def refused(paths: tuple[Path, ...], ask: Callable[..., object], *of: Any) -> Iterator[Wrong]:
    """Why a function raises ValueError, as a fault."""
    try:
        ask(*of)
    except ValueError as problem:
        yield Wrong(paths, *split(problem))


# -- a setup -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Parts:
    """A setup and the kit it is checked against.

    ``table`` is the setup's own as it is written, with what it inherits. ``lit`` and ``placed`` are the ids of every
    head and panel it names; None where one of them is not known.
    """

    kit: Kit
    setup: Setup
    table: Mapping[str, Any]
    lit: Set[str] | None
    placed: Set[str] | None


def setup_ids_wrongs(setup: str, table: Mapping[str, Any], ids: Ids, *, whole: bool) -> Iterator[Wrong]:
    """Faults of the ids in a setup's table."""
    if "id" in table:
        yield Wrong((("id",),), "no such key", "a setup's id is its file's name")
    yield from unknown_wrongs(table, IN_SETUP, ids)
    yield from twice_wrongs(table, ("light", "*", "head"), "head {} is lit already in this setup")
    yield from twice_wrongs(table, ("place_panel", "*", "panel"), "panel {} is placed already")
    for path, name in written(table, _HELD_BY):
        if name in ids.get("stand", ()) and name in ids.get("crew", ()):
            yield Wrong((path,), f"{shown(name)} is a stand and one of the crew", "give one of the two another id")
    yield from twice_wrongs(table, ("hang", "*", "cloth"), "cloth {} hangs already")
    for path, name in written(table, ("before", "*")):
        if name == setup:
            yield Wrong((path,), "a setup cannot be before itself", "name the one that comes later")
    # of a setup that is not whole, anything may be inherited but the key that names a light or panel
    for key, name in () if whole else NAMED_BY.items():
        for place, item in enumerate(table[key] if isinstance(table.get(key), list) else ()):
            if isinstance(item, dict) and name not in item:
                yield Wrong(((key, place, name),), *missing(Setup, (key, place, name)))


def setup_wrongs(parts: Parts) -> Iterator[Wrong]:
    """Faults of a setup against itself and the kit, but for those of its shape and its ids."""
    yield from wrongs_of((_iso, _aperture, _shutter, _once, _camera, _looks, _lights, _panels, _hung_cloths), parts)


def _lights(parts: Parts) -> Iterator[Wrong]:
    for place, light in enumerate(parts.setup.lights):
        rules = (_accessories, _height, _load, _tape, _aim, _feather, _power_left_out)
        yield from wrongs_of(rules, parts, light, ("light", place))


def _panels(parts: Parts) -> Iterator[Wrong]:
    for place, panel in enumerate(parts.setup.panels):
        rules = (_tape, _facing, _stance, _height, _load, _held)
        yield from wrongs_of(rules, parts, panel, ("place_panel", place))


def _hung_cloths(parts: Parts) -> Iterator[Wrong]:
    for place, hung in enumerate(parts.setup.hung_cloths):
        yield from wrongs_of((_hangs, _turned, _rail), parts, hung, ("hang", place))


def _iso(parts: Parts) -> Iterator[Wrong]:
    iso, least = parts.setup.exposure.iso, parts.kit.camera.iso_min
    if iso_stops(iso) < iso_stops(least) - _CLOSE:
        yield Wrong(
            (("exposure", "iso"),), f"ISO {iso:g} is under the camera's least, {least:g}", f"write {least:g} or more"
        )


def _aperture(parts: Parts) -> Iterator[Wrong]:
    f, lens = parts.setup.exposure.f, parts.kit.lens.get(parts.setup.view.lens)
    if lens is None:
        return
    least, most = aperture_stops(lens.f_min), aperture_stops(lens.f_max)
    if least <= most and not least - _MARK_STOPS <= aperture_stops(f) <= most + _MARK_STOPS:
        do = f"it goes from f/{lens.f_min:g} to f/{lens.f_max:g}"
        yield Wrong((("exposure", "f"), ("view", "lens")), f"lens {lens.id} has no f/{f:g}", do)


def _shutter(parts: Parts) -> Iterator[Wrong]:
    shutter, path = parts.setup.exposure.shutter, ("exposure", "shutter")
    try:
        stops = shutter_stops(shutter)
    except ValueError as problem:
        yield Wrong((path,), *split(problem))
        return
    if not _LONGEST_S < stops < _SHORTEST_S:
        yield Wrong((path,), f"no camera has a shutter of {shown(shutter)}", "write it like 1/160")
    elif any(map(_surely_fires, parts.setup.lights)):
        sync = parts.kit.camera.sync
        with suppress(ValueError):  # a sync that is not a time is a fault of the kit
            if stops > shutter_stops(sync) + _CLOSE:
                do = f"write {sync} or slower, the camera's sync"
                yield Wrong((path,), f"{shutter} is faster than flash allows", do)


def _surely_fires(light: Light) -> bool:
    try:
        return light.power.fires
    except Unknown:
        return False


def _once(parts: Parts) -> Iterator[Wrong]:
    """A thing of the kit cannot be in two places, whatever else is wrong with the lights and panels that have it."""
    first: dict[tuple[Any, ...], Path] = {}
    for pattern, of in (*_THINGS, (_HELD_BY, "stand")):
        for path, name in written(parts.table, pattern):
            kind = "crew member" if pattern == _HELD_BY and name not in parts.kit.stand else of
            if not is_id(name) or (kind == "modifier" and not _is_a_thing(parts.kit, name)):
                continue
            # one cloth may hang across several beams, but only once in each
            before = first.setdefault((kind, name, path[1] if kind == "cloth" else None), path)
            if before is not path:
                one, two = _label(parts, before), _label(parts, path)
                where = f"twice at {one}" if one == two else f"at {one} and at {two}"
                do = "one person holds one panel" if kind == "crew member" else "use another one"
                yield Wrong((path, before), f"{kind} {name} is {where}", do)


def _label(parts: Parts, path: Path) -> str:
    """What the light, panel or hung cloth is called that holds this path."""
    kind, key = CALLED[path[0]], NAMED_BY[path[0]]
    name = next((name for _, name in written(parts.table[path[0]][path[1]], (key,))), "")
    return f"{kind} {name}" if is_id(name) else f"a {kind} without an id"


def _is_a_thing(kit: Kit, modifier: str) -> bool:
    try:
        return modifier in kit.modifier and not kit.modifier[modifier].is_nothing
    except Unknown:
        return False


def fits_wrongs(kit: Kit, modifier: str, name: str, paths: tuple[Path, ...], on: str) -> Iterator[Wrong]:
    with suppress(Unknown):
        accessory = kit.accessory.get(name)
        if accessory is not None and modifier in kit.modifier and modifier not in accessory.fits:
            do = f"it fits {', '.join(accessory.fits) or 'nothing'}"
            yield Wrong(paths, f"{name} does not fit {modifier}{on}", do)


def _accessories(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    for rest, name in written(parts.table["light"][path[1]], ("accessories", "*")):
        paths = ((*path, *rest), (*path, "modifier"))
        yield from fits_wrongs(parts.kit, light.modifier, name, paths, f" on {_label(parts, path)}")


def _stand_of(placed: Light | PanelPlace) -> tuple[str, str]:
    """Return the stand that is to carry a light or a panel, and the key it is written under."""
    return (placed.stand, "stand") if isinstance(placed, Light) else (placed.held_by or "", "held_by")


def _height(parts: Parts, placed: Light | PanelPlace, path: Path) -> Iterator[Wrong]:
    name, key = _stand_of(placed)
    stand = parts.kit.stand.get(name)
    if stand is not None:
        yield from _reaches(stand, placed.height_m, (*path, "height_m"), (*path, key))


def _reaches(stand: Stand, height_m: float, *paths: Path, below_m: float = 0.0) -> Iterator[Wrong]:
    """Whether a stand goes to a height; what is written there is so far below it."""
    low, high = stand.height_min_m, stand.height_max_m
    if low <= high and not low - _CLOSE <= height_m <= high + _CLOSE:
        side, limit = ("over the most", high) if height_m > high else ("under the least", low)
        what = f"{height_m:g} m is {side} that stand {stand.id} goes to, {limit:g} m"
        do = f"write {max(low - below_m, 0):g} to {high - below_m:g}, or take another stand"
        yield Wrong(paths, what, do)


def load_kg(kit: Kit, placed: Light | PanelPlace, stand: Stand) -> float:
    """What a stand carries: head, modifier and accessories, or a panel, and a boom's arm and counterweight.

    Raises KeyError when the light or panel names something that is not in the kit.
    """
    if isinstance(placed, PanelPlace):
        hung = kit.panel[placed.panel].mass_kg
    else:
        hung = kit.head[placed.head].mass_kg + kit.modifier[placed.modifier].mass_kg
        hung += sum(kit.accessory[name].mass_kg for name in placed.accessories)
    return hung + (stand.arm_mass_kg + stand.counterweight_kg if stand.is_boom else 0.0)


def _load(parts: Parts, placed: Light | PanelPlace, path: Path) -> Iterator[Wrong]:
    name, key = _stand_of(placed)
    with suppress(KeyError):  # what is not in the kit is a fault of its own
        stand = parts.kit.stand[name]
        load = load_kg(parts.kit, placed, stand)
        if load > stand.load_max_kg + _CLOSE:
            what = f"stand {stand.id} is to carry {load:.3g} kg with {_label(parts, path)}"
            more = ("modifier", "accessories") if isinstance(placed, Light) else ("panel",)
            paths = tuple((*path, other) for other in (key, *more))
            yield Wrong(paths, what, f"its limit is {stand.load_max_kg:g} kg: take a stronger one")


def _held(parts: Parts, place: PanelPlace, path: Path) -> Iterator[Wrong]:
    """What a panel that is held needs: a mass, and no bags where a person holds it."""
    panel, here = parts.kit.panel.get(place.panel), (*path, "held_by")
    if place.held_by is None or panel is None:
        return
    if not panel.mass_kg:
        what = f"{place.held_by} is to hold {_label(parts, path)}, and its mass is not known"
        yield Wrong((here, (*path, "panel")), what, "weigh it, and write its mass_kg in the kit")
    if place.bags and place.held_by not in parts.kit.stand:
        what = f"{place.held_by} holds it, and bags hang on stands"
        yield Wrong(((*path, "bags"), here), what, "delete the bags, or have a stand hold it")


def _hangs(parts: Parts, hung: HungCloth, path: Path) -> Iterator[Wrong]:
    """A cloth that hangs has a size, a place, and a way to look."""
    cloth = parts.kit.cloth.get(hung.cloth)
    if cloth is None:
        return
    if cloth.width_m is None or cloth.height_m is None:
        do = "write its width_m and height_m in kit.toml"
        yield Wrong(((*path, "cloth"),), f"cloth {cloth.id} has no size, so it cannot hang in the set", do)
        return
    try:
        hung.point(cloth, parts.setup.subject.face_height_m)
    except ValueError as problem:
        paths = (*path, "distance_m"), (*path, "hem_m"), (*path, "cloth"), ("subject", "face_height_m")
        yield Wrong(paths, f"its middle: {split(problem)[0]}", split(problem)[1])
        return
    with suppress(KeyError):  # a head that is not lit is a fault of its own
        yield from refused(((*path, "face_to"), (*path, "side")), hung_stance, cloth, hung, parts.setup)


def _turned(parts: Parts, hung: HungCloth, path: Path) -> Iterator[Wrong]:
    yield from _lit(parts.lit, hung.face_to, {"face"}, (*path, "face_to"))


def _rail(parts: Parts, hung: HungCloth, path: Path) -> Iterator[Wrong]:
    """A rail lies on two stands, which go to its height and carry half the cloth each: a fault of both is one line."""
    at, cloth = (*path, "held_by"), parts.kit.cloth.get(hung.cloth)
    if hung.held_by and len(hung.held_by) != 2:
        what = f"a rail lies on two stands, and here {'is one' if len(hung.held_by) == 1 else 'are more'}"
        yield Wrong((at,), what, "name two, or delete held_by where the building carries it")
    if hung.bags and not hung.held_by:
        yield Wrong(((*path, "bags"),), "bags hang on stands, and the building carries this cloth", "delete bags")
    stands = [*filter(None, map(parts.kit.stand.get, dict.fromkeys(hung.held_by)))]
    for stand in (stand for stand in stands if stand.is_boom):
        yield Wrong((at,), f"{stand.id} is a boom, which cannot carry the end of a rail", "name a stand or a roller")
    if cloth is None or cloth.height_m is None:
        return
    paths, height_m = ((*path, "hem_m"), at), cloth.height_m
    yield from islice(
        (wrong for stand in stands for wrong in _reaches(stand, hung.rail_m(cloth), *paths, below_m=height_m)), 1
    )
    if hung.held_by and not cloth.mass_kg:
        what = f"stands are to carry {_label(parts, path)}, and its mass is not known"
        yield Wrong((at, (*path, "cloth")), what, "weigh it, and write its mass_kg in the kit")
    if weak := [stand for stand in stands if cloth.mass_kg / 2 > stand.load_max_kg + _CLOSE]:
        what = f"stand {weak[0].id} is to carry {cloth.mass_kg / 2:.3g} kg, half of cloth {cloth.id}"
        yield Wrong((at,), what, f"its limit is {weak[0].load_max_kg:g} kg: take a stronger one")


def _camera(parts: Parts) -> Iterator[Wrong]:
    yield from _tape(parts, parts.setup.view, ("view",))


def _tape(parts: Parts, placed: Light | PanelPlace | View, path: Path) -> Iterator[Wrong]:
    paths = (*path, "distance_m"), (*path, "height_m"), ("subject", "face_height_m")
    yield from refused(paths, ground_radius, placed.distance_m, placed.height_m, parts.setup.face.z)


def _looks(parts: Parts) -> Iterator[Wrong]:
    at = parts.setup.subject.looks_at
    if at is not None:
        yield from _lit(parts.lit, at, set(), ("subject", "looks_at"))


def _facing(parts: Parts, panel: PanelPlace, path: Path) -> Iterator[Wrong]:
    yield from _lit(parts.lit, panel.face_to, {"face"}, (*path, "face_to"))
    if panel.catches is not None:
        yield from _lit(parts.lit, panel.catches, set(), (*path, "catches"))
        if panel.face_to != "face":
            yield Wrong(((*path, "catches"), (*path, "face_to")), "it has face_to as well", "keep one of the two")


def _stance(parts: Parts, place: PanelPlace, path: Path) -> Iterator[Wrong]:
    panel = parts.kit.panel.get(place.panel)
    if panel is None:
        return
    if panel.wings == 1 and place.open_deg is not None:
        yield Wrong(((*path, "open_deg"), (*path, "panel")), f"panel {panel.id} has one wing", "delete it")
    if panel.wings == 2 and place.tilt_deg:
        yield Wrong(((*path, "tilt_deg"), (*path, "panel")), "two wings stand upright", "delete it")
    with suppress(KeyError):  # a head that is not lit is a fault of its own
        face_m, heads = parts.setup.subject.face_height_m, {place.face_to, place.catches} - {"face", None}
        try:
            place.point(face_m)
            for head in heads:
                parts.setup.light[str(head)].point(face_m)
        except ValueError:  # a fault of the tape
            return
        paths = (*path, "face_to" if place.catches is None else "catches"), (*path, "side")
        yield from refused(paths, stance_of, panel, place, parts.setup)


def _lit(lit: Set[str] | None, head: str, also: Set[str], path: Path) -> Iterator[Wrong]:
    """What the face or a panel looks at must be lit in this setup."""
    if lit is not None and head not in lit | also:
        yield Wrong((path,), f"no head {shown(head)} is lit in this setup", instead(head, lit | also))


def _feather(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    if light.feather_deg == 0:
        if light.feather_to is not None and "feather_deg" not in parts.table["light"][path[1]]:
            yield Wrong(((*path, "feather_to"),), "feather_deg is missing", "write by how much, or delete feather_to")
        return
    if light.feather_to is None:
        yield Wrong(((*path, "feather_to"),), "is missing", f"write {' or '.join(map(shown, get_args(FeatherSide)))}")
        return
    setup = parts.setup
    try:
        start, end = light.point(setup.face.z), setup.aim_point(light) or setup.face
    except ValueError:  # a fault of the tape
        return
    paths = tuple((*path, key) for key in ("feather_to", "feather_deg", "aim", "angle_deg"))
    yield from refused(paths, light.feather_turn_deg, start, end)


def _power_left_out(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    """A power that is left out needs something to work it out from."""
    if light.power != SOLVE or light.aim_reading_f is not None:
        return
    setup = parts.setup
    whole, behind = setup.exposure.whole_over_stops, setup.background
    panel_asked = any(place.aim_reading_f is not None or place.under_key_stops is not None for place in setup.panels)
    if panel_asked or whole is not None or (behind is not None and behind.over_stops is not None):
        return
    if light.under_key_stops is None:
        what = "it is left out, and nothing is asked"
    elif light.role == "key" or "key" not in {
        *(other.role for other in setup.lights),
        *(place.role for place in setup.panels),
    }:
        what = "it is left out, and what is asked counts from a key, and there is none"
    else:
        return
    do = "write it, or what is asked: aim_reading_f, whole_over_stops under [exposure], over_stops under [background]"
    asked = [(*path, "under_key_stops")] if light.under_key_stops is not None else []
    yield Wrong(((*path, "power"), *asked), what, do)


def _aim(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    if light.aim == "background" and parts.setup.background is None:
        do = "write [background] with its distance_m"
        yield Wrong(((*path, "aim"),), "there is no background in this setup", do)
    elif parts.placed is not None and light.aim not in parts.placed | TAKEN:
        what = f"nothing called {shown(light.aim)} is placed in this setup"
        yield Wrong(((*path, "aim"),), what, instead(light.aim, parts.placed | TAKEN))
