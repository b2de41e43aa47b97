"""What is wrong with a setup, past the shape of its tables: what is not there, or cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from typing import Any, Final

from runbook.files.errors import Path, Wrong, instead, shown, split
from runbook.files.rules import written
from runbook.files.validate import Unknown, as_far_as_known
from runbook.model.fields import is_id
from runbook.model.geometry import ground_radius
from runbook.model.kit import Kit, Stand
from runbook.model.nominal_values import aperture_stops, iso_stops, shutter_stops
from runbook.model.setup import Light, PanelPlace, Setup, View

_CLOSE: Final = 1e-9
_MARK_STOPS: Final = 0.1  # a lens marked f/1.8 opens to f/1.8, whatever its exact value
_HOLDERS: Final = {"light": ("light", "head"), "place_panel": ("panel", "panel")}
_THINGS: Final = {
    ("stand",): "stand",
    ("modifier",): "modifier",
    ("accessories", "*"): "accessory",
    ("through", "*"): "cloth",
    ("bags", "*"): "bag",
}  # where a light or panel writes what it has of the kit
_LONGEST_S, _SHORTEST_S = -12.0, 17.0  # shutter times in stops: over an hour, under 1/100000


@dataclass(frozen=True, slots=True)
class Parts:
    """A setup and the kit it is held against, each right in part only (see ``partly``).

    ``table`` is the setup's own as it is written, with what it inherits. ``lit`` and ``placed`` are
    the ids of every head and panel it names; None where one of them is not known.
    """

    kit: Kit
    setup: Setup
    table: Mapping[str, Any]
    lit: Set[str] | None
    placed: Set[str] | None


def setup_wrongs(parts: Parts) -> Iterator[Wrong]:
    """Faults of a setup against itself and the kit, but for those that its shape has already."""
    for rule in _RULES:
        yield from as_far_as_known(rule(parts))


def _lights(parts: Parts) -> Iterator[Wrong]:
    for place, light in enumerate(parts.setup.lights):
        for rule in _OF_A_LIGHT:
            yield from as_far_as_known(rule(parts, light, ("light", place)))


def _panels(parts: Parts) -> Iterator[Wrong]:
    for place, panel in enumerate(parts.setup.panels):
        for rule in _OF_A_PANEL:
            yield from as_far_as_known(rule(parts, panel, ("place_panel", place)))


def _iso(parts: Parts) -> Iterator[Wrong]:
    iso, least = parts.setup.exposure.iso, parts.kit.camera.iso_min
    if iso_stops(iso) < iso_stops(least) - _CLOSE:
        what = f"ISO {iso:g} is under the camera's least, {least:g}"
        yield Wrong((("exposure", "iso"),), what, f"write {least:g} or more")


def _aperture(parts: Parts) -> Iterator[Wrong]:
    f, lens = parts.setup.exposure.f, parts.kit.lens.get(parts.setup.view.lens)
    if lens is None:
        return
    least, most = aperture_stops(lens.f_min), aperture_stops(lens.f_max)
    if least <= most and not least - _MARK_STOPS <= aperture_stops(f) <= most + _MARK_STOPS:
        what = f"lens {lens.id} has no f/{f:g}"
        do = f"it goes from f/{lens.f_min:g} to f/{lens.f_max:g}"
        yield Wrong((("exposure", "f"), ("view", "lens")), what, do)


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
        try:
            fastest = shutter_stops(sync)
        except ValueError:
            return
        if stops > fastest + _CLOSE:
            what = f"{shutter} is faster than flash allows"
            yield Wrong((path,), what, f"write {sync} or slower, the camera's sync")


def _surely_fires(light: Light) -> bool:
    try:
        return light.power.fires
    except Unknown:
        return False


def _once(parts: Parts) -> Iterator[Wrong]:
    """Each thing of the kit is one thing: it cannot be in two places."""
    first: dict[tuple[str, ...], Path] = {}
    for thing, path in _used(parts):
        before = first.setdefault(thing, path)
        if before is not path:
            kind, name, *_ = thing
            one, two = _label(parts, before), _label(parts, path)
            where = f"twice at {one}" if one == two else f"at {one} and at {two}"
            what = f"{kind} {name} is {where}"
            yield Wrong((path, before), what, "it can be in one place at a time")


def _used(parts: Parts) -> Iterator[tuple[tuple[str, ...], Path]]:
    """Every thing that can be in one place only, and where that is written; whatever else is wrong
    with the light or panel that has it."""
    for holder in _HOLDERS:
        for pattern, kind in _THINGS.items():
            for path, name in written(parts.table, (holder, "*", *pattern)):
                if is_id(name) and (kind != "modifier" or _is_a_thing(parts.kit, name)):
                    # one cloth may hang across several beams, but only once in each
                    beam = (str(path[1]),) if kind == "cloth" else ()
                    yield (kind, name, *beam), path


def _label(parts: Parts, path: Path) -> str:
    """What the light or panel is called that holds this path."""
    kind, key = _HOLDERS[path[0]]
    name = next((name for _, name in written(parts.table[path[0]][path[1]], (key,))), "")
    return f"{kind} {name}" if is_id(name) else f"a {kind} without an id"


def _is_a_thing(kit: Kit, modifier: str) -> bool:
    try:
        return modifier in kit.modifier and not kit.modifier[modifier].is_nothing
    except Unknown:
        return False


def _fits(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    for rest, name in written(parts.table["light"][path[1]], ("accessories", "*")):
        yield from as_far_as_known(_accessory_fits(parts, light, name, (*path, *rest)))


def _accessory_fits(parts: Parts, light: Light, name: str, path: Path) -> Iterator[Wrong]:
    accessory, modifier = parts.kit.accessory.get(name), light.modifier
    known = accessory is not None and modifier in parts.kit.modifier
    if accessory is None or not known or modifier in accessory.fits:
        return
    fits = ", ".join(accessory.fits) or "nothing"
    what = f"{name} does not fit {modifier} on {_label(parts, path)}"
    yield Wrong((path, (*path[:2], "modifier")), what, f"it fits {fits}")


def _height(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    stand = parts.kit.stand.get(light.stand)
    if stand is None:
        return
    low, high = stand.height_min_m, stand.height_max_m
    if low <= high and not low - _CLOSE <= light.height_m <= high + _CLOSE:
        side = "over the most" if light.height_m > high else "under the least"
        limit = high if light.height_m > high else low
        what = f"{light.height_m:g} m is {side} that stand {stand.id} goes to, {limit:g} m"
        paths = (*path, "height_m"), (*path, "stand")
        yield Wrong(paths, what, f"write {low:g} to {high:g}, or take another stand")


def load_kg(kit: Kit, light: Light, stand: Stand) -> float:
    """What a stand carries: head, modifier, accessories, and a boom's arm and counterweight.

    Raises KeyError when the light names something that is not in the kit.
    """
    hung = kit.head[light.head].mass_kg + kit.modifier[light.modifier].mass_kg
    hung += sum(kit.accessory[name].mass_kg for name in light.accessories)
    return hung + (stand.arm_mass_kg + stand.counterweight_kg if stand.is_boom else 0.0)


def _load(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    stand = parts.kit.stand.get(light.stand)
    if stand is None:
        return
    try:
        load = load_kg(parts.kit, light, stand)
    except KeyError:
        return
    if load > stand.load_max_kg + _CLOSE:
        what = f"stand {stand.id} is to carry {load:.3g} kg with {_label(parts, path)}"
        paths = tuple((*path, key) for key in ("stand", "modifier", "accessories"))
        yield Wrong(paths, what, f"its limit is {stand.load_max_kg:g} kg: take a stronger one")


def _camera_tape(parts: Parts) -> Iterator[Wrong]:
    yield from _tape(parts, parts.setup.view, ("view",))


def _tape(parts: Parts, placed: Light | PanelPlace | View, path: Path) -> Iterator[Wrong]:
    face_m = parts.setup.subject.face_height_m
    try:
        ground_radius(placed.distance_m, placed.height_m, face_m)
    except ValueError as problem:
        paths = (*path, "distance_m"), (*path, "height_m"), ("subject", "face_height_m")
        yield Wrong(paths, *split(problem))


def _looks(parts: Parts) -> Iterator[Wrong]:
    """What the face looks at must be lit in this setup."""
    at = parts.setup.subject.looks_at
    if parts.lit is not None and at is not None and at not in parts.lit:
        what = f"no head {shown(at)} is lit in this setup"
        yield Wrong((("subject", "looks_at"),), what, instead(at, parts.lit))


def _aim(parts: Parts, light: Light, path: Path) -> Iterator[Wrong]:
    if light.aim == "background":
        if parts.setup.background is None:
            what = "there is no background in this setup"
            yield Wrong(((*path, "aim"),), what, "write [background] with its distance_m")
    elif parts.placed is not None and light.aim not in parts.placed | {"face"}:
        what = f"nothing called {shown(light.aim)} is placed in this setup"
        do = instead(light.aim, parts.placed | {"face", "background"})
        yield Wrong(((*path, "aim"),), what, do)


def _facing(parts: Parts, panel: PanelPlace, path: Path) -> Iterator[Wrong]:
    if parts.lit is not None and panel.face_to not in parts.lit | {"face"}:
        what = f"no head {shown(panel.face_to)} is lit in this setup"
        do = instead(panel.face_to, parts.lit | {"face"})
        yield Wrong(((*path, "face_to"),), what, do)


_RULES: Final[tuple[Callable[[Parts], Iterator[Wrong]], ...]] = (
    _iso,
    _aperture,
    _shutter,
    _once,
    _camera_tape,
    _looks,
    _lights,
    _panels,
)
_OF_A_LIGHT: Final[tuple[Callable[[Parts, Light, Path], Iterator[Wrong]], ...]] = (_fits, _height, _load, _tape, _aim)
_OF_A_PANEL: Final[tuple[Callable[[Parts, PanelPlace, Path], Iterator[Wrong]], ...]] = (_tape, _facing)
