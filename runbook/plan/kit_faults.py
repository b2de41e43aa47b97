"""What is wrong with a kit, past the shape of its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from runbook.plan.faults import Wrong, shown, split
from runbook.plan.kit import BARE, Head, Kit
from runbook.plan.marks import shutter_stops
from runbook.plan.power import Dial
from runbook.plan.refs import IN_KIT, KIT_KINDS, ids_in, kit_ids, twice, unknown, written

# words with a meaning of their own where a setup could also name a head or a panel
_TAKEN: Final = {"face", "background"}


def kit_wrongs(kit: Kit, table: dict[str, Any]) -> Iterator[Wrong]:
    """Faults of the kit's right parts, and of the ids in its file's table.

    Of what is paired, both are named, so that the key in the message is the one to change.
    """
    yield from _ids(table)
    yield from unknown(table, IN_KIT, kit_ids(table))
    for rule in _RULES:
        yield from rule(kit)
    yield from _measured(kit, table)
    yield from _measured_fits(kit, table)


def _ids(table: dict[str, Any]) -> Iterator[Wrong]:
    for kind in KIT_KINDS:
        yield from twice(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    heads = ids_in(table, "head")
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
    except ValueError:
        return None


def _heads(kit: Kit) -> Iterator[Wrong]:
    for head in kit.heads:
        try:
            _ = head.dial
        except ValueError as problem:
            yield Wrong((("head", head.id, "power_min"),), *split(problem))
        if head.recycle_min_s > head.recycle_full_s:
            what = f"{head.recycle_min_s:g} s is longer than a full flash takes"
            do = f"write at most recycle_full_s, {head.recycle_full_s:g}"
            yield Wrong((("head", head.id, "recycle_min_s"),), what, do)


def _modifiers(kit: Kit) -> Iterator[Wrong]:
    for modifier in kit.modifiers:
        sizes = {"round": ("width_m",), "rectangle": ("width_m", "height_m"), "bare": ()}
        for key in sizes[modifier.shape]:
            if getattr(modifier, key) < 0.001:
                what = f"a {modifier.shape} modifier must have a size"
                yield Wrong((("modifier", modifier.id, key),), what, "write it in metres, like 0.9")
        if modifier.id == BARE and modifier.shape != "bare":
            what = '"bare" always means a head without a modifier'
            yield Wrong((("modifier", BARE, "shape"),), what, "give this one another id")


def _stands(kit: Kit) -> Iterator[Wrong]:
    for stand in kit.stands:
        if stand.height_max_m < stand.height_min_m:
            what = f"{stand.height_max_m:g} m is lower than height_min_m, {stand.height_min_m:g} m"
            yield Wrong((("stand", stand.id, "height_max_m"),), what, "change one of the two")
        if stand.is_boom:
            for key in ("arm_m", "arm_back_m"):
                if getattr(stand, key) is None:
                    do = f"write {key}, in metres from the pivot"
                    yield Wrong((("stand", stand.id, key),), "a boom must have it", do)


def _lenses(kit: Kit) -> Iterator[Wrong]:
    for lens in kit.lenses:
        if lens.f_max < lens.f_min:
            what = f"f/{lens.f_max:g} is wider than f_min, f/{lens.f_min:g}"
            do = "f_min is the widest aperture, the smaller number"
            yield Wrong((("lens", lens.id, "f_max"),), what, do)


def _camera(kit: Kit) -> Iterator[Wrong]:
    try:
        shutter_stops(kit.camera.sync)
    except ValueError as problem:
        yield Wrong((("camera", "sync"),), *split(problem))


def _measured(kit: Kit, table: dict[str, Any]) -> Iterator[Wrong]:
    heads = {(path[1], name) for path, name in written(table, ("measured", "*", "head"))}
    for path, power in written(table, ("measured", "*", "power")):
        for name in (name for index, name in heads if index == path[1]):
            dial = dial_of(kit.head.get(name))
            if dial is None:
                continue
            try:
                fires = dial.read(power).fires
            except ValueError as problem:
                yield Wrong((path,), *split(problem))
            else:
                if not fires:
                    yield Wrong((path,), "a head that is off reads nothing", "write its power")


def _measured_fits(kit: Kit, table: dict[str, Any]) -> Iterator[Wrong]:
    """A row for what cannot be put together would never be found."""
    for path, name in written(table, ("measured", "*", "accessories", "*")):
        accessory = kit.accessory.get(name)
        modifier = table["measured"][path[1]].get("modifier", BARE)
        known = isinstance(modifier, str) and modifier in kit.modifier
        if accessory is None or not known or modifier in accessory.fits:
            continue
        fits = ", ".join(accessory.fits) or "nothing"
        yield Wrong((path,), f"{name} does not fit {modifier}", f"it fits {fits}")


_RULES: Final[tuple[Callable[[Kit], Iterator[Wrong]], ...]] = (
    _heads,
    _modifiers,
    _stands,
    _lenses,
    _camera,
)
