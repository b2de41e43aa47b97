"""What a step is called across the set, the way an assistant would say it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import lru_cache
from math import hypot
from typing import Final, NamedTuple

from runbook.changeover.floor import Aim, Floor, PanelSpot, Spot, aim_of
from runbook.changeover.steps import Step, read_power
from runbook.model.geometry import Point, Side, bearing_deg, column_at
from runbook.model.kit import Head, Kit
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import Dial, Power
from runbook.model.setup import Light, PanelPlace, Setup
from runbook.model.units import Units, length, mass
from runbook.stands.rig import far_leg_bags, rig_of
from runbook.stands.verdict_text import turn_text

_THIRDS: Final = {Fraction(1, 3): "a third of a stop", Fraction(2, 3): "two thirds of a stop"}
# A column so far from where the figures of the tape would put it has figures of its own.
_APART_M: Final = 0.1
_TURNED_DEG: Final = 5.0
_MARK: Final = Point(0.0, 0.0, 0.0)
_NO_TALENTS: Final[Mapping[str, str]] = {}
_WHOLE: Final = ("no", "one", "two", "three", "four", "five", "six", "seven")


class Scene(NamedTuple):
    """What the words are about: the kit, the setup being made (None at wrap), the units, and the
    talent who wears each look."""

    kit: Kit
    setup: Setup | None
    units: Units = "metric"
    talents: Mapping[str, str] = _NO_TALENTS


def stops_said(stops: Fraction) -> str:
    """``one stop``, ``a third of a stop``, ``1 2/3 stops``, ``0.7 stops``; the sign is not said."""
    size = abs(stops)
    if size.denominator == 1:
        many = int(size)
        word = _WHOLE[many] if many < len(_WHOLE) else str(many)
        return f"{word} stop" if many == 1 else f"{word} stops"
    if size in _THIRDS:
        return _THIRDS[size]
    if size.denominator == 3:
        return f"{int(size)} {size.numerator % 3}/3 stops"
    return f"{float(size):.1f} stops"


def power_said(head: Head, old: Power | None, new: Power) -> str:
    """``A: 1/4 to 1/8, one stop down (3 clicks)``."""
    if old is None:
        return f"{head.id}: dial {new}" if new.fires else f"{head.id}: stays off"
    return f"{head.id}: {_dialled(head.dial, old, new)}"


@lru_cache(maxsize=512)  # a day dials the same few changes over and over
def _dialled(dial: Dial, old: Power, new: Power) -> str:
    if old.below_full is None or new.below_full is None:
        return f"{old} to {new}"
    stops = old.below_full - new.below_full
    clicks = abs(dial.clicks(old, new))
    way = "up" if stops > 0 else "down"
    many = "1 click" if clicks == 1 else f"{clicks} clicks"
    return f"{old} to {new}, {stops_said(stops)} {way} ({many})"


def place_said(place: Light | PanelPlace, units: Units) -> str:
    """``camera-left 45°, 1.4 m``: the side, round the face, and the tape."""
    return f"{_way(place.side, place.angle_deg)}, {length(place.distance_m, units)}"


def place_short(place: Light | PanelPlace, units: Units) -> str:
    """``left 45°, 1.4 m``, where everybody knows whose left is meant: the camera's."""
    return place_said(place, units).removeprefix("camera-")


def _way(side: Side, angle_deg: float) -> str:
    """``camera-left 45°``: the side, and round the face."""
    if angle_deg == 0:
        return "at the camera"
    if angle_deg == 180:
        return "straight behind"
    return f"camera-{side} {angle_deg:g}°"


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def _where(step: Step, scene: Scene) -> str:
    """Where a stand or panel goes."""
    setup = scene.setup
    if setup is not None and step.kind == "panel" and step.item in setup.panel:
        place = setup.panel[step.item]
        looks = "" if place.face_to == "face" else f", looking at {place.face_to}"
        return f"{place_said(place, scene.units)}{looks}"
    light = _light_on(step.item, setup)
    if setup is None or light is None:
        return "its spot"
    spot = Spot(*(step.to[0] if step.verb == "place" else step.to))
    return _stand_where(spot, light, setup, scene)


def _stand_where(spot: Spot, light: Light, setup: Setup, scene: Scene) -> str:
    """Where a stand goes: the tape ends at the front of its load, which is not there yet.

    So its column has figures of its own where the tape's would put it elsewhere. A boom's stands
    where its arm comes from, which the plan does not say.
    """
    stand = scene.kit.stand[light.stand]
    turn = turn_text(stand.legs, light.leg_under_load, light.bags_at if light.bags else "column")
    leg = f", {turn}" if turn else ""
    way, tape = _way(light.side, light.angle_deg), length(light.distance_m, scene.units)
    if stand.is_boom:
        return f"{way}, head at {tape}{leg}"
    front, depth_m = Point(spot.x, spot.y, 0.0), scene.kit.modifier[light.modifier].depth_m
    column = column_at(front, aim_of(setup, light).bearing_deg, depth_m)
    away_m, at_deg = hypot(column.x, column.y), bearing_deg(_MARK, column)
    turned_deg = abs((at_deg - bearing_deg(_MARK, front) + 180) % 360 - 180)
    apart_m = round(abs(away_m - light.distance_m), 2)  # places are kept to the centimetre
    if apart_m < _APART_M and turned_deg < _TURNED_DEG:
        return f"{way}, {tape}{leg}"
    if turned_deg >= 1:
        tape = f"{tape}, {way.removeprefix('camera-')}"
        way = _way("right" if at_deg >= 0 else "left", abs(round(at_deg)))
    return f"{way}, column {length(away_m, scene.units)} from the mark{leg} (tape {tape})"


def _light_on(stand: str, setup: Setup | None) -> Light | None:
    lights = setup.lights if setup else ()
    return next((light for light in lights if light.stand == stand), None)


def _stand_text(step: Step, before: Floor, scene: Scene) -> str:
    item = step.item
    match step.verb:
        case "place":
            return f"{item} out to {_where(step, scene)}"
        case "strike":
            return f"{item} away, back to the wings"
        case "move":
            return f"{item} over to {_where(step, scene)}"
    at = before.stands.get(item)
    old = f"from {length(at.height_m, scene.units)} " if at else ""
    way = "up" if step.verb == "raise" else "down"
    return f"{item} {way} {old}to {length(step.to, scene.units)}"


def _fitting_text(step: Step, scene: Scene) -> str:
    on = "on" if step.verb == "fit" else "off"
    match step.kind:
        case "cloth":
            beams = _listed(str(step.on).split())
            return f"{step.item} up in front of {beams}" if on == "on" else f"{step.item} down"
        case "counterweight":
            weight = mass(scene.kit.stand[step.item].counterweight_kg, scene.units)
            return f"{weight} counterweight {on} {step.item}"
        case "head" if step.verb == "free":
            off = f" off {step.on}," if step.on else ""
            return f"{step.item}{off} {_rest(step.to)}"
        case "modifier" if step.verb == "free":
            return f"{step.item} off {step.on}"
    return f"{step.item} {on} {step.on}"


def _rest(to: str) -> str:
    return "set it down" if to == "hand" else "into its case"


def _bag_text(step: Step, scene: Scene) -> str:
    weight = mass(scene.kit.bag[step.item].mass_kg, scene.units)
    if step.verb == "unbag":
        return f"{step.item} off {step.on}"
    _, item, at = step.to
    where = f"{item}'s column" if item in scene.kit.stand and at == "column" else item
    if at == "far legs" and item in scene.kit.stand:
        where = f"{item}, {_far_leg(step.item, item, scene)}"
    return f"{step.item} ({weight}) on {where}"


def _far_leg(bag: str, stand: str, scene: Scene) -> str:
    """Which of the legs away from the load a bag hangs on."""
    light = _light_on(stand, scene.setup)
    if light is None:
        return "on a leg away from the load"
    hung = far_leg_bags(rig_of(scene.kit, light))
    if len(hung) == 1:
        return "on the leg straight away from the load"
    first = any(bag == each.id for each in hung[0])
    return f"on {'one' if first else 'the other'} of the two legs away from the load"


def _head_text(step: Step, before: Floor, scene: Scene) -> str:
    at = before.heads.get(step.item)
    match step.verb:
        case "power":
            old = at.power if at else None
            return power_said(scene.kit.head[step.item], old, read_power(step.to))
        case "aim":
            target, _, tilt = step.to
            what = f"the {target}" if target in ("face", "background") else target
            way = "level" if tilt == 0 else f"{abs(tilt)}° {'up' if tilt > 0 else 'down'}"
            return f"{step.item} at {what}, {way}"
        case "arm":
            return f"{step.item} armed: it fires from now on"
    return f"{step.item} disarmed: it cannot fire"


def _camera_text(step: Step, before: Floor, scene: Scene) -> str:
    if step.verb == "lens":
        if step.to is None:
            return "Camera: lens off, into its case"
        return f"Camera: {scene.kit.lens[step.to].focal_mm:g} mm on"
    if step.verb == "view":
        distance, height, orientation = step.to
        away, up = length(distance, scene.units), length(height, scene.units)
        return f"Camera: {away} from the face, {up} high, {orientation}"
    f, shutter, iso = step.to
    old = before.exposure
    change = ""
    if old is not None and old.f != f:
        stops = Fraction(round(3 * (aperture_stops(f) - aperture_stops(old.f))), 3)
        change = f" ({stops_said(stops)} {'smaller' if stops > 0 else 'wider'})"
    return f"Camera: f/{f:g}{change}, {shutter}, ISO {iso:g}"


def _turn_text(step: Step, before: Floor, scene: Scene) -> str:
    if step.to is None:
        return _off_text(before, scene)
    face_m, facing, background_m, *look = step.to
    looks = scene.setup.subject.looks_at if scene.setup else None
    if looks is not None:
        way = f"looking at {looks}"
    elif facing == 0:
        way = "looking at the camera"
    else:
        way = f"turned {abs(facing)}° camera-{'right' if facing > 0 else 'left'}"
    who = f"Bring {_talent(look[0] if look else None, scene)} to the mark"
    if before.subject is not None:
        who = "Face"
    behind = "" if background_m is None else f", background {length(background_m, scene.units)} behind"
    return f"{who}: {way}, face {length(face_m, scene.units)} up{behind}"


def _off_text(before: Floor, scene: Scene) -> str:
    """Return who leaves the set, and why where the same person comes back in another look."""
    look = before.subject.look if before.subject else None
    who, goal = _talent(look, scene), scene.setup.look if scene.setup else None
    again = goal is not None and look is not None and goal != look and goal in scene.talents
    if again and scene.talents[str(goal)] == scene.talents.get(str(look)):
        return f"Send {who} off set, to change into the look {goal}"
    return f"Send {who} off set"


def _talent(look: str | None, scene: Scene) -> str:
    return scene.talents.get(look or "", "the talent")


def _panel_text(step: Step, before: Floor, scene: Scene) -> str:
    *spot, _, tilt = PanelSpot(*step.to)
    *old, _, _ = before.panels.get(step.item, PanelSpot(0.0, 0.0, -1.0, 0))
    tilted = f", tilted {abs(tilt)}° {'up' if tilt > 0 else 'down'}" if tilt else ""
    if spot == old:
        panel = scene.setup.panel.get(step.item) if scene.setup else None
        target = "the face" if panel is None or panel.face_to == "face" else panel.face_to
        return f"{step.item} turned to look at {target}{tilted}"
    way = "out" if step.verb == "place" else "over"
    return f"{step.item} {way} to {_where(step, scene)}{tilted}"


def text_of(step: Step, before: Floor, scene: Scene) -> str:
    """One step in words; ``before`` is the floor it is done on."""
    match step.kind:
        case "stand":
            text = _stand_text(step, before, scene)
        case "panel" if step.verb == "strike":
            text = f"{step.item} away, back to the wings"
        case "panel":
            text = _panel_text(step, before, scene)
        case "bag":
            text = _bag_text(step, scene)
        case "camera":
            text = _camera_text(step, before, scene)
        case "subject":
            text = _turn_text(step, before, scene)
        case "set":
            text = "One pop: the meter against the plan, then a look at the frame"
        case "head" if step.verb not in ("fit", "free"):
            text = _head_text(step, before, scene)
        case _:
            text = _fitting_text(step, scene)
    return text


def retape_said(step: Step, start: Floor, goal: Floor, scene: Scene) -> str:
    """What a step on the load asks of a stand that keeps its place; else nothing.

    A place is where the front of the load is. With a deeper or flatter modifier the column behind
    it goes back or in by what the depths differ; with another aim it goes round. A boom's arm gives
    way instead.
    """
    head = step.item if step.verb == "aim" else str(step.on)
    light = scene.setup.light.get(head) if scene.setup else None
    if scene.setup is None or light is None or scene.kit.stand[light.stand].is_boom:
        return ""
    before, after = start.stands.get(light.stand), goal.stands.get(light.stand)
    was = start.head_on(light.stand)
    stays = before is not None and after is not None and before.spot == after.spot
    if was is None or not stays:
        return ""
    if step.verb == "aim":
        return _turned_said(light, start.heads[was].aim, scene.setup, scene)
    return _deeper_said(step, light, start.modifier_on(was), scene) if step.kind == "modifier" else ""


def _turned_said(light: Light, was: Aim | None, setup: Setup, scene: Scene) -> str:
    """Where the column goes when what it carries points elsewhere over the same front."""
    if was is None:
        return ""
    front = light.point(setup.subject.face_height_m)
    depth_m = scene.kit.modifier[light.modifier].depth_m
    old = column_at(front, was.bearing_deg, depth_m)
    new = column_at(front, aim_of(setup, light).bearing_deg, depth_m)
    if hypot(new.x - old.x, new.y - old.y) < _APART_M:
        return ""
    at = Spot(front.x, front.y, light.leg_under_load)
    return f"; then {light.stand} round to {_stand_where(at, light, setup, scene)}"


def _deeper_said(step: Step, light: Light, was: str | None, scene: Scene) -> str:
    """Said of what is fitted, or comes off a head that goes on bare: the load is in reach then."""
    bare = scene.kit.modifier[light.modifier].is_nothing
    if (step.verb, step.item) != (("free", step.item) if bare else ("fit", light.modifier)):
        return ""
    deeper_m = _depth_m(light.modifier, scene.kit) - _depth_m(was, scene.kit)
    if abs(deeper_m) < _APART_M:
        return ""
    way = "back" if deeper_m > 0 else "in"
    by, tape = (length(metres, scene.units) for metres in (abs(deeper_m), light.distance_m))
    return f"; then {light.stand} {way} {by}: tape {tape} to its front again"


def _depth_m(modifier: str | None, kit: Kit) -> float:
    """How deep a modifier is; nothing where the head is bare or the kit holds it no more."""
    known = kit.modifier.get(modifier or "")
    return known.depth_m if known else 0.0


class Block(NamedTuple):
    """Steps of one thing that follow each other, told as one."""

    thing: str
    title: str
    steps: tuple[Step, ...]


def blocks(steps: Iterable[Step], scene: Scene) -> tuple[Block, ...]:
    """Fold steps that follow each other and belong to one thing."""
    folded: list[list[Step]] = []
    for step in steps:
        if folded and folded[-1][0].thing == step.thing:
            folded[-1].append(step)
        else:
            folded.append([step])
    return tuple(Block(group[0].thing, _title(group, scene), tuple(group)) for group in folded)


# What a crew does not say when it names a block: it is done with the rest.
_UNSAID: Final = frozenset({"aim", "arm", "disarm"})


def _title(steps: list[Step], scene: Scene) -> str:
    """A block in one breath: what comes on or off, where, how high, at what power."""
    thing = steps[0].thing
    if len(steps) == 1:
        return steps[0].text
    ends_up = any(step.verb in ("raise", "strike") for step in steps)
    said = [
        brief
        for step in sorted(steps, key=lambda step: _TOLD.get(step.verb, 0))
        if step.verb not in _UNSAID and not (step.verb == "lower" and ends_up)
        for brief in (_brief(step, scene),)
        if brief
    ]
    label = "Camera" if thing == "camera" else thing
    return f"{label}: {', '.join(said or [step.verb for step in steps])}"


_TOLD: Final = {"place": 1, "move": 1, "raise": 2, "lower": 2, "power": 3, "bag": 4, "strike": 5}


def _brief(step: Step, scene: Scene) -> str:
    """A step as part of its thing's title; empty where the rest tells it."""
    match step.verb, step.kind:
        case (("place" | "move"), _):
            said = _short_place(step, scene)
        case "strike", _:
            said = f"{step.item} away"
        case (("raise" | "lower"), _):
            way = "up" if step.verb == "raise" else "down"
            said = f"{way} to {length(step.to, scene.units)}"
        case "power", _:
            said = str(read_power(step.to))
        case "fit", "head":
            said = f"on {step.on}"
        case "free", "head":
            said = f"off {step.on}" if step.on else _rest(step.to)
        case (("fit" | "free"), "counterweight"):
            said = "counterweight" if step.verb == "fit" else ""
        case (("fit" | "bag"), _):
            said = step.item
        case (("free" | "unbag"), "bag" | "accessory"):
            said = ""
        case "free", _:
            said = f"{step.item} off"
        case _:
            said = step.text.removeprefix("Camera: ")
    return said


def _short_place(step: Step, scene: Scene) -> str:
    setup = scene.setup
    place: Light | PanelPlace | None = _light_on(step.item, setup)
    if step.kind == "panel":
        place = setup.panel.get(step.item) if setup else None
    where = place_short(place, scene.units) if place else "its spot"
    return where if step.verb == "place" else f"over to {where}"
