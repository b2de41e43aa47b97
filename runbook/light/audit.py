"""What the light cannot do, or should not: each with the remedy in numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from runbook.light.battery import Battery, batteries, recycle_s
from runbook.light.exposure import assumes_bare_spread, source_of
from runbook.light.power import Tape, WaysOut, ways_out
from runbook.light.prediction import HeadLight, PanelLight, Prediction, predict
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
    """Every problem of the light in the day's order, then of the batteries.

    ``predictions`` by setup id spares working them out again. Raises ValueError as ``predict``.
    """
    known = {} if predictions is None else predictions
    problems: list[Problem] = []
    for setup in plan.order:
        light = known.get(setup.id) or predict(plan, setup, measured)
        for one in light.heads:
            problems += _reading(plan, setup, light, one)
            problems += _recycling(plan, setup, one)
            problems += _seen_by_lens(setup, one)
        problems += _assumed_spread(plan.kit, setup)
        for panel in light.panels:
            problems += _panel_in_frame(setup, panel)
        problems += _whole(setup, light)
        problems += _ambient(plan, setup, light)
    for battery in batteries(plan):
        problems += _battery(battery)
    return tuple(problems)


def _reading(plan: Plan, setup: Setup, light: Prediction, one: HeadLight) -> Iterator[Problem]:
    asked = one.asked_stops
    if asked is None or not one.power.fires:
        return
    if one.dial is None or one.reads_stops is None:
        yield Problem(
            "warn",
            "light-misses-face",
            setup.id,
            one.head,
            f"{one.head} is asked to read {meter_text(asked)}, but none of its beam reaches the face",
            "aim it at the face, or take away what it is asked to read",
        )
        return
    if not one.dial.in_range:
        yield _out_of_range(plan, setup, light, one, asked)
        return
    off = one.reads_stops - asked
    if abs(off) > OFF_ASKED_STOPS + _SLACK:
        yield Problem(
            "warn",
            "reading-over" if off > 0 else "reading-under",
            setup.id,
            one.head,
            f"{one.head} reads {meter_text(one.reads_stops)} at {one.power}, "
            f"{_stops(off)} {'over' if off > 0 else 'under'} the {meter_text(asked)} asked",
            f"dial {one.dial.power} instead",
        )


def _out_of_range(plan: Plan, setup: Setup, light: Prediction, one: HeadLight, asked: float) -> Problem:
    assert one.dial is not None
    left_over = one.dial.left_over_stops
    bright = left_over > 0
    ways = head_ways_out(plan, setup, one)
    end = f"{one.head} reads {meter_text(asked + left_over)} even at {one.dial.power}"
    return Problem(
        "stop",
        "dial-too-low" if bright else "dial-too-high",
        setup.id,
        one.head,
        f"{end}, {_stops(left_over)} {'over' if bright else 'under'} the {meter_text(asked)} asked "
        f"(working aperture {meter_text(light.aperture_stops)})",
        _ways_in_words(ways, left_over, plan.day.units),
    )


def head_ways_out(plan: Plan, setup: Setup, one: HeadLight) -> WaysOut | None:
    """The ways out for a head whose dial does not reach what is asked; None when it does."""
    if one.dial is None or one.dial.in_range:
        return None
    placed = setup.light[one.head]
    least_m = abs(placed.height_m - setup.subject.face_height_m)
    aimed = placed.aim == "face"
    return ways_out(
        one.dial.left_over_stops,
        setup.exposure.iso,
        plan.kit.camera.iso_min,
        Tape(source_of(plan.kit, placed), placed.distance_m, least_m) if aimed else None,
    )


def _ways_in_words(ways: WaysOut | None, left_over: float, units: Units) -> str:
    assert ways is not None
    bright = left_over > 0
    words = []
    if ways.distance_m is not None:
        tape = length(ways.distance_m, units, ".2f")
        words.append(f"{'back' if bright else 'in'} to {tape}")
    if ways.nd_stops is not None:
        words.append(f"{_stops(ways.nd_stops)} of ND on the head")
    if ways.iso is not None:
        words.append(f"ISO {ways.iso} with the other heads {'up' if bright else 'down'} to match")
    rest = f"{'close' if bright else 'open'} the lens by {_stops(left_over)}"
    return ", or ".join([*words, rest])


def _recycling(plan: Plan, setup: Setup, one: HeadLight) -> Iterator[Problem]:
    if one.recycle_s is None or setup.frames == 0 or setup.shoot_min == 0:
        return
    rhythm = setup.shoot_min * 60 / setup.frames
    if one.recycle_s <= rhythm + _SLACK:
        return
    minutes = setup.frames * one.recycle_s / 60
    yield Problem(
        "warn",
        "recycle-slow",
        setup.id,
        one.head,
        f"{one.head} takes {one.recycle_s:.1f} s to recycle at {one.power}, a frame is due every {rhythm:.1f} s",
        f"allow {minutes:.0f} min{_lower_power(plan.kit.head[one.head], one, rhythm)}",
    )


def _lower_power(head: Head, one: HeadLight, rhythm: float) -> str:
    """The highest power under the set one that keeps the rhythm, and what it costs."""
    quick = [power for power in head.dial.every() if power < one.power and recycle_s(head, power) <= rhythm + _SLACK]
    if not quick:
        return ""
    highest, set_at = quick[-1].below_full, one.power.below_full
    assert highest is not None and set_at is not None
    lost = float(highest - set_at)
    return f", or dial {quick[-1]} and bring it in or raise the ISO by {_stops(lost)}"


def _seen_by_lens(setup: Setup, one: HeadLight) -> Iterator[Problem]:
    if one.in_frame:
        yield Problem(
            "warn",
            "in-frame",
            setup.id,
            one.head,
            f"{one.head} or its modifier stands inside the picture",
            "move it out or raise it, take a longer lens, or crop",
        )
    if one.flare:
        yield Problem(
            "warn",
            "flare",
            setup.id,
            one.head,
            f"the lens stands in the beam of {one.head}",
            "flag it off the lens, turn it away, or narrow it with a grid",
        )


def _assumed_spread(kit: Kit, setup: Setup) -> Iterator[Problem]:
    for light in setup.lights:
        if light.power.fires and assumes_bare_spread(kit, light):
            yield Problem(
                "note",
                "spread-assumed",
                setup.id,
                light.head,
                f"{light.head} has no modifier with a spread_deg: {BARE_SPREAD_DEG:.0f} degrees "
                "are assumed, those of a standard reflector",
                f'give spread_deg in kit.toml, under [[modifier]] id = "{light.modifier}"',
            )


def _panel_in_frame(setup: Setup, panel: PanelLight) -> Iterator[Problem]:
    if panel.in_frame:
        yield Problem(
            "warn",
            "in-frame",
            setup.id,
            panel.panel,
            f"{panel.panel} stands inside the picture",
            "move it out, take a longer lens, or crop",
        )


def _whole(setup: Setup, light: Prediction) -> Iterator[Problem]:
    """All heads together against the aperture the camera is set to, the dome turned to it."""
    over = light.whole_over_stops
    if over is None or light.whole_stops is None or abs(over) <= WHOLE_WARN_STOPS + _SLACK:
        return
    way, lens = ("over", "close") if over > 0 else ("under", "open")
    after, dialled = light.whole_as_asked_over_stops, _to_dial(light)
    words = []
    if dialled and after is not None:
        words.append(f"dial {', '.join(dialled)} as asked: then {after:+.1f}")
    if after is None or abs(after) > WHOLE_WARN_STOPS + _SLACK:
        left = over if after is None else after
        change = "less" if left > 0 else "more"
        lens = "close" if left > 0 else "open"
        words.append(f"ask {_stops(left)} {change} of the heads, or {lens} the lens by as much")
    yield Problem(
        "warn",
        f"whole-{way}",
        setup.id,
        None,
        f"all flash, dome to the camera: {meter_text(light.whole_stops)}, {_stops(over)} {way} the "
        f"working aperture {meter_text(light.aperture_stops)}; at most {WHOLE_WARN_STOPS:g}",
        "; then ".join(words),
    )


def _to_dial(light: Prediction) -> list[str]:
    """The heads that are not set to what is asked of them, each with the power to dial."""
    return [
        f"{one.head} {one.dial.power}"
        for one in light.heads
        if one.power.fires and one.dial is not None and one.dial.power != one.power
    ]


def _ambient(plan: Plan, setup: Setup, light: Prediction) -> Iterator[Problem]:
    under = light.ambient_under_stops
    if under is None or light.whole_stops is None or under >= BURIED_STOPS - _SLACK:
        return
    over = under < -_SLACK
    warns = under < AMBIENT_WARN_STOPS - _SLACK
    level: Level = "stop" if over else "warn" if warns else "note"
    if over:
        what = f"{_stops(under)} over the working aperture; it lights more than the flash is to"
    else:
        goal = AMBIENT_WARN_STOPS if warns else BURIED_STOPS
        what = f"only {_stops(under)} under the working aperture; "
        what += f"under {goal:.0f} it {'shows' if warns else 'may show'}"
    yield Problem(
        level,
        "ambient-over" if over else "ambient-shows",
        setup.id,
        None,
        f"the room's own light is {what}",
        ", or ".join(_darker(plan, setup, BURIED_STOPS - under)),
    )


def _darker(plan: Plan, setup: Setup, need: float) -> Iterator[str]:
    """The ways to bring the room's light down by so many stops; each as far as it goes."""
    camera, exposure = plan.kit.camera, setup.exposure
    lux = plan.day.place.ambient_lux
    yield f"darken the room from {_lux(lux)} to {_lux(lux * 2.0**-need)} lux"
    gain = shutter_stops(camera.sync) - shutter_stops(exposure.shutter)
    if gain > _LEAST_SHOWN:
        yield f"shoot at {camera.sync} for {_stops(min(gain, need))} of it"
    slower = iso_stops(exposure.iso) - iso_stops(camera.iso_min)
    if slower > _LEAST_SHOWN:
        lower = _iso_below(exposure.iso, min(slower, need), camera.iso_min)
        gained = iso_stops(exposure.iso) - iso_stops(lower)
        yield f"go down to ISO {lower} for {_stops(gained)} of it with the heads up to match"
    closing = aperture_stops(plan.kit.lens[setup.view.lens].f_max) - aperture_stops(exposure.f)
    if closing > _LEAST_SHOWN:
        of_it = "" if closing >= need - _LEAST_SHOWN else " of it"
        yield f"close down {_stops(min(closing, need))}{of_it} with the heads up to match"


def _lux(lux: float) -> str:
    """Whole lux, but never 0 of a light there is."""
    return f"{lux:.0f}" if lux >= 10 else f"{lux:.2g}"


def _iso_below(iso: float, stops: float, iso_min: float) -> int:
    """The highest marked speed that is at least so many stops slower, not under ``iso_min``."""
    wanted = iso_stops(iso) - stops + _SLACK
    marks = [mark for mark, at in ISO_MARKS.items() if at <= wanted and mark >= iso_min]
    return max(marks, default=round(iso_min))


def _battery(battery: Battery) -> Iterator[Problem]:
    count = f"{battery.head} spends {battery.spent:.0f} full-power flashes of {battery.of:.0f}"
    for setup_id in battery.overruns:
        yield Problem(
            "warn",
            "battery-overrun",
            setup_id,
            battery.head,
            f"one charge of {battery.head} does not last {setup_id}",
            "plan a change of battery in the middle of it, or dial lower and raise the ISO",
        )
    if not battery.lasts:
        short = battery.charges - 1 - battery.spares
        yield Problem(
            "warn",
            "battery-short",
            battery.change_before,
            battery.head,
            f"{count}: {battery.charges} charges, and there are {1 + battery.spares}",
            f"bring {short} more, charge {short} in the meal break, or run it off the mains",
        )
    for setup_id in battery.changes:
        yield Problem(
            "note",
            "battery-change",
            setup_id,
            battery.head,
            f"{count}; this one does not last through {setup_id}",
            f"change the battery of {battery.head} before {setup_id}",
        )


def _stops(stops: float) -> str:
    """An amount of light in words, without its sign."""
    return f"{abs(stops):.1f} stops"
