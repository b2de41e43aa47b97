"""The wording of a step: an instruction that can be carried out without looking elsewhere; and of a block of steps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from math import hypot
from typing import Final

from runbook.changeover.floor import (
    Aim,
    CameraView,
    ClothSpot,
    Floor,
    Hung,
    Load,
    PanelOn,
    PanelSpot,
    Spot,
    StandAt,
    SubjectAt,
    aim_of,
)
from runbook.changeover.room import column_of
from runbook.changeover.steps import Step
from runbook.model.geometry import Point, Side, bearing_deg, column_at
from runbook.model.kit import Kit
from runbook.model.nominal_values import aperture_stops
from runbook.model.panels import stance_of
from runbook.model.power import Dial, Power
from runbook.model.setup import Exposure, HungCloth, Light, PanelPlace, Setup
from runbook.model.units import Units, length, mass
from runbook.stands.statics import far_leg_bags, rig_of
from runbook.stands.verdict_text import turn_text

# A column that differs by so much from the figures of the tape gets figures of its own.
_APART_M: Final = 0.1
_TURNED_DEG: Final = 5.0
_MARK: Final = Point(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Scene:
    """What the wording needs: the kit, the setup being made (None at wrap), units, and the talent in each look.

    ``people`` is how many the crew is.
    """

    kit: Kit
    setup: Setup | None
    units: Units = "metric"
    talents: Mapping[str, str] = field(default_factory=dict)
    people: int = 6

    def light_on(self, stand: str) -> Light | None:
        """Return the light that the setup puts on a stand."""
        lights = self.setup.lights if self.setup else ()
        return next((light for light in lights if light.stand == stand), None)

    def load_on(self, stand: str) -> Light | PanelPlace | None:
        """Return the light or the panel that the setup puts on a stand."""
        panels = self.setup.panels if self.setup else ()
        return self.light_on(stand) or next((place for place in panels if place.held_by == stand), None)

    def panel(self, name: str) -> PanelPlace | None:
        """Return where the setup puts a panel."""
        return self.setup.panel.get(name) if self.setup else None

    def talent(self, look: str | None) -> str:
        """Return who wears a look, or ``the talent``."""
        return self.talents.get(look or "", "the talent")

    def length(self, metres: float) -> str:
        """Return a length in the day's units."""
        return length(metres, self.units)


# --- stops, powers and places


def stops_text(stops: Fraction) -> str:
    """Return a number of stops without its sign: ``1 stop``, ``1/3 stop``, ``1 2/3 stops``, ``0.7 stops``."""
    whole, rest = divmod(abs(stops), 1)
    if not rest:
        size = str(whole)
    elif rest.denominator == 3:
        size = f"{whole} {rest}" if whole else str(rest)
    else:
        size = f"{float(abs(stops)):.1f}"
    return f"{size} stop" if abs(stops) == 1 or (not whole and rest.denominator == 3) else f"{size} stops"


@lru_cache(maxsize=512)  # the same few changes come again and again over a day
def change_text(dial: Dial, old: Power | None, new: Power) -> str:
    """Return by how much a power changes, in brackets; empty where one of the two is off."""
    if old is None or old.below_full is None or new.below_full is None:
        return ""
    stops, clicks = old.below_full - new.below_full, abs(dial.clicks(old, new))
    return f" ({stops_text(stops)}, {clicks} click{'s' if clicks != 1 else ''} {'up' if stops > 0 else 'down'})"


def short_place_text(place: Light | PanelPlace | HungCloth, units: Units) -> str:
    """Return a place for a table, where the side is always the camera's: ``left 45°, 1.4 m``."""
    where = {0.0: "camera axis", 180.0: "directly behind"}.get(place.angle_deg, f"{place.side} {place.angle_deg:g}°")
    return f"{where}, {length(place.distance_m, units)}"


def _direction(side: Side, angle_deg: float) -> str:
    named = {0.0: "the camera axis", 180.0: "directly behind the subject"}
    return named.get(angle_deg, f"camera-{side} {angle_deg:g}°")


def _tilt_text(tilt_deg: int) -> str:
    return f"{abs(tilt_deg)}° {'up' if tilt_deg > 0 else 'down'}"


def _moved_text(step: Step, where: str) -> str:
    """Return that a thing is placed at, or moved to, where it belongs."""
    if step.verb == "move":
        return f"Move {step.item} to {where}"
    return f"Place {step.item} {where if where.startswith('directly') else f'at {where}'}"


# --- stands and panels


def _stand_text(step: Step, _: Floor, scene: Scene) -> str:
    spot = step.to.spot if isinstance(step.to, StandAt) else step.to
    if not isinstance(spot, Spot):
        return _moved_text(step, "its place")
    if scene.setup is None or scene.load_on(step.item) is None:
        way, away = _way_to(Point(spot.x, spot.y, 0.0)), scene.length(hypot(spot.x, spot.y))
        return _moved_text(step, f"{way}, column {away} from the mark")
    return _moved_text(step, _stand_place(step.item, spot, scene.setup, scene))


def _stand_place(name: str, spot: Spot, setup: Setup, scene: Scene) -> str:
    """Return where a stand goes: by the tape, which ends at the front of its load.

    Where its column is elsewhere it has figures of its own. A boom stands where its arm comes
    from, which the plan does not give.
    """
    stand, load = scene.kit.stand[name], scene.load_on(name)
    assert load is not None
    leg, bearing, depth_m = "", 0.0, 0.0
    if isinstance(load, Light):
        turn = turn_text(stand.legs, load.leg_under_load, load.bags_at if load.bags else "column")
        leg = f", {turn}" if turn else ""
        bearing, depth_m = aim_of(setup, load).bearing_deg, scene.kit.modifier[load.modifier].depth_m
    else:
        bearing = stance_of(scene.kit.panel.get(load.panel), load, setup).bearing_deg
    way, tape = _direction(load.side, load.angle_deg), scene.length(load.distance_m)
    if stand.is_boom:
        return f"{way}, {'head' if isinstance(load, Light) else 'panel'} at {tape}{leg}"
    front = Point(spot.x, spot.y, 0.0)
    column = column_at(front, bearing, depth_m)
    away_m, at_deg = hypot(column.x, column.y), bearing_deg(_MARK, column)
    turned_deg = abs((at_deg - bearing_deg(_MARK, front) + 180) % 360 - 180)
    apart_m = round(abs(away_m - load.distance_m), 2)  # places are kept to the centimetre
    if apart_m < _APART_M and turned_deg < _TURNED_DEG:
        return f"{way}, {tape}{leg}"
    if turned_deg >= 1:
        tape = f"{tape}, {way.removeprefix('camera-')}"
        way = _way_to(column)
    return f"{way}, column {scene.length(away_m)} from the mark{leg} (tape {tape})"


def _way_to(point: Point) -> str:
    """Return the direction from the mark to a point, as the camera sees it."""
    at_deg = round(bearing_deg(_MARK, point))
    return _direction("right" if at_deg >= 0 else "left", abs(at_deg))


def _height_text(step: Step, _: Floor, scene: Scene) -> str:
    return f"{step.verb.capitalize()} {step.item} to {_height(step, scene)}"


def _height(step: Step, scene: Scene) -> str:
    return scene.length(step.to) if isinstance(step.to, float | int) else ""


def _panel_text(step: Step, before: Floor, scene: Scene) -> str:
    place, at, old = scene.panel(step.item), step.to, before.panels.get(step.item)
    if isinstance(at, PanelOn):
        action = f"Fit {step.item} on" if step.verb == "fit" else f"Turn {step.item} on"
        return ", ".join(filter(None, (f"{action} {at.stand}", _faces_text(place), panel_text(place, at))))
    if not isinstance(at, PanelSpot):
        return _moved_text(step, "its place")
    if isinstance(old, PanelSpot) and (at.x, at.y, at.height_m) == (old.x, old.y, old.height_m):
        opened = f"Open {step.item} to {at.open_deg}°" if at.open_deg else f"Close {step.item}"
        if (at.bearing_deg, at.tilt_deg) == (old.bearing_deg, old.tilt_deg):
            return opened
        turn = f"to catch {place.catches}" if place is not None and place.catches else f"to face {_faced(place)}"
        return ", ".join(filter(None, (f"Turn {step.item} {turn}", panel_text(None, at))))
    where = f"{_direction(place.side, place.angle_deg)}, {scene.length(place.distance_m)}" if place else "its place"
    if at.by:
        moved = f"{at.by}: take {step.item} and hold it at {where}, its middle {scene.length(at.height_m)} up"
        return ", ".join(filter(None, (moved, _faces_text(place), panel_text(place, at))))
    return ", ".join(filter(None, (_moved_text(step, where), panel_text(place, at))))


def _faced(place: PanelPlace | None) -> str:
    return "the subject" if place is None or place.face_to == "face" else place.face_to


def _faces_text(place: PanelPlace | None) -> str:
    """Return that a held panel faces the subject; empty where ``panel_text`` says what it looks at."""
    return "facing the subject" if place is not None and place.face_to == "face" and place.catches is None else ""


def _panel_off_text(step: Step, _: Floor, __: Scene) -> str:
    return f"{step.on}: put {step.item} down off set" if step.on else f"Take {step.item} off set"


def holder_text(place: PanelPlace, kit: Kit) -> str:
    """Return what holds a panel: ``on S4`` or ``held by first``; empty where it stands by itself."""
    return f"{'on' if place.held_by in kit.stand else 'held by'} {place.held_by}" if place.held_by else ""


def panel_text(place: PanelPlace | None, at: PanelSpot | PanelOn) -> str:
    """Return how a panel stands at its place: what it faces or catches, how far it is open and tilted."""
    looks = f"facing {place.face_to}" if place is not None and place.face_to != "face" else ""
    if place is not None and place.catches is not None:
        looks = f"catching {place.catches}"
    opened = "" if at.open_deg is None else f"open to {at.open_deg}°" if at.open_deg else "closed"
    tilted = f"tilted {_tilt_text(at.tilt_deg)}" if at.tilt_deg else ""
    return ", ".join(filter(None, (looks, opened, tilted)))


# --- what goes on and off


def _free_head_text(step: Step, _: Floor, __: Scene) -> str:
    if not step.on:
        return f"Put {step.item} in its case"
    return f"Take {step.item} off {step.on} and {'set it down' if step.to == 'hand' else 'put it in its case'}"


def _names(joined: str | None) -> str:
    *most, last = str(joined).split()
    return f"{', '.join(most)} and {last}" if most else last


def _hang_text(step: Step, _: Floor, scene: Scene) -> str:
    """Return where a cloth goes up: from the building, or on a rail that its stands hold low."""
    hung = scene.setup.hung.get(step.item) if scene.setup else None
    where = f"at {_direction(hung.side, hung.angle_deg)}, {scene.length(hung.distance_m)}" if hung else "in its place"
    where = where.replace("at directly", "directly")
    if not isinstance(step.to, ClothSpot):
        return f"Hang {step.item} {where}"
    if step.on:
        return f"Hang {step.item} on its rail between {_names(step.on)}{cloth_text(hung)}"
    return f"Hang {step.item} {where}, its rail at {scene.length(step.to.rail_m)}{cloth_text(hung)}"


def cloth_text(hung: HungCloth | None) -> str:
    """Return what a cloth is turned to, to follow its place; empty where that is the subject."""
    return f", facing {hung.face_to}" if hung is not None and hung.face_to != "face" else ""


def _cloth_text(step: Step, _: Floor, __: Scene) -> str:
    return f"Hang {step.item} in front of {_names(step.on)}"


def _rail_text(step: Step, _: Floor, scene: Scene) -> str:
    verb = "Raise" if step.verb == "raise" else "Lower"
    return f"{verb} {_names(step.on)} together to {_height(step, scene)}, the rail of {step.item} level"


def _counterweight_text(step: Step, _: Floor, scene: Scene) -> str:
    weight = mass(scene.kit.stand[step.item].counterweight_kg, scene.units)
    action, where = ("Fit", "on") if step.verb == "fit" else ("Take", "off")
    return f"{action} the {weight} counterweight {where} {step.item}"


def _bag_text(step: Step, _: Floor, scene: Scene) -> str:
    far = isinstance(step.to, Hung) and step.to.at == "far legs" and step.to.kind == "stand"
    where = f", {_far_leg(step.item, str(step.on), scene)}" if far else ""
    return f"Hang {step.item} ({mass(scene.kit.bag[step.item].mass_kg, scene.units)}) on {step.on}{where}"


def _far_leg(bag: str, stand: str, scene: Scene) -> str:
    """Return which of the legs away from the load a bag hangs on."""
    light = scene.light_on(stand)
    if light is None:
        return "on a leg away from the load"
    legs = far_leg_bags(rig_of(scene.kit, light))
    if len(legs) == 1:
        return "on the leg straight away from the load"
    first = any(bag == hung.id for hung in legs[0])
    return f"on {'one' if first else 'the other'} of the two legs away from the load"


# --- heads, camera and talent


def _power_text(step: Step, before: Floor, scene: Scene) -> str:
    head, at, new = scene.kit.head[step.item], before.heads.get(step.item), step.to
    old = at.power if at else None
    if not isinstance(new, Power) or not new.fires:
        return f"Leave {head.id} off" if old is None or not old.fires else f"Set {head.id} to off"
    change = change_text(head.dial, old, new)
    if change:
        return f"Set {head.id} from {old} to {new}{change}"
    return f"Set {head.id} to {new}" + (f" (was {old})" if old else "")


def _aim_text(step: Step, _: Floor, scene: Scene) -> str:
    if not isinstance(step.to, Aim):
        return f"Aim {step.item}"
    target = f"the {step.to.target}" if step.to.target in ("face", "background") else step.to.target
    panel = scene.panel(step.to.target)
    if panel is not None and panel.held_by and panel.held_by not in scene.kit.stand:  # it is taken in hand last
        where = f"{_direction(panel.side, panel.angle_deg)}, {scene.length(panel.distance_m)}"
        target = f"where {panel.held_by} is to hold {target} ({where})"
    tilt = _tilt_text(step.to.tilt_deg) if step.to.tilt_deg else "level"
    feather = f", then turn it {step.to.feather}" if step.to.feather else ""
    return f"Aim {step.item} at {target}, {tilt}{feather}"


def _camera_text(step: Step, before: Floor, scene: Scene) -> str:
    match step.to:
        case str(lens):
            return f"Camera: fit the {scene.kit.lens[lens].focal_mm:g} mm lens"
        case CameraView(distance_m, height_m, orientation):
            away, up = scene.length(distance_m), scene.length(height_m)
            return f"Camera: move to {away} from the face, {up} high, {orientation}"
        case Exposure(f, shutter, iso):
            change, old = "", before.exposure
            if old is not None and old.f != f:
                stops = Fraction(round(3 * (aperture_stops(f) - aperture_stops(old.f))), 3)
                change = f" ({stops_text(stops)} {'smaller' if stops > 0 else 'wider'})"
            return f"Camera: set f/{f:g}{change}, {shutter}, ISO {iso:g}"
    return "Camera: take the lens off and put it in its case"


def _subject_text(step: Step, before: Floor, scene: Scene) -> str:
    setup, at = scene.setup, step.to
    if not isinstance(at, SubjectAt):
        old, new = before.subject.look if before.subject else None, setup.look if setup else None
        both = old is not None and new is not None and old != new
        changes = both and scene.talents.get(str(old), "") == scene.talents.get(str(new))
        return f"Send {scene.talent(old)} off set{f' to change into the look {new}' if changes else ''}"
    looks_at = setup.subject.looks_at if setup else None
    if looks_at is not None or at.facing_deg == 0:
        way = f"looking at {looks_at or 'the camera'}"
    else:
        way = f"turned {abs(at.facing_deg)}° camera-{'right' if at.facing_deg > 0 else 'left'}"
    who = scene.talent(at.look)
    begin = f"Bring {who} to the mark, {way}" if before.subject is None else f"Pose {who}: {way}"
    behind = "" if at.background_m is None else f", background {scene.length(at.background_m)} behind"
    return f"{begin}, face at {scene.length(at.face_height_m)}{behind}"


_TEXTS: Final[dict[tuple[str, str], str | Callable[[Step, Floor, Scene], str]]] = {
    **dict.fromkeys((("place", "stand"), ("move", "stand")), _stand_text),
    **dict.fromkeys((("raise", "stand"), ("lower", "stand")), _height_text),
    **dict.fromkeys(((verb, "panel") for verb in ("place", "move", "fit", "aim")), _panel_text),
    ("strike", "stand"): "Take {item} off set",
    ("strike", "panel"): _panel_off_text,
    ("free", "panel"): "Take {item} off {on}",
    **dict.fromkeys((("fit", "head"), ("fit", "modifier"), ("fit", "accessory")), "Fit {item} on {on}"),
    **dict.fromkeys((("free", "modifier"), ("free", "accessory"), ("unbag", "bag")), "Take {item} off {on}"),
    **dict.fromkeys((("fit", "counterweight"), ("free", "counterweight")), _counterweight_text),
    **dict.fromkeys((("lens", "camera"), ("view", "camera"), ("expose", "camera")), _camera_text),
    ("free", "head"): _free_head_text,
    ("fit", "cloth"): _cloth_text,
    **dict.fromkeys((("free", "cloth"), ("strike", "cloth")), "Take {item} down"),
    ("place", "cloth"): _hang_text,
    **dict.fromkeys((("raise", "cloth"), ("lower", "cloth")), _rail_text),
    ("fit", "rail"): "Put one end of the rail of {on} on {item}",
    ("free", "rail"): "Take the rail of {on} off {item}",
    ("bag", "bag"): _bag_text,
    ("aim", "head"): _aim_text,
    ("power", "head"): _power_text,
    ("arm", "head"): "Switch {item} on: it will fire",
    ("disarm", "head"): "Switch {item} off",
    ("turn", "subject"): _subject_text,
    ("test", "set"): "Test flash: meter, then check the frame",
}


def step_text(step: Step, before: Floor, scene: Scene) -> str:
    """Return the wording of a step; ``before`` is the floor it is done on."""
    text = _TEXTS[step.verb, step.kind]
    return text.format(item=step.item, on=step.on) if isinstance(text, str) else text(step, before, scene)


# --- the column of a stand that keeps its place


def column_move_text(step: Step, start: Floor, goal: Floor, scene: Scene) -> str:
    """Return where the column goes after a step on the load of a stand that keeps its place; empty where it stays.

    A place is where the front of the load is. With a deeper or flatter modifier, or another aim, the
    column behind it moves. A boom's arm gives way instead.
    """
    if step.verb != "aim" and step.kind not in ("modifier", "panel"):
        return ""
    item = str(step.on) if step.kind == "modifier" else step.item
    stand = next((stand for stand, (_, on) in goal.loads().items() if on == item), "")
    before, after, old = start.stands.get(stand), goal.stands.get(stand), start.load_on(stand)
    if scene.setup is None or old is None or before is None or after is None or before.spot != after.spot:
        return ""
    if scene.kit.stand[stand].is_boom or step.key[:2] != _last_turn(old, item, start, scene.setup):
        return ""
    from_m, to_m = (column_of(floor, stand, scene.kit) for floor in (start, goal))
    if hypot(to_m.x - from_m.x, to_m.y - from_m.y) < _APART_M:
        return ""
    return f"; then move {stand} to {_stand_place(stand, after.spot, scene.setup, scene)}"


def _last_turn(old: Load, item: str, start: Floor, setup: Setup) -> tuple[str, str]:
    """Return the step after which a stand's new load is as it will be: its aim, or its modifier where that stays."""
    light = setup.light.get(item)
    if light is None:
        return ("aim" if old == ("panel", item) else "fit", "panel")
    was = start.heads[old[1]].aim if old[0] == "head" else start.panels[old[1]]
    if was is None:  # nobody knows where its column is
        return "", ""
    if was != aim_of(setup, light):
        return "aim", "head"
    return "free" if light.modifier == "bare" else "fit", "modifier"


# --- blocks


@dataclass(frozen=True, slots=True)
class Block:
    """Steps of one thing that follow each other, with a title that sums them up."""

    thing: str
    title: str
    steps: tuple[Step, ...]


# Left out of a title, unless the block has nothing else.
_MINOR: Final = {"aim": "aim", "arm": "switch on", "disarm": "switch off"}
_LATER: Final = {"place": 1, "move": 1, "raise": 2, "lower": 2, "power": 3, "bag": 4, "strike": 5}
# A step's part of a title, by verb and kind or by verb; empty where the rest implies it.
_PARTS: Final[dict[tuple[str, str] | str, str]] = {
    "place": "{place}",
    "move": "to {place}",
    "raise": "up to {height}",
    "lower": "down to {height}",
    "strike": "{item} off set",
    ("strike", "cloth"): "down",
    "power": "{to}",
    ("fit", "head"): "on {on}",
    ("fit", "panel"): "on {on}",
    ("free", "panel"): "off {on}",
    ("fit", "counterweight"): "counterweight",
    "fit": "{item}",
    "bag": "{item}",
    ("free", "head"): "off {on}",
    ("free", "counterweight"): "",
    ("fit", "rail"): "",
    ("free", "rail"): "",
    ("free", "accessory"): "",
    "free": "{item} off",
    "unbag": "",
}


def blocks(steps: Iterable[Step], scene: Scene) -> tuple[Block, ...]:
    """Fold steps that follow each other and belong to one thing."""
    groups = ((thing, tuple(group)) for thing, group in groupby(steps, key=lambda step: step.thing))
    return tuple(Block(thing, _title(group, scene), group) for thing, group in groups)


def _title(steps: Sequence[Step], scene: Scene) -> str:
    """Return what comes on or off, where, how high and at what power; of one step, its text."""
    if len(steps) == 1:
        return steps[0].text
    ends_up = any(step.verb in ("raise", "strike") for step in steps)
    parts = [
        _part(step, scene)
        for step in sorted(steps, key=lambda step: _LATER.get(step.verb, 0))
        if step.verb not in _MINOR and not (step.verb == "lower" and ends_up)
    ]
    rest = [_MINOR.get(step.verb, step.text[:1].lower() + step.text[1:]) for step in steps]
    label = "Camera" if steps[0].thing == "camera" else steps[0].thing
    return f"{label}: {', '.join(filter(None, parts)) or ', '.join(rest)}"


def _part(step: Step, scene: Scene) -> str:
    text = _PARTS.get((step.verb, step.kind), _PARTS.get(step.verb))
    if text is None:
        return step.text.removeprefix("Camera: ")
    place: Light | PanelPlace | HungCloth | None = scene.load_on(step.item)
    if step.kind == "panel":
        place = scene.panel(step.item)
    elif step.kind == "cloth":
        place = scene.setup.hung.get(step.item) if scene.setup else None
    elif step.kind == "stand" and place is None and step.verb in ("place", "move") and step.thing != step.item:
        return ""  # at an end of the rail that the block is about
    where = short_place_text(place, scene.units) if place else "its place"
    if isinstance(place, PanelPlace) and isinstance(step.to, PanelSpot):
        where = ", ".join(filter(None, (where, panel_text(place, step.to))))
    on = step.on or "a hand"
    return text.format(item=step.item, on=on, to=step.to, place=where, height=_height(step, scene))
