"""What is wrong with a setup, past the shape of its tables: what is not there, or cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Set
from typing import Final

from runbook.plan.faults import Path, Wrong, instead, shown, split
from runbook.plan.kit import Camera, Kit, Stand
from runbook.plan.marks import aperture_stops, iso_stops, shutter_stops
from runbook.plan.setup import Background, Exposure, Light, PanelPlace, Subject, View
from runbook.plan.space import ground_radius
from runbook.plan.tuples import NamedTuple

_CLOSE: Final = 1e-9
_MARK_STOPS: Final = 0.1  # a lens marked f/1.8 opens to f/1.8, whatever its exact value
_LONGEST_S, _SHORTEST_S = -12.0, 17.0  # shutter times in stops: over an hour, under 1/100000


class Parts(NamedTuple):
    """The parts of a setup that are right by themselves; None where one is not.

    ``camera`` is None when the kit's is not right. ``lit`` and ``placed`` are the ids of every head
    and panel the setup names, right or not; None where a file it is like could not be read.
    """

    kit: Kit
    camera: Camera | None
    exposure: Exposure | None
    view: View | None
    subject: Subject | None
    background: Background | None
    lights: tuple[Light, ...]
    panels: tuple[PanelPlace, ...]
    lit: Set[str] | None
    placed: Set[str] | None


def setup_wrongs(parts: Parts) -> Iterator[Wrong]:
    """Faults of a setup against itself and the kit. What a fault of shape hides is left out."""
    for rule in _RULES:
        yield from rule(parts)


def _light(light: Light, key: str) -> Path:
    return ("light", light.head, key)


def _panel(panel: PanelPlace, key: str) -> Path:
    return ("place_panel", panel.panel, key)


def _exposure(parts: Parts) -> Iterator[Wrong]:
    exposure, view = parts.exposure, parts.view
    if exposure is None:
        return
    yield from _shutter(parts, exposure.shutter)
    camera = parts.camera
    if camera and iso_stops(exposure.iso) < iso_stops(camera.iso_min) - _CLOSE:
        what = f"ISO {exposure.iso:g} is under the camera's least, {camera.iso_min:g}"
        yield Wrong((("exposure", "iso"),), what, f"write {camera.iso_min:g} or more")
    lens = parts.kit.lens.get(view.lens) if view else None
    if lens is None:
        return
    stops = aperture_stops(exposure.f)
    least, most = aperture_stops(lens.f_min), aperture_stops(lens.f_max)
    if least <= most and not least - _MARK_STOPS <= stops <= most + _MARK_STOPS:
        what = f"lens {lens.id} has no f/{exposure.f:g}"
        do = f"it goes from f/{lens.f_min:g} to f/{lens.f_max:g}"
        yield Wrong((("exposure", "f"), ("view", "lens")), what, do)


def _shutter(parts: Parts, shutter: str) -> Iterator[Wrong]:
    path = ("exposure", "shutter")
    try:
        stops = shutter_stops(shutter)
    except ValueError as problem:
        yield Wrong((path,), *split(problem))
        return
    if not _LONGEST_S < stops < _SHORTEST_S:
        yield Wrong((path,), f"no camera has a shutter of {shown(shutter)}", "write it like 1/160")
    elif parts.camera and any(light.power.fires for light in parts.lights):
        try:
            sync = shutter_stops(parts.camera.sync)
        except ValueError:
            return
        if stops > sync + _CLOSE:
            what = f"{shutter} is faster than flash allows"
            do = f"write {parts.camera.sync} or slower, the camera's sync"
            yield Wrong((path,), what, do)


def _once(parts: Parts) -> Iterator[Wrong]:
    """Each thing of the kit is one thing: it cannot be in two places."""
    uses: dict[tuple[str, ...], list[tuple[str, Path]]] = {}
    for thing, owner, path in _used(parts):
        uses.setdefault(thing, []).append((owner, path))
    for (kind, name, *_), used in uses.items():
        if len(used) > 1:
            owners = list(dict.fromkeys(owner for owner, _ in used))
            where = f"at {' and at '.join(owners)}" if len(owners) > 1 else f"twice at {owners[0]}"
            paths = tuple(path for _, path in reversed(used))
            yield Wrong(paths, f"{kind} {name} is {where}", "it can be in one place at a time")


def _used(parts: Parts) -> Iterator[tuple[tuple[str, ...], str, Path]]:
    """Everything that can be in one place only, who has it, and where that is written."""
    for light in {light.head: light for light in parts.lights}.values():
        owner = f"light {light.head}"
        yield ("stand", light.stand), owner, _light(light, "stand")
        modifier = parts.kit.modifier.get(light.modifier)
        if modifier is not None and not modifier.is_nothing:
            yield ("modifier", modifier.id), owner, _light(light, "modifier")
        for index, name in enumerate(light.accessories):
            yield ("accessory", name), owner, (*_light(light, "accessories"), index)
        for index, name in enumerate(light.through):
            # one cloth may hang across several beams, but only once in each
            yield ("cloth", name, light.head), owner, (*_light(light, "through"), index)
        for index, name in enumerate(light.bags):
            yield ("bag", name), owner, (*_light(light, "bags"), index)
    for panel in {panel.panel: panel for panel in parts.panels}.values():
        for index, name in enumerate(panel.bags):
            yield ("bag", name), f"panel {panel.panel}", (*_panel(panel, "bags"), index)


def _fits(parts: Parts) -> Iterator[Wrong]:
    for light in parts.lights:
        for index, name in enumerate(light.accessories):
            accessory = parts.kit.accessory.get(name)
            known = accessory is not None and light.modifier in parts.kit.modifier
            if accessory is None or not known or light.modifier in accessory.fits:
                continue
            fits = ", ".join(accessory.fits) or "nothing"
            what = f"{name} does not fit {light.modifier} on light {light.head}"
            paths = ((*_light(light, "accessories"), index), _light(light, "modifier"))
            yield Wrong(paths, what, f"it fits {fits}")


def _stands(parts: Parts) -> Iterator[Wrong]:
    for light in parts.lights:
        stand = parts.kit.stand.get(light.stand)
        if stand is None:
            continue
        low, high = stand.height_min_m, stand.height_max_m
        if low <= high and not low - _CLOSE <= light.height_m <= high + _CLOSE:
            side = "over the most" if light.height_m > high else "under the least"
            limit = high if light.height_m > high else low
            what = f"{light.height_m:g} m is {side} that stand {stand.id} goes to, {limit:g} m"
            paths = (_light(light, "height_m"), _light(light, "stand"))
            yield Wrong(paths, what, f"write {low:g} to {high:g}, or take another stand")
        yield from _load(parts.kit, light, stand)


def load_kg(kit: Kit, light: Light, stand: Stand) -> float:
    """What a stand carries: head, modifier, accessories, and a boom's arm and counterweight.

    Raises KeyError when the light names something that is not in the kit.
    """
    hung = kit.head[light.head].mass_kg + kit.modifier[light.modifier].mass_kg
    hung += sum(kit.accessory[name].mass_kg for name in light.accessories)
    return hung + (stand.arm_mass_kg + stand.counterweight_kg if stand.is_boom else 0.0)


def _load(kit: Kit, light: Light, stand: Stand) -> Iterator[Wrong]:
    try:
        load = load_kg(kit, light, stand)
    except KeyError:
        return
    if load > stand.load_max_kg + _CLOSE:
        what = f"stand {stand.id} is to carry {load:.3g} kg with light {light.head}"
        paths = tuple(_light(light, key) for key in ("stand", "modifier", "accessories"))
        yield Wrong(paths, what, f"its limit is {stand.load_max_kg:g} kg: take a stronger one")


def _places(parts: Parts) -> Iterator[Wrong]:
    subject, view = parts.subject, parts.view
    if subject is None:
        return
    face = subject.face_height_m
    placed: list[tuple[Path, float, float]] = [
        *((("light", light.head), light.distance_m, light.height_m) for light in parts.lights),
        *((("place_panel", p.panel), p.distance_m, p.height_m) for p in parts.panels),
    ]
    if view:
        placed.append((("view",), view.distance_m, view.height_m))
    for path, distance, height in placed:
        try:
            ground_radius(distance, height, face)
        except ValueError as problem:
            paths = ((*path, "distance_m"), (*path, "height_m"), ("subject", "face_height_m"))
            yield Wrong(paths, *split(problem))


def _looks(parts: Parts) -> Iterator[Wrong]:
    """What lights, panels and the face are turned to must stand in this setup."""
    heads, panels = parts.lit, parts.placed
    if heads is None or panels is None:
        return
    if parts.subject and parts.subject.looks_at not in heads | {None}:
        what = f"no head {shown(parts.subject.looks_at)} is lit in this setup"
        do = instead(str(parts.subject.looks_at), heads)
        yield Wrong((("subject", "looks_at"),), what, do)
    for light in parts.lights:
        if light.aim not in panels | {"face", "background"}:
            what = f"nothing called {shown(light.aim)} is placed in this setup"
            do = instead(light.aim, panels | {"face", "background"})
            yield Wrong((_light(light, "aim"),), what, do)
        elif light.aim == "background" and parts.background is None:
            what = "there is no background in this setup"
            yield Wrong((_light(light, "aim"),), what, "write [background] with its distance_m")
    for panel in parts.panels:
        if panel.face_to not in heads | {"face"}:
            what = f"no head {shown(panel.face_to)} is lit in this setup"
            yield Wrong((_panel(panel, "face_to"),), what, instead(panel.face_to, heads | {"face"}))


_RULES: Final[tuple[Callable[[Parts], Iterator[Wrong]], ...]] = (
    _exposure,
    _once,
    _fits,
    _stands,
    _places,
    _looks,
)
