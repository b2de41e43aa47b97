"""What is wrong with a kit and a day past the shape of their tables: ids, ranges, what does not go together.

Both may be right in part only (see ``partly``). A rule that asks for a value that is wrong ends there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from runbook.files import rules
from runbook.files.errors import Path, Wrong, shown, split
from runbook.files.validate import Unknown, wrongs_of
from runbook.model.day import Day
from runbook.model.kit import BARE, Head, Kit
from runbook.model.nominal_values import shutter_stops
from runbook.model.power import Dial, stops_below

# -- things by themselves ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Rule:
    """A key of a thing, when it is wrong, what to say of the thing (``{0}``), and another key it does not go with."""

    key: str
    wrong: Callable[[Any], bool]
    what: str
    do: str
    beside: str = ""


# by the field of the kit or day and the key in its file
_OF_THINGS: Final = {
    ("heads", "head"): (
        _Rule("recycle_min_s", lambda head: head.recycle_min_s > head.recycle_full_s,
              "{0.recycle_min_s:g} s is longer than a full flash takes",
              "write at most recycle_full_s, {0.recycle_full_s:g}"),
    ),
    ("modifiers", "modifier"): (
        _Rule("width_m", lambda modifier: modifier.shape != "bare" and modifier.width_m < 0.001,
              "a {0.shape} modifier must have a size", "write it in metres, like 0.9"),
        _Rule("height_m", lambda modifier: modifier.shape == "rectangle" and modifier.height_m < 0.001,
              "a {0.shape} modifier must have a size", "write it in metres, like 0.9"),
        _Rule("shape", lambda modifier: modifier.id == BARE and modifier.shape != "bare",
              '"bare" always means a head without a modifier', "give this one another id"),
    ),
    ("stands", "stand"): (
        _Rule("height_max_m", lambda stand: stand.height_max_m < stand.height_min_m,
              "{0.height_max_m:g} m is lower than height_min_m, {0.height_min_m:g} m", "change one of the two"),
        _Rule("arm_m", lambda stand: stand.is_boom and stand.arm_m is None,
              "a boom must have it", "write arm_m, in metres from the pivot"),
        _Rule("arm_back_m", lambda stand: stand.is_boom and stand.arm_back_m is None,
              "a boom must have it", "write arm_back_m, in metres from the pivot"),
    ),
    ("cloths", "cloth"): (
        _Rule("reflectance", lambda cloth: cloth.passes + cloth.reflectance > 1 + 1e-9,
              "it lets {0.passes:.2g} of the light through and sends {0.reflectance:g} of it back: more than comes",
              "write at most 1 - {0.passes:.2g}, or more loss_stops", beside="loss_stops"),
    ),
    ("lenses", "lens"): (
        _Rule("f_max", lambda lens: lens.f_max < lens.f_min,
              "f/{0.f_max:g} is wider than f_min, f/{0.f_min:g}", "f_min is the widest aperture, the smaller number"),
    ),
    ("breaks", "break"): (
        _Rule("latest", lambda stop: stop.latest < stop.earliest,
              "{0.latest} is before the earliest it may start, {0.earliest}", "give the later of the two times",
              beside="earliest"),
    ),
}  # fmt: skip


def _things(whole: Kit | Day) -> Iterator[Wrong]:
    for (name, key), own in _OF_THINGS.items():
        with suppress(Unknown):
            for place, thing in enumerate(getattr(whole, name, ())):
                for rule in own:
                    yield from wrongs_of((_thing,), rule, thing, (key, place))


def _thing(rule: _Rule, thing: Any, path: Path) -> Iterator[Wrong]:
    if rule.wrong(thing):
        paths = tuple((*path, key) for key in (rule.key, rule.beside) if key)
        yield Wrong(paths, rule.what.format(thing), rule.do.format(thing))


# -- the kit -----------------------------------------------------------------------------------


def kit_wrongs(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    """Faults of a kit, and of the ids in its file."""
    for kind in rules.KIT_KINDS:
        yield from rules.twice_wrongs(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    yield from _shared_names(table)
    yield from rules.unknown_wrongs(table, rules.IN_KIT, rules.kit_ids(table))
    yield from wrongs_of((_things, _dials, _sync), kit)
    yield from wrongs_of((_measured_power, _measured_fits), kit, table)


def _shared_names(table: Mapping[str, Any]) -> Iterator[Wrong]:
    first: dict[str, str] = {}
    for kind in ("head", "panel", "cloth"):
        for path, name in rules.written(table, (kind, "*", "id")):
            other = first.setdefault(name, kind)
            if other != kind:
                words = "drop" if kind == "cloth" else "aim and drop"
                what = f"a {other} is called {shown(name)} too, so {words} could mean either"
                yield Wrong((path,), what, f"give the {kind} another id")
            if name in rules.TAKEN and kind != "cloth":
                what = f"{shown(name)} means something else where a light is aimed"
                yield Wrong((path,), what, f"give the {kind} another id")


def _dial_of(head: Head) -> Dial | None:
    """A head's dial, if that is right."""
    try:
        return head.dial
    except (ValueError, Unknown):
        return None


def dials_of(kit: Kit) -> dict[str, Dial]:
    """The dials that are right, by head."""
    with suppress(Unknown):
        return {head.id: dial for head in kit.heads if (dial := _dial_of(head)) is not None}
    return {}


def _dials(kit: Kit) -> Iterator[Wrong]:
    for place, head in enumerate(kit.heads):
        with suppress(Unknown):
            yield from rules.refused((("head", place, "power_min"),), getattr, head, "dial")


def _sync(kit: Kit) -> Iterator[Wrong]:
    yield from rules.refused((("camera", "sync"),), shutter_stops, kit.camera.sync)


def _measured_power(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    dials = dials_of(kit)
    for path, power in rules.written(table, ("measured", "*", "power")):
        name = table["measured"][path[1]].get("head")
        dial = dials.get(name) if isinstance(name, str) else None
        try:
            # what is no power on a dial of thirds is one on no dial
            fires = (dial.read(power) if dial else stops_below(power, Fraction(1, 3))).fires
        except ValueError as problem:
            yield Wrong((path,), *split(problem))
        else:
            if not fires:
                yield Wrong((path,), "a head that is off reads nothing", "write its power")


def _measured_fits(kit: Kit, table: Mapping[str, Any]) -> Iterator[Wrong]:
    """A row for what cannot be put together would never be used."""
    for path, name in rules.written(table, ("measured", "*", "accessories", "*")):
        with suppress(Unknown):
            yield from rules.fits_wrongs(kit, kit.measured[path[1]].modifier, name, (path,), "")


# -- the day -----------------------------------------------------------------------------------


def day_wrongs(day: Day, table: Mapping[str, Any], setups: Set[str]) -> Iterator[Wrong]:
    """Faults of a day, and of the ids in its file.

    A day begins and ends on the one date it has: every time in it is a time of that day, so one that runs past
    midnight has to be written as two.
    """
    yield from rules.unknown_wrongs(table, rules.IN_DAY, {"setup": setups})
    yield from rules.twice_wrongs(table, ("order", "*"), "{} is in the order already")
    for kind in rules.DAY_KINDS:
        yield from rules.twice_wrongs(table, (kind, "*", "id"), f"another {kind} is already called {{}}")
    if table.get("order", []) == []:
        what = "no setup is to be shot" if "order" in table else "is missing"
        yield Wrong((("order",),), what, 'write the ids of the setups, like ["one", "two"]')
    yield from wrongs_of((_hours, _things, _calls), day)


def _hours(day: Day) -> Iterator[Wrong]:
    if day.wrap <= day.call:
        what = f"{day.wrap} is not after the call at {day.call}"
        do = "a day ends by midnight, 23:59:59; write what follows as a day of its own"
        yield Wrong((("wrap",), ("call",)), what, do)


def _calls(day: Day) -> Iterator[Wrong]:
    for place, look in enumerate(day.looks):
        with suppress(Unknown):
            if look.call is not None and look.call >= day.wrap:
                what = f"{look.call} is not before the wrap at {day.wrap}"
                do = "give a time before the wrap, or leave it out: the day's call counts then"
                yield Wrong((("look", place, "call"), ("wrap",)), what, do)
