"""Findings on the light: what it cannot do, or should not, each with the remedy in numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from runbook.light.battery import Battery, batteries, recycle_s
from runbook.light.exposure import assumes_bare_spread, source_of
from runbook.light.power import DialSetting, Tape, WaysOut, ways_out
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.kit import BARE_SPREAD_DEG, Head, Kit, Measured
from runbook.model.nominal_values import ISO_MARKS, aperture_stops, iso_stops, shutter_stops
from runbook.model.problems import Level, Problem
from runbook.model.setup import Setup
from runbook.model.units import Units, length

OFF_ASKED_STOPS: Final = 1 / 3  # a meter and a dial agree no closer: common practice
BURIED_STOPS: Final = 5.0
AMBIENT_WARN_STOPS: Final = 3.0
WHOLE_WARN_STOPS: Final = 0.3
_SLACK: Final = 1e-6
_LEAST_SHOWN: Final = 0.05  # of a stop: less shows as nothing in tenths


def audit_light(
    plan: Plan, measured: Sequence[Measured] = (), predictions: Mapping[str, Prediction] | None = None
) -> tuple[Problem, ...]:
    """Return every problem of the light in the day's order, then of the batteries.

    ``predictions`` by setup id spares working them out again. Raises ValueError as ``predict``.
    """
    known = predictions or {}
    problems: list[Problem] = []
    for setup in plan.order:
        light = known.get(setup.id) or predict(plan, setup, measured)
        for head in light.heads:
            problems += _reading(plan, setup, light, head)
            problems += _recycling(plan, setup, head)
            problems += _seen_by_lens(setup, head)
        problems += _assumed_spread(plan.kit, setup)
        for panel in light.panels:
            if panel.in_frame:
                do = "move it out of the picture, use a longer lens, or crop"
                problems.append(Problem("warn", "in-frame", setup.id, panel.panel, f"{panel.panel} is in shot", do))
        problems += _whole(setup, light)
        problems += _ambient(plan, setup, light)
    for battery in batteries(plan):
        problems += _battery(battery)
    return tuple(problems)


def _reading(plan: Plan, setup: Setup, light: Prediction, one: HeadLight) -> Iterator[Problem]:
    asked, head = one.asked_stops, one.head
    if asked is None or not one.power.fires:
        return
    if one.dial is None or one.reads_stops is None:
        what = f"{head} is asked to read {meter_text(asked)}, but none of its beam reaches the face"
        do = "aim it at the face, or delete the reading asked for"
        yield Problem("warn", "light-misses-face", setup.id, head, what, do)
        return
    if not one.dial.in_range:
        yield _out_of_range(plan, setup, light, one, one.dial)
        return
    off = one.reads_stops - asked
    if abs(off) > OFF_ASKED_STOPS + _SLACK:
        way = "over" if off > 0 else "under"
        what = f"{head} reads {meter_text(one.reads_stops)} at {one.power}, {_off_text(off, asked)}"
        yield Problem("warn", f"reading-{way}", setup.id, head, what, f"set {head} to {one.dial.power}")


def _off_text(off: float, asked: float) -> str:
    return f"{_stops(off)} {'over' if off > 0 else 'under'} the {meter_text(asked)} asked for"


def _out_of_range(plan: Plan, setup: Setup, light: Prediction, one: HeadLight, dial: DialSetting) -> Problem:
    off = dial.left_over_stops
    asked = one.asked_stops or 0.0
    code, end = ("dial-too-low", "lowest") if off > 0 else ("dial-too-high", "full")
    what = (
        f"{one.head} reads {meter_text(asked + off)} at {dial.power}, its {end} power: {_off_text(off, asked)} "
        f"(working aperture {meter_text(light.aperture_stops)})"
    )
    ways = head_ways_out(plan, setup, one)
    do = "" if ways is None else _ways_text(ways, off, plan.day.units)
    return Problem("stop", code, setup.id, one.head, what, do)


def head_ways_out(plan: Plan, setup: Setup, one: HeadLight) -> WaysOut | None:
    """Return the ways out for a head whose dial does not reach what is asked; None when it does."""
    if one.dial is None or one.dial.in_range:
        return None
    placed = setup.light[one.head]
    tape = None
    if placed.aim == "face":
        least_m = abs(placed.height_m - setup.subject.face_height_m)
        tape = Tape(source_of(plan.kit, placed), placed.distance_m, least_m)
    return ways_out(one.dial.left_over_stops, setup.exposure.iso, plan.kit.camera.iso_min, tape)


def _ways_text(ways: WaysOut, off: float, units: Units) -> str:
    bright = off > 0
    texts = []
    if ways.distance_m is not None:
        texts.append(f"move it {'back' if bright else 'in'} to {length(ways.distance_m, units, '.2f')}")
    if ways.nd_stops is not None:
        texts.append(f"put {_stops(ways.nd_stops)} of ND on it")
    if ways.iso is not None:
        texts.append(f"set ISO {ways.iso} and turn the other heads {'up' if bright else 'down'} to match")
    return ", or ".join([*texts, f"{'close' if bright else 'open'} the lens by {_stops(off)}"])


def _recycling(plan: Plan, setup: Setup, one: HeadLight) -> Iterator[Problem]:
    if one.recycle_s is None or setup.frames == 0 or setup.shoot_min == 0:
        return
    rhythm = setup.shoot_min * 60 / setup.frames
    if one.recycle_s <= rhythm + _SLACK:
        return
    what = f"{one.head} recycles in {one.recycle_s:.1f} s at {one.power}; a frame is due every {rhythm:.1f} s"
    do = f"allow {setup.frames * one.recycle_s / 60:.0f} min{_lower_power(plan.kit.head[one.head], one, rhythm)}"
    yield Problem("warn", "recycle-slow", setup.id, one.head, what, do)


def _lower_power(head: Head, one: HeadLight, rhythm: float) -> str:
    """Return the highest power under the set one that keeps the rhythm, and what it costs."""
    quick = [power for power in head.dial.every() if power < one.power and recycle_s(head, power) <= rhythm + _SLACK]
    if not quick:
        return ""
    highest, set_at = quick[-1].below_full, one.power.below_full
    assert highest is not None and set_at is not None
    return f", or set {quick[-1]} and move it in or raise the ISO by {_stops(float(highest - set_at))}"


def _seen_by_lens(setup: Setup, one: HeadLight) -> Iterator[Problem]:
    if one.in_frame:
        do = "move it out of the picture, raise it, use a longer lens, or crop"
        yield Problem("warn", "in-frame", setup.id, one.head, f"{one.head} or its modifier is in shot", do)
    if one.flare:
        what = f"lens flare: the beam of {one.head} hits the lens"
        do = "put a flag between it and the lens, turn it away, or narrow it with a grid"
        yield Problem("warn", "flare", setup.id, one.head, what, do)


def _assumed_spread(kit: Kit, setup: Setup) -> Iterator[Problem]:
    for light in setup.lights:
        if light.power.fires and assumes_bare_spread(kit, light):
            what = f"{light.head} has no spread_deg; {BARE_SPREAD_DEG:.0f}° assumed, a standard reflector's"
            do = f'write spread_deg in kit.toml, under [[modifier]] id = "{light.modifier}"'
            yield Problem("note", "spread-assumed", setup.id, light.head, what, do)


def _whole(setup: Setup, light: Prediction) -> Iterator[Problem]:
    """All heads together, the dome turned to the camera, against the working aperture."""
    over, after = light.whole_over_stops, light.whole_as_asked_over_stops
    if over is None or light.whole_stops is None or abs(over) <= WHOLE_WARN_STOPS + _SLACK:
        return
    way = "over" if over > 0 else "under"
    settings = [
        f"{one.head} to {one.dial.power}"
        for one in light.heads
        if one.power.fires and one.dial is not None and one.dial.power != one.power
    ]
    texts = []
    if settings and after is not None:
        texts.append(f"set {', '.join(settings)} as asked: then {after:+.1f}")
    left = over if after is None else after
    if abs(left) > WHOLE_WARN_STOPS + _SLACK:
        change, lens = ("less", "close") if left > 0 else ("more", "open")
        texts.append(f"ask {_stops(left)} {change} of the heads, or {lens} the lens by as much")
    what = (
        f"whole reading {meter_text(light.whole_stops)} (flash, dome to the camera), {_stops(over)} {way} the "
        f"working aperture {meter_text(light.aperture_stops)}; {WHOLE_WARN_STOPS:g} allowed"
    )
    yield Problem("warn", f"whole-{way}", setup.id, None, what, "; then ".join(texts))


def _ambient(plan: Plan, setup: Setup, light: Prediction) -> Iterator[Problem]:
    under = light.ambient_under_stops
    if under is None or light.whole_stops is None or under >= BURIED_STOPS - _SLACK:
        return
    level: Level = "note"
    code, what = (
        "ambient-shows",
        f"only {_stops(under)} under the working aperture; {BURIED_STOPS:.0f} needed to hide it",
    )
    if under < -_SLACK:
        level, code, what = "stop", "ambient-over", f"{_stops(under)} over the working aperture: more than the flash"
    elif under < AMBIENT_WARN_STOPS - _SLACK:
        level = "warn"
        what = f"only {_stops(under)} under the working aperture; it shows under {AMBIENT_WARN_STOPS:.0f}"
    do = ", or ".join(_darker(plan, setup, BURIED_STOPS - under))
    yield Problem(level, code, setup.id, None, f"room light {what}", do)


def _darker(plan: Plan, setup: Setup, need: float) -> Iterator[str]:
    """Yield the ways to bring the room's light down by so many stops; each as far as it goes."""
    camera, exposure, lux = plan.kit.camera, setup.exposure, plan.day.place.ambient_lux
    yield f"darken the room from {_lux(lux)} to {_lux(lux * 2.0**-need)} lux"
    gain = shutter_stops(camera.sync) - shutter_stops(exposure.shutter)
    if gain > _LEAST_SHOWN:
        yield f"shoot at {camera.sync} for {_stops(min(gain, need))} of it"
    slower = iso_stops(exposure.iso) - iso_stops(camera.iso_min)
    if slower > _LEAST_SHOWN:
        lower = _iso_below(exposure.iso, min(slower, need), camera.iso_min)
        gained = iso_stops(exposure.iso) - iso_stops(lower)
        yield f"set ISO {lower} for {_stops(gained)} of it and turn the heads up to match"
    closing = aperture_stops(plan.kit.lens[setup.view.lens].f_max) - aperture_stops(exposure.f)
    if closing > _LEAST_SHOWN:
        of_it = "" if closing >= need - _LEAST_SHOWN else " of it"
        yield f"close down {_stops(min(closing, need))}{of_it} and turn the heads up to match"


def _lux(lux: float) -> str:
    """Return whole lux, but never 0 of a light there is."""
    return f"{lux:.0f}" if lux >= 10 else f"{lux:.2g}"


def _iso_below(iso: float, stops: float, iso_min: float) -> int:
    """Return the highest marked speed that is at least so many stops slower, not under ``iso_min``."""
    wanted = iso_stops(iso) - stops + _SLACK
    marks = [mark for mark, at in ISO_MARKS.items() if at <= wanted and mark >= iso_min]
    return max(marks, default=round(iso_min))


def _battery(battery: Battery) -> Iterator[Problem]:
    head = battery.head
    use = f"{head} uses {battery.spent:.0f} full-power flashes today, {battery.of:.0f} a charge"
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


def _stops(stops: float) -> str:
    """Return an amount of light as text, without its sign."""
    return f"{abs(stops):.1f} stops"
