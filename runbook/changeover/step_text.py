"""The wording of a step: an instruction that can be carried out without looking elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import hypot
from typing import Final

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

# A column that differs by so much from the figures of the tape gets figures of its own.
_APART_M: Final = 0.1
_TURNED_DEG: Final = 5.0
_MARK: Final = Point(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Scene:
    """What the wording needs: the kit, the setup being made (None at wrap), units, and the talent in each look."""

    kit: Kit
    setup: Setup | None
    units: Units = "metric"
    talents: Mapping[str, str] = field(default_factory=dict)

    def light_on(self, stand: str) -> Light | None:
        """Return the light that the setup puts on a stand."""
        lights = self.setup.lights if self.setup else ()
        return next((light for light in lights if light.stand == stand), None)

    def talent(self, look: str | None) -> str:
        """Return who wears a look, or ``the talent``."""
        return self.talents.get(look or "", "the talent")


def step_text(step: Step, before: Floor, scene: Scene) -> str:
    """Return the wording of a step; ``before`` is the floor it is done on."""
    match step.kind:
        case "stand":
            text = _stand_text(step, scene)
        case "panel":
            text = _panel_text(step, before, scene)
        case "bag":
            text = _bag_text(step, scene)
        case "camera":
            text = _camera_text(step, before, scene)
        case "subject":
            text = _subject_text(step, before, scene)
        case "set":
            text = "Test flash: meter, then check the frame"
        case "head" if step.verb not in ("fit", "free"):
            text = _head_text(step, before, scene)
        case _:
            text = _fitting_text(step, scene)
    return text


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


def power_change_text(head: Head, old: Power | None, new: Power) -> str:
    """Return a change of power, for a list: ``A: 1/4 to 1/8, 1 stop down (3 clicks)``."""
    if old is None:
        return f"{head.id}: {new}"
    return f"{head.id}: {_dial_change(head.dial, old, new)}"


@lru_cache(maxsize=512)  # the same few changes come again and again over a day
def _dial_change(dial: Dial, old: Power, new: Power) -> str:
    if old.below_full is None or new.below_full is None:
        return f"{old} to {new}"
    stops = old.below_full - new.below_full
    return f"{old} to {new}, {stops_text(stops)} {'up' if stops > 0 else 'down'} ({_clicks(dial, old, new)})"


def _clicks(dial: Dial, old: Power, new: Power) -> str:
    clicks = abs(dial.clicks(old, new))
    return "1 click" if clicks == 1 else f"{clicks} clicks"


def place_text(place: Light | PanelPlace, units: Units) -> str:
    """Return a place as side, angle and tape: ``camera-left 45°, 1.4 m``."""
    return f"{_direction(place.side, place.angle_deg)}, {length(place.distance_m, units)}"


def short_place_text(place: Light | PanelPlace, units: Units) -> str:
    """Return a place for a table, where the side is always the camera's: ``left 45°, 1.4 m``."""
    where = "camera axis" if place.angle_deg == 0 else "directly behind"
    if place.angle_deg not in (0, 180):
        where = f"{place.side} {place.angle_deg:g}°"
    return f"{where}, {length(place.distance_m, units)}"


def _direction(side: Side, angle_deg: float) -> str:
    if angle_deg == 0:
        return "the camera axis"
    if angle_deg == 180:
        return "directly behind the subject"
    return f"camera-{side} {angle_deg:g}°"


def _tilt_text(tilt_deg: int) -> str:
    return f"{abs(tilt_deg)}° {'up' if tilt_deg > 0 else 'down'}"


# --- stands and panels


def _stand_text(step: Step, scene: Scene) -> str:
    match step.verb:
        case "strike":
            return f"Take {step.item} off set"
        case "raise" | "lower":
            return f"{step.verb.capitalize()} {step.item} to {length(step.to, scene.units)}"
    light = scene.light_on(step.item)
    if scene.setup is None or light is None:
        return f"Move {step.item} to its place"
    spot = Spot(*(step.to[0] if step.verb == "place" else step.to))
    return f"Move {step.item} to {_stand_place(spot, light, scene.setup, scene)}"


def _stand_place(spot: Spot, light: Light, setup: Setup, scene: Scene) -> str:
    """Return where a stand goes: by the tape, which ends at the front of its load.

    Where its column is elsewhere it has figures of its own. A boom stands where its arm comes
    from, which the plan does not give.
    """
    stand = scene.kit.stand[light.stand]
    turn = turn_text(stand.legs, light.leg_under_load, light.bags_at if light.bags else "column")
    leg = f", {turn}" if turn else ""
    way, tape = _direction(light.side, light.angle_deg), length(light.distance_m, scene.units)
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
        way = _direction("right" if at_deg >= 0 else "left", abs(round(at_deg)))
    return f"{way}, column {length(away_m, scene.units)} from the mark{leg} (tape {tape})"


def _panel_text(step: Step, before: Floor, scene: Scene) -> str:
    if step.verb == "strike":
        return f"Take {step.item} off set"
    place = scene.setup.panel.get(step.item) if scene.setup else None
    facing = "the subject" if place is None or place.face_to == "face" else place.face_to
    *spot, _, tilt = PanelSpot(*step.to)
    *old, _, _ = before.panels.get(step.item, PanelSpot(0.0, 0.0, -1.0, 0))
    tilted = f", tilted {_tilt_text(tilt)}" if tilt else ""
    if spot == old:
        return f"Turn {step.item} to face {facing}{tilted}"
    where = place_text(place, scene.units) if place else "its place"
    looks = "" if facing == "the subject" else f", facing {facing}"
    return f"Move {step.item} to {where}{looks}{tilted}"


# --- what goes on and off


def _fitting_text(step: Step, scene: Scene) -> str:
    fits, item = step.verb == "fit", step.item
    match step.kind:
        case "cloth":
            return f"Hang {item} in front of {_names(str(step.on).split())}" if fits else f"Take {item} down"
        case "counterweight":
            weight = mass(scene.kit.stand[item].counterweight_kg, scene.units)
            return (
                f"Fit the {weight} counterweight on {item}" if fits else f"Take the {weight} counterweight off {item}"
            )
        case "head" if not fits and not step.on:
            return f"Put {item} in its case"
        case "head" if not fits:
            then = "set it down" if step.to == "hand" else "put it in its case"
            return f"Take {item} off {step.on} and {then}"
    return f"Fit {item} on {step.on}" if fits else f"Take {item} off {step.on}"


def _bag_text(step: Step, scene: Scene) -> str:
    if step.verb == "unbag":
        return f"Take {step.item} off {step.on}"
    _, item, at = step.to
    where = f", {_far_leg(step.item, item, scene)}" if at == "far legs" and item in scene.kit.stand else ""
    return f"Hang {step.item} ({mass(scene.kit.bag[step.item].mass_kg, scene.units)}) on {item}{where}"


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


def _names(names: Sequence[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


# --- heads, camera and subject


def _head_text(step: Step, before: Floor, scene: Scene) -> str:
    match step.verb:
        case "power":
            at = before.heads.get(step.item)
            return _power_text(scene.kit.head[step.item], at.power if at else None, read_power(step.to))
        case "aim":
            target, _, tilt = step.to
            what = f"the {target}" if target in ("face", "background") else target
            return f"Aim {step.item} at {what}, {_tilt_text(tilt) if tilt else 'level'}"
        case "arm":
            return f"Switch {step.item} on: it will fire"
    return f"Switch {step.item} off"


def _power_text(head: Head, old: Power | None, new: Power) -> str:
    if not new.fires:
        return f"Leave {head.id} off" if old is None or not old.fires else f"Set {head.id} to off"
    if old is None:
        return f"Set {head.id} to {new}"
    if old.below_full is None or new.below_full is None:
        return f"Set {head.id} to {new} (was {old})"
    stops = old.below_full - new.below_full
    change = f"{stops_text(stops)}, {_clicks(head.dial, old, new)} {'up' if stops > 0 else 'down'}"
    return f"Set {head.id} from {old} to {new} ({change})"


def _camera_text(step: Step, before: Floor, scene: Scene) -> str:
    if step.verb == "lens":
        if step.to is None:
            return "Camera: take the lens off and put it in its case"
        return f"Camera: fit the {scene.kit.lens[step.to].focal_mm:g} mm lens"
    if step.verb == "view":
        distance, height, orientation = step.to
        away, up = length(distance, scene.units), length(height, scene.units)
        return f"Camera: move to {away} from the face, {up} high, {orientation}"
    f, shutter, iso = step.to
    old = before.exposure
    change = ""
    if old is not None and old.f != f:
        stops = Fraction(round(3 * (aperture_stops(f) - aperture_stops(old.f))), 3)
        change = f" ({stops_text(stops)} {'smaller' if stops > 0 else 'wider'})"
    return f"Camera: set f/{f:g}{change}, {shutter}, ISO {iso:g}"


def _subject_text(step: Step, before: Floor, scene: Scene) -> str:
    if step.to is None:
        return _send_off_text(before, scene)
    face_m, facing, background_m, *look = step.to
    looks = scene.setup.subject.looks_at if scene.setup else None
    if looks is not None or facing == 0:
        way = f"looking at {looks or 'the camera'}"
    else:
        way = f"turned {abs(facing)}° camera-{'right' if facing > 0 else 'left'}"
    who = scene.talent(look[0] if look else None)
    begin = f"Bring {who} to the mark, {way}" if before.subject is None else f"Pose {who}: {way}"
    behind = "" if background_m is None else f", background {length(background_m, scene.units)} behind"
    return f"{begin}, face at {length(face_m, scene.units)}{behind}"


def _send_off_text(before: Floor, scene: Scene) -> str:
    """Return who leaves the set, and why where the same person comes back in another look."""
    look = before.subject.look if before.subject else None
    goal = scene.setup.look if scene.setup else None
    who = scene.talent(look)
    if (
        goal is not None
        and look is not None
        and goal != look
        and scene.talents.get(goal, "") == scene.talents.get(look)
    ):
        return f"Send {who} off set to change into the look {goal}"
    return f"Send {who} off set"


# --- the column of a stand that keeps its place


def column_move_text(step: Step, start: Floor, goal: Floor, scene: Scene) -> str:
    """Return what a step on the load asks of a stand that keeps its place; empty where nothing.

    A place is where the front of the load is. With a deeper or flatter modifier the column behind
    it moves by the difference in depth; with another aim it goes round. A boom's arm gives way
    instead.
    """
    head = step.item if step.verb == "aim" else str(step.on)
    light = scene.setup.light.get(head) if scene.setup else None
    if scene.setup is None or light is None or scene.kit.stand[light.stand].is_boom:
        return ""
    before, after = start.stands.get(light.stand), goal.stands.get(light.stand)
    old_head = start.head_on(light.stand)
    if old_head is None or before is None or after is None or before.spot != after.spot:
        return ""
    if step.verb == "aim":
        return _turned_column_text(light, start.heads[old_head].aim, scene.setup, scene)
    return _depth_change_text(step, light, start.modifier_on(old_head), scene) if step.kind == "modifier" else ""


def _turned_column_text(light: Light, old: Aim | None, setup: Setup, scene: Scene) -> str:
    """Return where the column goes when its load points elsewhere over the same front."""
    if old is None:
        return ""
    front = light.point(setup.subject.face_height_m)
    depth_m = scene.kit.modifier[light.modifier].depth_m
    before = column_at(front, old.bearing_deg, depth_m)
    after = column_at(front, aim_of(setup, light).bearing_deg, depth_m)
    if hypot(after.x - before.x, after.y - before.y) < _APART_M:
        return ""
    at = Spot(front.x, front.y, light.leg_under_load)
    return f"; then move {light.stand} to {_stand_place(at, light, setup, scene)}"


def _depth_change_text(step: Step, light: Light, old: str | None, scene: Scene) -> str:
    """Return how far the stand moves for the step that gives its load another depth, while it is in reach."""
    bare = scene.kit.modifier[light.modifier].is_nothing
    if (step.verb, step.item) != (("free", step.item) if bare else ("fit", light.modifier)):
        return ""
    deeper_m = _depth_m(light.modifier, scene.kit) - _depth_m(old, scene.kit)
    if abs(deeper_m) < _APART_M:
        return ""
    by, tape = (length(metres, scene.units) for metres in (abs(deeper_m), light.distance_m))
    way = "back" if deeper_m > 0 else "in"
    return f"; then move {light.stand} {way} {by}, so that the tape to its front is {tape} again"


def _depth_m(modifier: str | None, kit: Kit) -> float:
    """Return how deep a modifier is; 0 for a bare head or one that the kit no longer has."""
    known = kit.modifier.get(modifier or "")
    return known.depth_m if known else 0.0
