"""Things put, moved and turned on the floor of a setup: the values that are then written in its file.

A part of a setup goes by its path there: ``("light", "A")``, ``("place_panel", "flat-1")``, ``("view",)``. Lengths in
m, angles in degrees.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest
from math import atan2, degrees, hypot
from typing import Any, Final, get_args

from runbook.files.errors import Path
from runbook.files.form import read_choice, read_length, read_number
from runbook.files.inherit import NAMED_BY
from runbook.light.scene import aim_point, scene
from runbook.model.day import Plan
from runbook.model.geometry import Side, ground_radius
from runbook.model.kit import BARE, Bag, Kit, Modifier
from runbook.model.setup import FeatherSide, Role, Setup
from runbook.model.units import Units, length
from runbook.stands.audit import has_arm
from runbook.stands.remedy import plan_bags
from runbook.stands.statics import Rig
from runbook.stands.verdict import judge_panels, rigs_of

Values = dict[Path, Any]
# how the parts that have no label of their own are called on the floor
_CALLED: Final = {"view": "camera", "subject": "subject", "background": "background"}
_LISTS: Final[Mapping[str, str]] = {"light": "light", "place_panel": "panel", "hang": "hung"}
_HEIGHTS: Final = ("height_m", "hem_m", "face_height_m")
_LEAST_M: Final = 0.1
_MANY: Final = {"accessory": "accessories"}
_FROM_BEHIND: Final = ("rim", "hair")  # a grid keeps these out of the lens
_ROLES: Final[tuple[Role, ...]] = get_args(Role)


# -- the parts of a setup ------------------------------------------------------------------------


def parts_of(setup: Setup) -> dict[Path, Any]:
    """Return everything on the floor of a setup, by path."""
    parts: dict[Path, Any] = {}
    for key in NAMED_BY:
        parts |= {(key, name): part for name, part in getattr(setup, _LISTS[key]).items()}
    parts |= {("view",): setup.view, ("subject",): setup.subject}
    return parts | ({} if setup.background is None else {("background",): setup.background})


def label_of_part(path: Path) -> str:
    """Return how a part is labelled on the floor."""
    return str(path[1]) if len(path) > 1 else _CALLED[str(path[0])]


# -- moving them ---------------------------------------------------------------------------------


def _side_keys(path: Path) -> tuple[str, str]:
    return ("facing_side", "facing_deg") if path == ("subject",) else ("side", "angle_deg")


def _at_bearing(path: Path, bearing: float, side: Side) -> Values:
    """Return the side and the angle of a bearing, plus being camera-right; ``side`` is that of neither."""
    bearing = (bearing + 180) % 360 - 180
    side_key, angle_key = _side_keys(path)
    if bearing % 180:
        side = "right" if bearing > 0 else "left"
    return {(*path, side_key): side, (*path, angle_key): round(abs(bearing), 2)}


def turned(setup: Setup, path: Path, by_deg: float) -> Values:
    """Turn a thing round the subject, or the subject's face; plus is to camera-right in front of the subject.

    Raises ValueError for what does not turn.
    """
    part, (side_key, angle_key) = parts_of(setup)[path], _side_keys(path)
    if not hasattr(part, angle_key):
        raise ValueError(f"the {label_of_part(path)} stays straight in line with the face")
    if getattr(part, "looks_at", None):
        raise ValueError(f"the face looks at {part.looks_at}; clear looks at in the form to turn it")
    side: Side = getattr(part, side_key)
    bearing = getattr(part, angle_key) * (1 if side == "right" else -1)
    return _at_bearing(path, bearing + by_deg, side)


def farther(setup: Setup, path: Path, by_m: float) -> Values:
    """Move a thing away from the subject, or nearer. Raises ValueError for the subject itself."""
    part = parts_of(setup)[path]
    if not hasattr(part, "distance_m"):
        raise ValueError("the subject stays in the middle; page up and down change the height of the face")
    return {(*path, "distance_m"): round(max(part.distance_m + by_m, _LEAST_M), 2)}


def higher(setup: Setup, path: Path, by_m: float) -> Values:
    """Raise a thing where it stands, or lower it: the tape from the face follows. Raises ValueError where it cannot."""
    part, face_m = parts_of(setup)[path], setup.subject.face_height_m
    key = next((key for key in _HEIGHTS if hasattr(part, key)), None)
    if key is None:
        raise ValueError(f"the {label_of_part(path)} has no height")
    height_m = round(max(getattr(part, key) + by_m, 0.0), 2)
    values: Values = {(*path, key): height_m}
    if key == "height_m":
        ground_m = ground_radius(part.distance_m, part.height_m, face_m)
        values[*path, "distance_m"] = round(hypot(ground_m, height_m - face_m), 2)
    return values


def put_at(setup: Setup, path: Path, x: float, y: float) -> Values:
    """Put a thing on a point of the floor, to a degree and 5 cm of tape; the subject turns to it."""
    part, face_m = parts_of(setup)[path], setup.subject.face_height_m
    up_m = getattr(part, "height_m", face_m) - face_m
    line_m = {("view",): max(y, _LEAST_M), ("background",): max(-y, _LEAST_M)}.get(path, hypot(x, y))
    tape_m = max(round(hypot(line_m, up_m) * 20) / 20, _LEAST_M)
    values: Values = {(*path, "distance_m"): round(tape_m, 2)} if hasattr(part, "distance_m") else {}
    if hasattr(part, _side_keys(path)[1]) and not getattr(part, "looks_at", None):
        values |= _at_bearing(path, round(degrees(atan2(x, y))), getattr(part, _side_keys(path)[0]))
    return values


def feathered(setup: Setup, head: str, by_deg: float) -> Values:
    """Turn a beam off its aim: plus is to the camera, minus to the background; left and right where it has neither."""
    light, where = setup.light[head], scene(setup)
    sides: tuple[FeatherSide, FeatherSide]
    sides = ("left", "right") if light.feather_to in ("left", "right") else ("camera", "background")
    try:
        tried = replace(light, feather_deg=1.0, feather_to=sides[0])
        tried.feather_turn_deg(light.point(setup.subject.face_height_m), aim_point(where, light))
    except ValueError:
        sides = ("left", "right")
    turned_deg = light.feather_deg * (-1 if light.feather_to == sides[1] else 1) + by_deg
    values: Values = {("light", head, "feather_deg"): min(abs(turned_deg), 90.0)}
    if turned_deg:
        values["light", head, "feather_to"] = sides[0] if turned_deg > 0 else sides[1]
    return values


# -- a new light or panel ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Place:
    """Where a thing is put."""

    side: Side
    angle_deg: float
    distance_m: float
    height_m: float


@dataclass(frozen=True, slots=True)
class Usual:
    """Where a light of a role mostly stands, through what, and how far under the key it is asked to read.

    Common practice: there is no source for any of it.
    """

    angle_deg: float
    distance_m: float
    above_face_m: float
    under_key_stops: float | None
    fits: Callable[[Modifier], bool]
    beside_key: bool = False


def _soft(modifier: Modifier) -> bool:
    return min(modifier.width_m or 0.0, modifier.height_m or 0.0) >= 0.6


def _strip(modifier: Modifier) -> bool:
    return 0.0 < (modifier.width_m or 0.0) <= 0.4


def _hard(modifier: Modifier) -> bool:
    return modifier.shape == "bare" and modifier.id != BARE


USUAL: Final[Mapping[Role, Usual]] = {
    "key": Usual(45, 1.5, 0.6, None, _soft, beside_key=True),
    "fill": Usual(20, 2.2, 0.2, 2.0, _soft),
    "rim": Usual(140, 1.8, 0.6, 0.0, _strip),
    "hair": Usual(145, 1.6, 0.9, 0.5, _strip, beside_key=True),
    "background": Usual(140, 1.3, 0.0, None, _hard),
    "effect": Usual(90, 1.5, 0.3, 1.0, _hard),
}


def next_roles(setup: Setup) -> list[Role]:
    """Return the roles, those that no light of the setup has first."""
    taken = {light.role for light in setup.lights}
    return sorted(_ROLES, key=lambda role: role in taken)


def free(kit: Kit, setup: Setup, kind: str) -> list[str]:
    """Return the ids of a kind of thing that nothing uses in a setup; a bare head is always to be had."""
    used = {label_of_part(path) for path in parts_of(setup)}
    for part in parts_of(setup).values():
        for key in ("modifier", "accessories", "stand", "held_by"):
            held = getattr(part, key, None) or ()
            used |= {held} if isinstance(held, str) else {*held}
    things = [thing.id for thing in getattr(kit, _MANY.get(kind, f"{kind}s")) if thing.id not in used]
    return [*things, BARE] if kind == "modifier" and BARE not in things else things


def modifiers_for(kit: Kit, setup: Setup, role: Role) -> list[str]:
    """Return the free modifiers, those that mostly serve a role first."""
    known = {each.id: each for each in kit.modifiers}
    return sorted(free(kit, setup, "modifier"), key=lambda name: not (name in known and USUAL[role].fits(known[name])))


def stands_for(kit: Kit, setup: Setup) -> list[str]:
    """Return the free stands, booms last."""
    return sorted(free(kit, setup, "stand"), key=lambda name: kit.stand[name].is_boom)


def _key_side(setup: Setup) -> Side:
    return next((light.side for light in setup.lights if light.role == "key"), "left")


def other_side(side: Side) -> Side:
    """Return the other side of the camera."""
    return "right" if side == "left" else "left"


def usual_place(setup: Setup, role: Role) -> Place:
    """Return where a light of a role mostly stands: key and hair on the key's side, the others across."""
    usual, side = USUAL[role], _key_side(setup)
    height_m = round(setup.subject.face_height_m + usual.above_face_m, 2)
    return Place(side if usual.beside_key else other_side(side), usual.angle_deg, usual.distance_m, height_m)


def panel_place(kit: Kit, setup: Setup, panel: str) -> Place:
    """Return a first place for a panel: across from the key, on the floor where it is as high as the face."""
    what, face_m = kit.panel[panel], setup.subject.face_height_m
    height_m = what.height_m / 2 if what.height_m >= face_m else face_m
    return Place(other_side(_key_side(setup)), 90, 1.2, round(height_m, 2))


def new_light(
    kit: Kit, setup: Setup, role: Role, through: tuple[str, str], place: Place
) -> tuple[dict[str, Any], Values]:
    """Return a light whose power is left to be worked out, and what else is asked of the setup for it.

    ``through`` are its head and modifier.
    """
    head, modifier = through
    table: dict[str, Any] = {"head": head, "role": role, "modifier": modifier, **place_values(place)}
    things = [kit.accessory[name] for name in free(kit, setup, "accessory")]
    grids = [each.id for each in things if each.kind == "grid" and modifier in each.fits]
    if role in _FROM_BEHIND and grids:
        table["accessories"] = grids[:1]
    has_key, under = any(light.role == "key" for light in setup.lights), USUAL[role].under_key_stops
    if role == "background":
        table["aim"] = "background"
        asked = setup.background is not None and setup.background.over_stops is not None
        return table, {} if asked else {("background", "over_stops"): 0.0}
    if under is not None and has_key:
        table["under_key_stops"] = under
    else:
        table["aim_reading_f"] = round(setup.exposure.f / 2 ** ((under or 0.0) / 2), 1)
    return table, {}


def new_panel(panel: str, place: Place) -> dict[str, Any]:
    """Return a panel that looks at the face."""
    return {"panel": panel, **place_values(place)}


def cloths_for(kit: Kit, setup: Setup) -> list[str]:
    """Return the free cloths whose size is known: the others cannot hang in the set."""
    return [name for name in free(kit, setup, "cloth") if kit.cloth[name].width_m and kit.cloth[name].height_m]


def cloth_place(setup: Setup) -> Place:
    """Return a first place for a hung cloth, its height that of the hem: between the key and the face."""
    key = next((light for light in setup.lights if light.role == "key"), None)
    return Place(_key_side(setup), key.angle_deg if key else 90, 1.0, 0.1)


def holders_for(kit: Kit, setup: Setup, part: str, table: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what can hold a new light, panel or cloth, as keys of its file, the first choice first."""
    stands = stands_for(kit, setup)
    if part == "light":
        return [{"stand": stand} for stand in stands]
    if part == "hang":
        return [*({"held_by": [*pair]} for pair in pairwise(stands)), {}]
    panel = kit.panel[table["panel"]]
    return [{}] if panel.foot_radius_m or panel.wings > 1 else [*({"held_by": stand} for stand in stands), {}]


def holder_text(part: Any) -> str:
    """``S4 and S5``: what holds a panel or a cloth."""
    held = (part.held_by,) if isinstance(part.held_by, str) else part.held_by or ()
    return " and ".join(held) or ("the building" if hasattr(part, "hem_m") else "its own feet")


def place_values(place: Place, height: str = "height_m") -> dict[str, Any]:
    """Return a place by the keys of a file; ``height`` is the key of its height."""
    return {
        "side": place.side,
        "angle_deg": float(place.angle_deg),
        "distance_m": place.distance_m,
        height: place.height_m,
    }


def place_text(place: Place, units: Units) -> str:
    """``left 45 1.5m 1.85m``: a place as it is typed."""
    tape, height = (length(metres, units).replace(" ", "") for metres in (place.distance_m, place.height_m))
    return f"{place.side} {place.angle_deg:g} {tape} {height}"


def read_place(text: str, usual: Place, units: Units) -> Place:
    """Read side, angle, tape and height; what is left out at the end is as usual. Raises ValueError."""
    joined = re.sub(r"(?<=\d)\s+(?=(?:m|cm|mm|ft|in|deg)\b)", "", text.strip().lower())
    words = re.sub(r"(?<=ft)\s+(?=[\d.]+in\b)", "", joined).split()
    if len(words) > 4:
        raise ValueError("write side, angle, distance and height, like left 45 1.4 2.0")
    readers: Sequence[tuple[str, Callable[[str], Any]]] = (
        ("side", lambda word: read_choice(word, ("left", "right"), "side")),
        ("angle_deg", lambda word: read_number(word, "deg")),
        ("distance_m", lambda word: read_length(word, units)),
        ("height_m", lambda word: read_length(word, units)),
    )
    return replace(usual, **{key: read(word) for (key, read), word in zip(readers, words, strict=False)})


# -- bags ----------------------------------------------------------------------------------------


def missing_bags(plan: Plan, setup: Setup, heirs: Iterable[str] = ()) -> Values:
    """Return the bags that the stands and panels of a setup need more, by the keys of its file, as far as there are.

    ``heirs`` are the setups that inherit them: what hangs there stays there.
    """
    rigs = rigs_of(plan.kit, setup)
    rigs = {stand: rig for stand, rig in rigs.items() if not rig.stand.is_boom or has_arm(rig)}
    bags = _free_bags(plan.kit, (setup, *(plan.setups[name] for name in heirs)))
    values: Values = {}
    bagged = {stand: rig for stand, rig in plan_bags(rigs, bags, plan.day.place).rigs.items() if rig.bags}
    for path, part in parts_of(setup).items():
        values |= _bags_of(path, part, bagged)
    hung = {bag for names in values.values() if isinstance(names, list) for bag in names}
    bags = [bag for bag in bags if bag.id not in hung]
    for panel in judge_panels(plan, setup):
        names, short_kg = list(setup.panel[panel.panel].bags), (panel.bags_needed_kg or 0.0) - panel.bags_kg
        while short_kg > 0 and bags:
            short_kg -= bags[0].mass_kg
            names.append(bags.pop(0).id)
            values["place_panel", panel.panel, "bags"] = names
    return values


def _bags_of(path: Path, part: Any, bagged: Mapping[str, Rig]) -> Values:
    """Return the bags of a part whose stands are given bags; a rail's go to its stands in turn."""
    held = getattr(part, "stand", None) or getattr(part, "held_by", None) or ()
    stands = [held] if isinstance(held, str) else [*held]
    if not any(stand in bagged for stand in stands):
        return {}
    now = part.bags_by_stand if len(stands) > 1 else (part.bags,)
    names = [
        [bag.id for bag in bagged[stand].bags] if stand in bagged else list(on)
        for stand, on in zip(stands, now, strict=False)
    ]
    values: Values = {(*path, "bags"): [bag for row in zip_longest(*names) for bag in row if bag is not None]}
    if path[0] == "light" and bagged[stands[0]].bags_at != part.bags_at:
        values[*path, "bags_at"] = bagged[stands[0]].bags_at
    return values


def _free_bags(kit: Kit, setups: Iterable[Setup]) -> list[Bag]:
    """Return the bags that hang in none of some setups."""
    hung = {bag for setup in setups for bag in setup.bags}
    return [bag for bag in kit.bags if bag.id not in hung]


def bags_text(values: Values) -> Iterator[str]:
    """Yield ``B1, B2 to A``, a text a thing."""
    yield from (f"{', '.join(bags)} to {path[1]}" for path, bags in values.items() if path[-1] == "bags")
