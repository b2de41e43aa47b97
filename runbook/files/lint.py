"""What reads well but cannot be, should not be, or is worth knowing before anyone is on the clock.

Only what the plan itself says. Light, stands and hours are audited beside the sums they need.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import combinations
from math import cos, hypot, pi, radians, sin
from typing import Final

from runbook.model.day import OVERHEAD_M, Day, Level, Plan, Problem
from runbook.model.geometry import Point, bearing_deg, ground_radius
from runbook.model.setup import Light, PanelPlace, Setup
from runbook.model.units import length

Rule = Callable[[Plan], Iterator[Problem]]
_WORST_FIRST: Final = ("stop", "warn", "note", "meant")
_CAMERA_M: Final = 0.4  # a tripod and who stands at it; our own figure
_HEAD_M: Final = 0.5  # how far from under a lamp a head may still be under it; our own figure
_FLAT_M: Final = 0.1  # a stand's column and a panel's thickness; our own figure


def audit(plan: Plan) -> tuple[Problem, ...]:
    """Every problem of the plan as it is written, worst first."""
    return worst_first(problem for rule in _RULES for problem in rule(plan))


def worst_first(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The same problems, what stops the day first; else in the order they came."""
    return tuple(sorted(problems, key=lambda problem: _WORST_FIRST.index(problem.level)))


def mark_meant(plan: Plan, problems: Iterable[Problem]) -> Iterator[Problem]:
    """The same problems; warnings and notes that their setup intends have the level ``meant``."""
    for problem in problems:
        setup = plan.setups.get(problem.setup or "")
        meant = setup is not None and problem.code in setup.meant and problem.level != "stop"
        yield replace(problem, level="meant") if meant else problem


def _crew(plan: Plan) -> Iterator[Problem]:
    if not plan.day.crew:
        do = "write a [[crew]] table for everyone who works on the set"
        yield Problem("warn", "no-crew", None, None, "nobody is down to do the steps", do)


def _before(plan: Plan) -> Iterator[Problem]:
    place = {name: index for index, name in enumerate(plan.day.order)}
    for setup in plan.order:
        for later in setup.before:
            if later in place and place[later] < place[setup.id]:
                what = f"it must be shot before {later}, and the order has it after"
                do = "change the order in day.toml, or take it out of before"
                yield Problem("stop", "order-broken", setup.id, None, what, do)


def _not_shot(plan: Plan) -> Iterator[Problem]:
    for name in plan.setups.keys() - set(plan.day.order):
        do = "add it to the order in day.toml, if it is to be shot"
        yield Problem("note", "not-in-order", name, None, "it is not in the day's order", do)


def _shooting(plan: Plan) -> Iterator[Problem]:
    for setup in plan.order:
        if setup.frames == 0:
            do = "write frames: batteries are calculated from them"
            yield Problem("note", "no-frames", setup.id, None, "no frames are planned", do)
        if setup.shoot_min == 0:
            level: Level = "warn" if setup.frames else "note"
            do = "write shoot_min: the clock is calculated from it"
            yield Problem(level, "no-time", setup.id, None, "its shooting takes no time", do)


def _looks(plan: Plan) -> Iterator[Problem]:
    worn = {setup.look for setup in plan.order}
    for look in plan.day.looks:
        if look.id not in worn:
            what, do = "no setup of the day wears this look", "name it in a setup, or take it out"
            yield Problem("note", "look-unused", None, look.id, what, do)
    if plan.day.looks:
        for setup in plan.order:
            if setup.look is None:
                what, do = "it has no look, so nobody is prepared for it", "write look"
                yield Problem("note", "no-look", setup.id, None, what, do)


def _breaks(plan: Plan) -> Iterator[Problem]:
    day = plan.day
    for stop in day.breaks:
        if stop.latest < day.call or stop.earliest > day.wrap:
            what = f"it is to start from {stop.earliest} to {stop.latest}, outside the day"
            do = f"the day goes from {day.call} to {day.wrap}"
            yield Problem("warn", "break-outside", None, stop.id, what, do)
    if _minutes(day) < sum(stop.minutes for stop in day.breaks):
        what, do = "the breaks are longer than the day", "shorten them"
        yield Problem("stop", "breaks-too-long", None, None, what, do)


def _minutes(day: Day) -> float:
    call, wrap = day.call, day.wrap
    return (wrap.hour - call.hour) * 60 + wrap.minute - call.minute


def _keys(plan: Plan) -> Iterator[Problem]:
    for setup in plan.setups.values():
        keys = [light.head for light in setup.lights if light.role == "key"]
        if len(keys) > 1:
            what = f"{' and '.join(keys)} are both its key"
            do = "leave one key, and call the others what they do"
            yield Problem("warn", "two-keys", setup.id, keys[1], what, do)
        if not setup.lights:
            what, do = "no head is lit", "add a [[light]], if it is not lit by the room alone"
            yield Problem("note", "no-light", setup.id, None, what, do)
        elif not keys:
            what, do = "no light is its key", 'write role = "key" at the one the others follow'
            yield Problem("note", "no-key", setup.id, None, what, do)
        yield from _asked(setup, keys)


def _asked(setup: Setup, keys: list[str]) -> Iterator[Problem]:
    for light in setup.lights:
        if light.under_key_stops is None:
            continue
        if not keys:
            what = f"{light.head} is to be under the key, and there is none"
            do = "write aim_reading_f instead, or call a light the key"
            yield Problem("stop", "under-no-key", setup.id, light.head, what, do)
        elif light.role == "key":
            what, do = f"{light.head} is the key, and is to be under it", "write aim_reading_f"
            yield Problem("warn", "key-under-key", setup.id, light.head, what, do)
        if light.aim_reading_f is not None:
            what = f"{light.head} is asked for a reading both by itself and under the key"
            do = "keep aim_reading_f or under_key_stops"
            yield Problem("warn", "asked-twice", setup.id, light.head, what, do)


def _high(plan: Plan) -> Iterator[Problem]:
    reach = plan.day.place.reach_m
    for setup in plan.setups.values():
        for light in setup.lights:
            if light.height_m > reach and not light.bags:
                high = length(light.height_m, plan.day.units, "g")
                what = f"{light.head} is at {high}, over reach, without a bag"
                do = f"hang a bag on {light.stand}"
                yield Problem("warn", "high-without-bag", setup.id, light.stand, what, do)


def _overhead(plan: Plan) -> Iterator[Problem]:
    for setup in plan.setups.values():
        for light in setup.lights:
            if not plan.kit.stand[light.stand].is_boom:
                continue
            modifier = plan.kit.modifier[light.modifier]
            half = max(modifier.width_m, modifier.height_m) / 2
            face_m = setup.subject.face_height_m
            away = ground_radius(light.distance_m, light.height_m, face_m)
            if light.height_m > face_m and away < max(OVERHEAD_M, half + _HEAD_M):
                over = "over the subject" if away < half + _HEAD_M else "a step from the subject"
                what = f"{light.head} hangs {over}"
                do = "give it a second fixing without slack"
                yield Problem("note", "overhead", setup.id, light.stand, what, do)


def _apart(one: Point, other: Point) -> float:
    return hypot(one.x - other.x, one.y - other.y)


def _spots(plan: Plan, setup: Setup) -> list[tuple[Light, Point]]:
    """Where stands stand. A boom's foot is an arm away from its head, in no given direction."""
    face_m = setup.subject.face_height_m
    lights = (light for light in setup.lights if not plan.kit.stand[light.stand].is_boom)
    return [(light, light.point(face_m)) for light in lights]


def _crowded(plan: Plan) -> Iterator[Problem]:
    for setup in plan.setups.values():
        spots = _spots(plan, setup)
        for (one, here), (other, there) in combinations(spots, 2):
            stands = plan.kit.stand[one.stand], plan.kit.stand[other.stand]
            if _apart(here, there) < max(stand.foot_radius_m for stand in stands):
                what = f"{other.stand} stands inside the feet of {one.stand}"
                do = f"put {other.head} or {one.head} elsewhere"
                yield Problem("warn", "same-spot", setup.id, other.stand, what, do)
        view, face_m = setup.view, setup.subject.face_height_m
        lens = Point(0.0, ground_radius(view.distance_m, view.height_m, face_m), view.height_m)
        for light, spot in spots:
            if _apart(spot, lens) < _CAMERA_M:
                what = f"{light.stand} stands where the camera is"
                do = f"move {light.head} or the camera"
                yield Problem("warn", "on-camera", setup.id, light.stand, what, do)
            for placed in setup.panels:
                yield from _in_panel(plan, setup, placed, light, spot)


def _in_panel(plan: Plan, setup: Setup, placed: PanelPlace, light: Light, spot: Point) -> Iterator[Problem]:
    face_m = setup.subject.face_height_m
    panel, middle = plan.kit.panel[placed.panel], placed.point(face_m)
    target = Point(0.0, 0.0, face_m)
    if placed.face_to != "face":
        target = setup.light[placed.face_to].point(face_m)
    normal = radians(bearing_deg(middle, target))
    across, out = normal + pi / 2, Point(spot.x - middle.x, spot.y - middle.y, 0.0)
    along = abs(out.x * sin(across) + out.y * cos(across))
    off = abs(out.x * sin(normal) + out.y * cos(normal))
    bottom = placed.height_m - panel.height_m / 2
    if along < panel.width_m / 2 and off < _FLAT_M and bottom < light.height_m:
        what = f"{light.stand} stands in panel {panel.id}"
        yield Problem("warn", "in-panel", setup.id, panel.id, what, f"move {panel.id} or {light.head}")


def _close(plan: Plan) -> Iterator[Problem]:
    for setup in plan.setups.values():
        for light in setup.lights:
            depth = plan.kit.modifier[light.modifier].depth_m
            if light.distance_m < depth:
                tape = length(light.distance_m, plan.day.units, "g")
                what = f"{light.head} is {tape} from the face, nearer than it is deep"
                do = "measure the tape to the front of the modifier again"
                yield Problem("warn", "too-close", setup.id, light.head, what, do)


def _names(plan: Plan) -> Iterator[Problem]:
    """Two things of the kit under one id: each file is clear, but a call across the set is not."""
    kit = plan.kit
    kinds = (kit.heads, kit.modifiers, kit.accessories, kit.stands, kit.panels, kit.bags)
    count = Counter(thing.id for things in kinds for thing in things)
    for name in (name for name, times in count.items() if times > 1):
        what, do = f"two kinds of thing are called {name}", "give one of them another label"
        yield Problem("note", "same-name", None, name, what, do)


_RULES: Final[tuple[Rule, ...]] = (
    _before,
    _crew,
    _breaks,
    _shooting,
    _keys,
    _high,
    _crowded,
    _close,
    _looks,
    _overhead,
    _not_shot,
    _names,
)
