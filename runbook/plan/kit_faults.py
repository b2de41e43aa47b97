"""What is wrong with a kit, past the shape of its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import Any, Final

from runbook.plan.faults import Path, Wrong, shown, split
from runbook.plan.ids import kit_ids
from runbook.plan.kit import BARE, Head, Kit, Lens, Measured, Modifier, Stand
from runbook.plan.marks import shutter_stops
from runbook.plan.power import Dial, stops_below
from runbook.plan.refs import IN_KIT, KIT_KINDS, twice, unknown, written
from runbook.plan.unsaid import Unsaid, as_far_as_known

# words with a meaning of their own where a setup could also name a head or a panel
_TAKEN: Final = {"face", "background"}
_ANY_STEP: Final = Fraction(1, 3)  # what is no power on this dial is one on no dial


def kit_wrongs(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    """Faults of a kit that may be right in part only (see ``partly``), and of its file's ids.

    Of what is paired, both are named, so that the key in the message is the one to change.
    """
    yield from _ids(table)
    yield from unknown(table, IN_KIT, kit_ids(table))
    for rule in _RULES:
        yield from as_far_as_known(rule(kit))
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
    except (ValueError, Unsaid):
        return None


def _heads(kit: Kit) -> Iterator[Wrong]:
    for place, head in enumerate(kit.heads):
        yield from as_far_as_known(_dial(head, ("head", place)))
        yield from as_far_as_known(_recycling(head, ("head", place)))


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


def _modifiers(kit: Kit) -> Iterator[Wrong]:
    for place, modifier in enumerate(kit.modifiers):
        for key in ("width_m", "height_m"):
            yield from as_far_as_known(_size(modifier, ("modifier", place), key))
        yield from as_far_as_known(_bare(modifier, ("modifier", place)))


def _size(modifier: Modifier, path: Path, key: str) -> Iterator[Wrong]:
    sized = {"round": ("width_m",), "rectangle": ("width_m", "height_m"), "bare": ()}
    if key in sized[modifier.shape] and getattr(modifier, key) < 0.001:
        what = f"a {modifier.shape} modifier must have a size"
        yield Wrong(((*path, key),), what, "write it in metres, like 0.9")


def _bare(modifier: Modifier, path: Path) -> Iterator[Wrong]:
    if modifier.id == BARE and modifier.shape != "bare":
        what = '"bare" always means a head without a modifier'
        yield Wrong(((*path, "shape"),), what, "give this one another id")


def _stands(kit: Kit) -> Iterator[Wrong]:
    for place, stand in enumerate(kit.stands):
        yield from as_far_as_known(_heights(stand, ("stand", place)))
        for key in ("arm_m", "arm_back_m"):
            yield from as_far_as_known(_arm(stand, ("stand", place), key))


def _heights(stand: Stand, path: Path) -> Iterator[Wrong]:
    if stand.height_max_m < stand.height_min_m:
        what = f"{stand.height_max_m:g} m is lower than height_min_m, {stand.height_min_m:g} m"
        yield Wrong(((*path, "height_max_m"),), what, "change one of the two")


def _arm(stand: Stand, path: Path, key: str) -> Iterator[Wrong]:
    if stand.is_boom and getattr(stand, key) is None:
        yield Wrong(
            ((*path, key),), "a boom must have it", f"write {key}, in metres from the pivot"
        )


def _lenses(kit: Kit) -> Iterator[Wrong]:
    for place, lens in enumerate(kit.lenses):
        yield from as_far_as_known(_apertures(lens, ("lens", place)))


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


_RULES: Final[tuple[Callable[[Kit], Iterator[Wrong]], ...]] = (
    _heads,
    _modifiers,
    _stands,
    _lenses,
    _camera,
)
