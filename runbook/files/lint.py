"""What reads well but cannot be, should not be, or is worth knowing before anyone is on the clock.

Only what the plan itself says. Light, stands and hours are audited beside the sums they need.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import combinations
from math import hypot
from typing import Final

from runbook.model.day import OVERHEAD_M, Level, Plan, Problem
from runbook.model.geometry import Point, along, ground_radius
from runbook.model.kit import Panel, Stand
from runbook.model.panels import foot_line, hung_stance, stance_of
from runbook.model.setup import Light, PanelPlace, Setup
from runbook.model.units import length

_WORST_FIRST: Final = ("stop", "warn", "note", "meant")
_CAMERA_M: Final = 0.4  # a tripod and who stands at it; our own figure
_HEAD_M: Final = 0.5  # how far from under a lamp a head may still be under it; our own figure
_FLAT_M: Final = 0.1  # a stand's column and a panel's thickness; our own figure


def audit(plan: Plan) -> tuple[Problem, ...]:
    """Every problem of the plan as it is written, worst first."""
    of_day = (problem for rule in _OF_A_DAY for problem in rule(plan))
    of_setups = (problem for setup in plan.setups.values() for rule in _OF_A_SETUP for problem in rule(plan, setup))
    return worst_first((*of_day, *of_setups))


def worst_first(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The same problems, what stops the day first; else in the order they came."""
    return tuple(sorted(problems, key=lambda problem: _WORST_FIRST.index(problem.level)))


def mark_meant(plan: Plan, problems: Iterable[Problem]) -> Iterator[Problem]:
    """The same problems; warnings and notes that their setup intends have the level ``meant``."""
    for problem in problems:
        setup = plan.setups.get(problem.setup or "")
        meant = setup is not None and problem.code in setup.meant and problem.level != "stop"
        yield replace(problem, level="meant") if meant else problem


# -- the day -----------------------------------------------------------------------------------


def _crew(plan: Plan) -> Iterator[Problem]:
    if not plan.day.crew:
        do = "write a [[crew]] table for everyone who works on the set"
        yield Problem("warn", "no-crew", None, None, "there is no crew to do the steps", do)


def _before(plan: Plan) -> Iterator[Problem]:
    place = {name: index for index, name in enumerate(plan.day.order)}
    for setup in plan.order:
        for later in setup.before:
            if place.get(later, len(place)) < place[setup.id]:
                what = f"it must be shot before {later}, and the order has it after"
                do = "change the order in day.toml, or delete it from before"
                yield Problem("stop", "order-broken", setup.id, None, what, do)


def _not_shot(plan: Plan) -> Iterator[Problem]:
    for name in (name for name in plan.setups if name not in plan.day.order):
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
        if plan.day.looks and setup.look is None:
            what = "it has no look, so nobody is prepared for it"
            yield Problem("note", "no-look", setup.id, None, what, "write look")


def _looks(plan: Plan) -> Iterator[Problem]:
    worn = {setup.look for setup in plan.order}
    for look in (look for look in plan.day.look if look not in worn):
        do = "name it in a setup, or delete it"
        yield Problem("note", "look-unused", None, look, "no setup of the day wears this look", do)


def _breaks(plan: Plan) -> Iterator[Problem]:
    call, wrap = plan.day.call, plan.day.wrap
    for stop in plan.day.breaks:
        if stop.latest < call or stop.earliest > wrap:
            what = f"it starts from {stop.earliest} to {stop.latest}, outside the day"
            yield Problem("warn", "break-outside", None, stop.id, what, f"the day goes from {call} to {wrap}")
    if (wrap.hour - call.hour) * 60 + wrap.minute - call.minute < sum(stop.minutes for stop in plan.day.breaks):
        yield Problem("stop", "breaks-too-long", None, None, "the breaks are longer than the day", "shorten them")


def _names(plan: Plan) -> Iterator[Problem]:
    """Two things of the kit under one id: each file is clear, but a call across the set is not."""
    kit = plan.kit
    kinds = (kit.heads, kit.modifiers, kit.accessories, kit.stands, kit.panels, kit.bags)
    for name, times in Counter(thing.id for things in kinds for thing in things).items():
        if times > 1:
            what = f"two kinds of thing are called {name}"
            yield Problem("note", "same-name", None, name, what, "give one of them another label")


# -- a setup -----------------------------------------------------------------------------------


def _keys(_: Plan, setup: Setup) -> Iterator[Problem]:
    keys = [light.head for light in setup.lights if light.role == "key"]
    keys += [place.panel for place in setup.panels if place.role == "key"]
    if len(keys) > 1:
        what = f"{' and '.join(keys)} are both its key"
        yield Problem("warn", "two-keys", setup.id, keys[1], what, "leave one key, and give the others their own role")
    if not setup.lights:
        do = "add a [[light]], if it is not lit by the room alone"
        yield Problem("note", "no-light", setup.id, None, "no head is lit", do)
    elif not keys:
        do = 'write role = "key" at the one the others follow'
        yield Problem("note", "no-key", setup.id, None, "no light is its key", do)
    sources: dict[str, Light | PanelPlace] = {**setup.light, **setup.panel}
    for name, source in sources.items():
        if source.under_key_stops is not None:
            yield from _asked(setup, name, source, has_key=bool(keys))


def _asked(setup: Setup, name: str, source: Light | PanelPlace, *, has_key: bool) -> Iterator[Problem]:
    if not has_key:
        what = f"{name} is to be under the key, and there is none"
        do = "write aim_reading_f instead, or make a light the key"
        yield Problem("stop", "under-no-key", setup.id, name, what, do)
    elif source.role == "key":
        what = f"{name} is the key, and is to be under it"
        yield Problem("warn", "key-under-key", setup.id, name, what, "write aim_reading_f")
    if source.aim_reading_f is not None:
        what = f"{name} is asked for a reading both by itself and under the key"
        yield Problem("warn", "asked-twice", setup.id, name, what, "keep aim_reading_f or under_key_stops")


def _high(plan: Plan, setup: Setup) -> Iterator[Problem]:
    for stand, item, placed in _on_stands(plan, setup):
        if placed.height_m > plan.day.place.reach_m and not placed.bags:
            what = f"{item} is at {length(placed.height_m, plan.day.units, 'g')}, over reach, without a bag"
            yield Problem("warn", "high-without-bag", setup.id, stand.id, what, f"hang a bag on {stand.id}")
    for hung in setup.hung_cloths:
        rail_m = hung.rail_m(plan.kit.cloth[hung.cloth])
        for name, bags in zip(hung.held_by, hung.bags_by_stand, strict=False):
            if rail_m > plan.day.place.reach_m and not bags:
                high = length(rail_m, plan.day.units, "g")
                what = f"the rail of {hung.cloth} is at {high}, over reach, without a bag"
                yield Problem("warn", "high-without-bag", setup.id, name, what, f"hang a bag on {name}")


def _on_stands(plan: Plan, setup: Setup) -> Iterator[tuple[Stand, str, Light | PanelPlace]]:
    """Yield every stand of a setup with the head or panel it carries."""
    stands = plan.kit.stand
    yield from ((stands[light.stand], light.head, light) for light in setup.lights)
    yield from ((stands[place.held_by], place.panel, place) for place in setup.panels if place.held_by in stands)


def _overhead(plan: Plan, setup: Setup) -> Iterator[Problem]:
    face_m = setup.subject.face_height_m
    for stand, item, placed in _on_stands(plan, setup):
        load = plan.kit.modifier[placed.modifier] if isinstance(placed, Light) else plan.kit.panel[placed.panel]
        under = max(load.width_m, load.height_m) / 2 + _HEAD_M
        away = ground_radius(placed.distance_m, placed.height_m, face_m)
        if stand.is_boom and placed.height_m > face_m and away < max(OVERHEAD_M, under):
            where = "over the subject" if away < under else "within a step of the subject"
            do = "give it a second fixing without slack"
            yield Problem("note", "overhead", setup.id, stand.id, f"{item} hangs {where}", do)


def _crowded(plan: Plan, setup: Setup) -> Iterator[Problem]:
    """A boom's foot is an arm away from its head, in no given direction: it is left out."""
    kit, view, face_m = plan.kit, setup.view, setup.subject.face_height_m
    carrying = [(stand, item, on, on.point(face_m)) for stand, item, on in _on_stands(plan, setup) if not stand.is_boom]
    standing = [*((stand, item, spot) for stand, item, _, spot in carrying), *_rail_ends(plan, setup)]
    for (one, load, here), (other, item, there) in combinations(standing, 2):
        if _apart(here, there) < max(one.foot_radius_m, other.foot_radius_m):
            what, do = f"{other.id} stands inside the feet of {one.id}", f"move {item} or {load}"
            yield Problem("warn", "same-spot", setup.id, other.id, what, do)
    lens = Point(0.0, ground_radius(view.distance_m, view.height_m, face_m), view.height_m)
    for stand, item, spot in standing:
        if _apart(spot, lens) < _CAMERA_M:
            what, do = f"{stand.id} stands where the camera is", f"move {item} or the camera"
            yield Problem("warn", "on-camera", setup.id, stand.id, what, do)
    for stand, item, on, spot in carrying:
        for placed in setup.panels:
            if placed is not on and _in_panel(kit.panel[placed.panel], setup, placed, on, spot):
                what, do = f"{stand.id} stands in panel {placed.panel}", f"move {placed.panel} or {item}"
                yield Problem("warn", "in-panel", setup.id, placed.panel, what, do)
        for hung in setup.hung_cloths:
            cloth = kit.cloth[hung.cloth]
            if _from_line(spot, foot_line(cloth, hung_stance(cloth, hung, setup))) < _FLAT_M:
                what, do = f"{stand.id} stands in cloth {hung.cloth}", f"move {hung.cloth} or {item}"
                yield Problem("warn", "in-panel", setup.id, hung.cloth, what, do)


def _rail_ends(plan: Plan, setup: Setup) -> Iterator[tuple[Stand, str, Point]]:
    """Yield the stands at the ends of hung cloths' rails, each with its cloth and its spot."""
    for hung in setup.hung_cloths:
        cloth = plan.kit.cloth[hung.cloth]
        one, _, other = foot_line(cloth, hung_stance(cloth, hung, setup))
        for name, spot in zip(hung.held_by, (one, other), strict=False):
            yield plan.kit.stand[name], hung.cloth, spot


def _apart(one: Point, other: Point) -> float:
    return hypot(one.x - other.x, one.y - other.y)


def _in_panel(panel: Panel, setup: Setup, placed: PanelPlace, on: Light | PanelPlace, spot: Point) -> bool:
    near = _from_line(spot, foot_line(panel, stance_of(panel, placed, setup))) < _FLAT_M
    return near and placed.height_m - panel.height_m / 2 < on.height_m


def _from_line(spot: Point, line: tuple[Point, Point, Point]) -> float:
    one, at, other = line
    return min(_off_line(spot, one, at), _off_line(spot, at, other))


def _off_line(spot: Point, start: Point, end: Point) -> float:
    """Return how far a spot on the floor is from a line between two others."""
    x, y = end.x - start.x, end.y - start.y
    share = ((spot.x - start.x) * x + (spot.y - start.y) * y) / ((x * x + y * y) or 1.0)
    return _apart(spot, along(start, Point(x, y, 0.0), min(max(share, 0.0), 1.0)))


def _close(plan: Plan, setup: Setup) -> Iterator[Problem]:
    for light in setup.lights:
        if light.distance_m < plan.kit.modifier[light.modifier].depth_m:
            tape = length(light.distance_m, plan.day.units, "g")
            what = f"{light.head} is {tape} from the face, nearer than it is deep"
            do = "measure the tape to the front of the modifier again"
            yield Problem("warn", "too-close", setup.id, light.head, what, do)


_OF_A_DAY: Final = (_before, _crew, _breaks, _shooting, _looks, _not_shot, _names)
_OF_A_SETUP: Final = (_keys, _high, _crowded, _close, _overhead)
