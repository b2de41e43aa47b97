"""Findings on the light: what it cannot do, or should not, each with the remedy in numbers.

Every rule takes a case, one setup or one head of it, and yields problems; ``_SETUP_RULES`` and
``_HEAD_RULES`` list them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from runbook.light.battery import Battery, batteries, recycle_s
from runbook.light.beam import assumes_bare_spread, distance_to_undo, source_of
from runbook.light.heads import DialSetting
from runbook.light.optics import InShot
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.light.scene import surfaces_of
from runbook.light.stops import DARK, METER_LEAST, meter_text
from runbook.model.day import Level, Plan, Problem
from runbook.model.kit import BARE_SPREAD_DEG, Measured
from runbook.model.nominal_values import ISO_MARKS, aperture_stops, iso_stops, shutter_stops
from runbook.model.power import FULL
from runbook.model.setup import Light, Setup
from runbook.model.units import length

OFF_ASKED_STOPS: Final = 1 / 3  # a meter and a dial agree no closer: common practice
BURIED_STOPS: Final = 5.0
AMBIENT_WARN_STOPS: Final = 3.0
WHOLE_WARN_STOPS: Final = 0.3
_FAR_MORE_STOPS: Final = 3.0  # from a cloth than a panel gives: our own limit
_SLACK: Final = 1e-6
_ASK_KEYS: Final = {"background": "over_stops under [background]", "whole": "whole_over_stops under [exposure]"}
_LEAST_SHOWN: Final = 0.05  # of a stop: less shows as nothing in tenths


@dataclass(frozen=True, slots=True)
class _Case:
    """A setup and its light."""

    plan: Plan
    setup: Setup
    light: Prediction

    def problem(self, level: Level, code: str, item: str | None, what: str, do: str) -> Problem:
        """Return a problem of this setup."""
        return Problem(level, code, self.setup.id, item, what, do)


def audit_light(
    plan: Plan, measured: Sequence[Measured] = (), predictions: Mapping[str, Prediction] | None = None
) -> tuple[Problem, ...]:
    """Return every problem of the light in the day's order, then of the batteries.

    ``predictions`` by setup id spares working them out again. Raises ValueError as ``predict``.
    """
    problems: list[Problem] = []
    for setup in plan.order:
        case = _Case(plan, setup, (predictions or {}).get(setup.id) or predict(plan, setup, measured))
        for head in case.light.heads:
            for head_rule in _HEAD_RULES:
                problems += head_rule(case, head, setup.light[head.head])
        for rule in _SETUP_RULES:
            problems += rule(case)
    for battery in batteries(plan):
        problems += _battery(battery)
    return tuple(problems)


# -- one head ------------------------------------------------------------------------------------


def _reading(case: _Case, one: HeadLight, light: Light) -> Iterator[Problem]:
    asked, head, dial = one.asked_stops, one.head, one.dial
    if asked is None or not one.power.fires:
        return
    if dial is None or one.reads_stops is None:
        what = f"asked to read {meter_text(asked)}, but none of its beam reaches the face"
        do = "aim it at the face, or delete the reading asked for"
        yield case.problem("warn", "light-misses-face", head, f"{head} is {what}", do)
    elif not dial.in_range:
        off = dial.left_over_stops
        what = _off_text(head, asked + off, asked, f"{dial.power}, its {'lowest' if off > 0 else 'full'} power")
        what += f" (working aperture {meter_text(case.light.aperture_stops)})"
        code = "dial-too-low" if off > 0 else "dial-too-high"
        yield case.problem("stop", code, head, what, ", or ".join(_ways_out(case, light, dial)))
    elif one.power == dial.power and abs(dial.left_over_stops) > OFF_ASKED_STOPS + _SLACK:
        what = f"{_off_text(head, one.reads_stops, asked, str(one.power))}; what is asked does not fit together"
        yield case.problem("warn", "asks-conflict", head, what, "change what is asked of it, or of the set")
    elif abs(one.reads_stops - asked) > OFF_ASKED_STOPS + _SLACK:
        code = f"reading-{_way(one.reads_stops - asked)}"
        what = _off_text(head, one.reads_stops, asked, str(one.power))
        yield case.problem("warn", code, head, what, f"set {head} to {dial.power}")


def _solved(case: _Case, one: HeadLight, _light: Light) -> Iterator[Problem]:
    """A power left out that nothing asked depends on."""
    if one.solved and one.power.fires and one.dial is None and one.asked_stops is None:
        what = f"{one.head} has no power, and none of its light reaches what is asked; taken as {one.power}"
        do = f"write power, or ask a reading of {one.head}"
        yield case.problem("stop", "power-unknown", one.head, what, do)


def _off_text(head: str, reads: float, asked: float, power: str) -> str:
    off = f"{_stops(reads - asked)} {_way(reads - asked)} the {meter_text(asked)} asked for"
    return f"{head} reads {meter_text(reads)} at {power}: {off}"


def _ways_out(case: _Case, light: Light, dial: DialSetting) -> Iterator[str]:
    """Yield what makes a reading possible at the end of the dial; any one of them does.

    Moving a head helps only where it is aimed at the face, and as far as its height allows.
    """
    kit, setup, off = case.plan.kit, case.setup, dial.left_over_stops
    bright = off > 0
    to_m = distance_to_undo(source_of(kit, light), light.distance_m, off) if light.aim == "face" else None
    if to_m is not None and to_m >= abs(light.height_m - setup.subject.face_height_m):
        yield f"move it {'back' if bright else 'in'} to {length(to_m, case.plan.day.units, '.2f')}"
    if bright:
        yield f"put {_stops(off)} of ND on it"
    iso = iso_to_undo(setup.exposure.iso, kit.camera.iso_min, off)
    if iso is not None:
        yield f"set ISO {iso} and turn the other heads {'up' if bright else 'down'} to match"
    yield f"{'close' if bright else 'open'} the lens by {_stops(off)}"


def iso_to_undo(iso: float, iso_min: float, left_over: float) -> int | None:
    """Return the nearest marked speed that undoes so many stops too bright (plus) or too dim wholly."""
    wanted = iso_stops(iso) - left_over
    if left_over > 0:
        marks = [mark for mark, stops in ISO_MARKS.items() if mark >= iso_min and stops <= wanted + _SLACK]
        return max(marks, default=None)
    return min((mark for mark, stops in ISO_MARKS.items() if stops >= wanted - _SLACK), default=None)


def _recycling(case: _Case, one: HeadLight, _light: Light) -> Iterator[Problem]:
    setup, head = case.setup, case.plan.kit.head[one.head]
    if one.recycle_s is None or setup.frames == 0 or setup.shoot_min == 0:
        return
    every_s = setup.shoot_min * 60 / setup.frames
    if one.recycle_s <= every_s + _SLACK:
        return
    what = f"{one.head} recycles in {one.recycle_s:.1f} s at {one.power}; a frame is due every {every_s:.1f} s"
    do = f"allow {setup.frames * one.recycle_s / 60:.0f} min"
    quick = [power for power in head.dial.every() if recycle_s(head, power) <= every_s + _SLACK]
    if quick and quick[-1].below_full is not None and one.power.below_full is not None:
        lost = float(quick[-1].below_full - one.power.below_full)
        do += f", or set {quick[-1]} and move it in or raise the ISO by {_stops(lost)}"
    yield case.problem("warn", "recycle-slow", one.head, what, do)


def _lens(case: _Case, one: HeadLight, _light: Light) -> Iterator[Problem]:
    if one.in_shot is not None:
        do = "move it out of the picture, raise it, use a longer lens, or crop"
        yield case.problem("warn", "in-frame", one.head, f"{one.head} or its modifier {shot_text(one.in_shot)}", do)
    if one.flare:
        do = "put a flag between it and the lens, turn it away, or narrow it with a grid"
        yield case.problem("warn", "flare", one.head, f"lens flare: the beam of {one.head} hits the lens", do)


def _assumed_spread(case: _Case, one: HeadLight, light: Light) -> Iterator[Problem]:
    if one.power.fires and assumes_bare_spread(case.plan.kit, light):
        what = f"{one.head} has no spread_deg; {BARE_SPREAD_DEG:.0f}° assumed, as of a standard reflector"
        do = f'write spread_deg in kit.toml, under [[modifier]] id = "{light.modifier}"'
        yield case.problem("note", "spread-assumed", one.head, what, do)


_HEAD_RULES: Final[tuple[Callable[[_Case, HeadLight, Light], Iterator[Problem]], ...]] = (
    _reading,
    _solved,
    _recycling,
    _lens,
    _assumed_spread,
)

# -- a whole setup -------------------------------------------------------------------------------


def _flat_things(case: _Case) -> Iterator[Problem]:
    """Panels and cloths in shot, a cloth in front of the face, and one that hides what is asked of the background."""
    light, behind, hider = case.light, case.setup.background, case.light.background_hidden_by
    shots = {one.panel: one.in_shot for one in light.panels}
    shots |= {one.cloth: one.in_shot for one in light.cloths if not one.veils}
    for name, shot in shots.items():
        if shot is not None:
            do = "move it out of the picture, use a longer lens, or crop"
            yield case.problem("warn", "in-frame", name, f"{name} {shot_text(shot)}", do)
    for cloth in (one.cloth for one in light.cloths if one.veils):
        what = f"{cloth} hangs between lens and face: the picture is taken through it"
        yield case.problem("warn", "in-frame", cloth, what, "hang it elsewhere, or move the camera in front")
    if hider is not None and behind is not None and (behind.over_stops, behind.reflectance) != (None, None):
        what = f"{hider} hangs in front of the background: the picture shows the cloth, not what is metered behind it"
        do = "delete reflectance and over_stops under [background], or hang it aside"
        yield case.problem("warn", "background-hidden", hider, what, do)


def _second_bounces(case: _Case) -> Iterator[Problem]:
    """Panels that face a hung cloth and get far more light off it, which is not counted, than from the heads."""
    surfaces, light = surfaces_of(case.plan.kit, case.setup), case.light
    scattered = {one.cloth: one.scattered_stops for one in light.cloths if one.scattered_stops is not None}
    sheets = [one for one in surfaces if one.two_sided and scattered.get(one.of, DARK) >= METER_LEAST]
    for lit in light.panels:
        panel, reads = lit.panel, DARK if lit.reads_stops is None else lit.reads_stops
        wings = [one.plane for one in surfaces if one.of == panel and one.reflectance and not one.two_sided]
        for cloth in sheets:
            faces = any(wing.local(cloth.plane.middle).z > 0 for wing in wings)
            if faces and scattered[cloth.of] > reads + _FAR_MORE_STOPS:
                what = f"{panel} faces {cloth.of}, and what that scatters onto it is not counted: it will read brighter"
                yield case.problem("note", "second-bounce", panel, what, "meter it on the set")


def _set_asks(case: _Case) -> Iterator[Problem]:
    """What is asked of panels, the background and the whole, and cannot be had."""
    light, levels = case.light, {"background": case.light.background_reads_stops, "whole": case.light.whole_stops}
    levels |= {panel.panel: panel.reads_stops for panel in light.panels}
    for ask in light.asks:
        left, reads = ask.left_over_stops, levels[ask.of]
        is_set = ask.of in _ASK_KEYS
        code, item = (ask.of, None) if is_set else ("panel", ask.of)
        asked = f"{'the ' if is_set else ''}{ask.of} is asked to read {meter_text(ask.wanted_stops)}"
        if left is None or reads is None:
            do = f"light it, or delete {_ASK_KEYS.get(ask.of, 'what is asked of it')}"
            yield case.problem("stop", f"{code}-unlit", item, f"{asked}, and no flash reaches it", do)
        elif abs(left) > OFF_ASKED_STOPS + _SLACK:
            what = f"{asked}; with all powers as asked it reads {_stops(left)} {_way(left)} that"
            do = f"{_lever(case, left)}, or ask {_stops(left)} {'more' if left > 0 else 'less'}"
            yield case.problem("warn", f"{code}-{_way(left)}", item, what, do)
        elif abs(reads - ask.wanted_stops) > OFF_ASKED_STOPS + _SLACK:
            off = reads - ask.wanted_stops
            what = f"{asked}; it reads {meter_text(reads)}, {_stops(off)} {_way(off)}"
            yield case.problem("warn", f"{code}-{_way(off)}", item, what, f"set {_dials_text(light)}")


def _lever(case: _Case, left: float) -> str:
    """What brings the light of the set down (plus) or up: moving heads at the end of their dials, else those set."""
    change, way, place = ("lowest", "down", "back") if left > 0 else ("full", "up", "in")
    heads = case.plan.kit.head
    ends = [
        one.head
        for one in case.light.heads
        if one.dial and one.dial.power == (heads[one.head].dial.lowest if left > 0 else FULL)
    ]
    if ends:
        return f"move {' and '.join(ends)} {place} (at {change} power)"
    return f"turn {way} a head whose power is set, or move one"


def _dials_text(light: Prediction) -> str:
    """``A to 1/8, B to 1/4``: the powers that are not as asked."""
    return ", ".join(f"{one.head} to {one.dial.power}" for one in light.heads if _is_off(one) and one.dial)


def _is_off(one: HeadLight) -> bool:
    return one.dial is not None and one.power.fires and one.dial.power != one.power


def _whole(case: _Case) -> Iterator[Problem]:
    """All heads together, the dome turned to the camera, against the working aperture, where nothing else is asked."""
    light = case.light
    whole, aperture, after = light.whole_stops, light.aperture_stops, light.whole_as_asked_stops
    if whole is None or any(ask.of == "whole" for ask in light.asks):
        return
    # as it is shown: nobody is warned of 0.3 where 0.3 is allowed
    if round(abs(whole - aperture), 1) <= WHOLE_WARN_STOPS or (whole < aperture and _metered_at_key(light)):
        return
    texts = []
    if after is not None and any(map(_is_off, light.heads)):
        texts.append(f"set {_dials_text(light)} as asked: then {after - aperture:+.1f}")
    left = (whole if after is None else after) - aperture
    if round(abs(left), 1) > WHOLE_WARN_STOPS:
        change, lens = ("less", "close") if left > 0 else ("more", "open")
        texts.append(f"ask {_stops(left)} {change} of the heads, or {lens} the lens by as much")
    what = (
        f"whole reading {meter_text(whole)} (flash, dome to the camera), {_stops(whole - aperture)} "
        f"{_way(whole - aperture)} the working aperture {meter_text(aperture)}; {WHOLE_WARN_STOPS:g} allowed"
    )
    yield case.problem("warn", f"whole-{_way(whole - aperture)}", None, what, "; then ".join(texts))


def _metered_at_key(light: Prediction) -> bool:
    """Return whether the key reads the working aperture and shines into the face: then a turned dome reads less."""
    key = None if light.key is None else light.key.reads_stops
    is_front = light.pattern in ("butterfly", "loop", "Rembrandt")
    return key is not None and is_front and abs(key - light.aperture_stops) <= WHOLE_WARN_STOPS + _SLACK


def _ambient(case: _Case) -> Iterator[Problem]:
    under = case.light.ambient_under_stops
    if under is None or case.light.whole_stops is None or under >= BURIED_STOPS - _SLACK:
        return
    level: Level = "stop" if under < -_SLACK else "warn" if under < AMBIENT_WARN_STOPS - _SLACK else "note"
    what = f"ambient light {_stops(under)} {_way(-under)} the working aperture; {BURIED_STOPS:.0f} under would hide it"
    do = ", or ".join(_darker(case, BURIED_STOPS - under))
    yield case.problem(level, "ambient-over" if level == "stop" else "ambient-shows", None, what, do)


def _darker(case: _Case, need: float) -> Iterator[str]:
    """Yield the ways to bring the room's light down by so many stops; each as far as it goes."""
    camera, shot, lux = case.plan.kit.camera, case.setup.exposure, case.plan.day.place.ambient_lux
    yield f"darken the room from {_lux_text(lux)} to {_lux_text(lux * 2.0**-need)} lux"
    faster = shutter_stops(camera.sync) - shutter_stops(shot.shutter)
    if faster > _LEAST_SHOWN:
        yield f"shoot at {camera.sync} for {_stops(min(faster, need))} of it"
    slower = iso_stops(shot.iso) - iso_stops(camera.iso_min)
    if slower > _LEAST_SHOWN:
        iso = iso_to_undo(shot.iso, camera.iso_min, min(slower, need)) or round(camera.iso_min)
        yield f"set ISO {iso} for {_stops(iso_stops(shot.iso) - iso_stops(iso))} of it and turn the heads up to match"
    closing = aperture_stops(case.plan.kit.lens[case.setup.view.lens].f_max) - aperture_stops(shot.f)
    if closing > _LEAST_SHOWN:
        of_it = "" if closing >= need - _LEAST_SHOWN else " of it"
        yield f"close down {_stops(min(closing, need))}{of_it} and turn the heads up to match"


def _lux_text(lux: float) -> str:
    """Return whole lux, but never 0 of a light there is."""
    return f"{lux:.0f}" if lux >= 10 else f"{lux:.2g}"


_SETUP_RULES: Final[tuple[Callable[[_Case], Iterator[Problem]], ...]] = (
    _flat_things,
    _second_bounces,
    _set_asks,
    _whole,
    _ambient,
)

# -- batteries -----------------------------------------------------------------------------------


def _battery(battery: Battery) -> Iterator[Problem]:
    head = battery.head
    use = f"{head} uses {battery.spent:.0f} full-power flashes today, {battery.of:g} a charge"
    for setup_id in battery.overruns:
        what = f"one charge of {head} does not last {setup_id}"
        do = "plan a change of battery in the middle of it, or set a lower power and raise the ISO"
        yield Problem("warn", "battery-overrun", setup_id, head, what, do)
    if not battery.lasts:
        short = battery.charges - 1 - battery.spares
        what = f"{use}: needs {battery.charges} charges, has {1 + battery.spares}"
        do = f"bring {short} more, charge {short} in the meal break, or run it off the mains"
        yield Problem("warn", "battery-short", battery.change_before, head, what, do)
    for setup_id in battery.changes:
        do = f"change the battery of {head} before {setup_id}"
        yield Problem("note", "battery-change", setup_id, head, f"{use}: this one ends during {setup_id}", do)


def shot_text(shot: InShot) -> str:
    """Return how much of the picture a thing covers, and where."""
    where = "in the middle" if shot.where == "middle" else f"at the {shot.where}"
    share = f"{100 * shot.share:.0f}" if shot.share >= 0.01 else "less than 1"
    return f"is in shot: it covers {share} % of the picture, {where}"


def _stops(stops: float) -> str:
    """Return an amount of light as text, without its sign."""
    return f"{abs(stops):.1f} stops"


def _way(stops: float) -> str:
    return "over" if stops > 0 else "under"
