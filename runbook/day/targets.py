"""A target typed at the set as it really is: ``height 2.1``, ``angle 40 left``, ``f 5.6``.

Read in the day's units, and held to what the plan's reader would hold a file to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from math import hypot
from typing import Any, Final

from runbook.day.values_said import word_of
from runbook.files.errors import instead
from runbook.files.parse_input import (
    read_aperture,
    read_choice,
    read_ids,
    read_length,
    read_number,
    read_power,
    read_shutter,
)
from runbook.files.validate import plain
from runbook.journal.entries import Changed
from runbook.model.day import Plan
from runbook.model.geometry import ground_radius
from runbook.model.setup import Exposure, Light, Setup, View
from runbook.model.units import Units, length

_PLACE: Final = ("side", "angle_deg", "distance_m", "height_m")
_PLACED: Final = ("height", "tape", "angle", "side")
_THINGS: Final = ("stand", "head", "modifier", "accessories", "bags")
_OF_HEAD: Final = (*_PLACED, "power", *_THINGS)
_OF_CAMERA: Final = ("f", "shutter", "iso", "lens", "camera")
_NOTHING: Final = ("none", "nothing", "-")
_VIEW: Final = {"distance": "distance_m", "height": "height_m"}
_AFTER_ALL: Final = "space on the skipped step says that it is done after all"
_SAME_AS: Final = {"distance": "tape", "aperture": "f", "f/": "f", "accessory": "accessories", "bag": "bags"}
_SIDES: Final = ("left", "right")


def hint(units: Units, *, head: bool) -> str:
    """What can be typed, by example."""
    high, away = (length(metres, units) for metres in (2.1, 1.6))
    of_head = (
        f"height {high}, tape {away}, angle 40 left, power 1/8+0.3, stand S2, head B, "
        "modifier none, accessories none, bags B1 B2, "
    )
    return (
        f"like {of_head if head else ''}f 5.6, shutter 1/125, iso 200, lens 85, "
        f"camera distance {away}, camera height {high}"
    )


def read_target(plan: Plan, asked: Setup, stands: Setup, head: str | None, text: str) -> tuple[Changed, ...]:
    """The changes that make a target what was typed, in an order that is real at every step.

    ``asked`` is what the setup asks for, ``stands`` what it is as it stands: whatever else of the
    same thing is not as asked is said along. Raises ValueError with what would be right.
    """
    word, value = _parted(text)
    known = (*(_OF_HEAD if head is not None else ()), *_OF_CAMERA)
    key = _SAME_AS.get(word, word)
    if key not in known:
        what = f"{word!r} is no target" if word else "nothing is no target"
        near = instead(word, known) if word and not value else f"there are {', '.join(known)}"
        raise ValueError(f"{what}; {near}")
    if key in ("lens", "camera"):
        return _viewed(plan, asked, stands, key, value)
    if key in _OF_CAMERA:
        old, new = asked.exposure, replace(stands.exposure, **_exposed(key, value))
        _check(plan, asked, stands, replace(stands, exposure=new), new)
        keys = tuple(field.name for field in fields(Exposure))
        changes = tuple(_changes(Changed(asked.id, "camera", "", None, None), old, new, keys))
        if not changes and new != stands.exposure:
            raise ValueError(f"that is what the plan asks; {_AFTER_ALL}")
        return changes
    assert head is not None
    of = Changed(asked.id, "head", "power", None, None, head)
    if key == "power":
        dial = plan.kit.head[head].dial
        power, was = read_power(value, dial), asked.light[head].power
        return (of._replace(before=str(was), now=str(dial.read(power))),)
    if key in _THINGS:
        return _other_thing(plan, asked, stands, of, (key, value))
    return _placed_anew(plan, asked, stands, of, (key, value))


def _parted(text: str) -> tuple[str, str]:
    """The word in front, and the rest; ``f/5.6`` and ``f5.6`` are parted after the f."""
    said = " ".join(text.split())
    word, _, rest = said.partition(" ")
    if word[:1].lower() == "f" and word[1:2] and word[1:2] in "/0123456789":
        return "f", word[1:].removeprefix("/") + rest
    return word.lower().rstrip(":="), rest


def _exposed(key: str, value: str) -> dict[str, Any]:
    if key == "f":
        return {"f": read_aperture(value)}
    if key == "shutter":
        return {"shutter": read_shutter(value)}
    return {"iso": read_number(value)}


def _viewed(plan: Plan, asked: Setup, stands: Setup, key: str, value: str) -> tuple[Changed, ...]:
    """The lens, or the camera's place or which way up it is."""
    table: dict[str, Any]
    if key == "lens":
        table = {"lens": read_choice(value, [*plan.kit.lens], "lens")}
    else:
        word, rest = _parted(value)
        what = read_choice(word, (*_VIEW, "portrait", "landscape"), "place of the camera")
        table = {"orientation": what}
        if what in _VIEW:
            table = {_VIEW[what]: read_length(rest, plan.day.units)}
    new = replace(stands.view, **table)
    _check(plan, asked, stands, replace(stands, view=new), new)
    of = Changed(asked.id, "camera", "", None, None)
    changes = tuple(_changes(of, asked.view, new, tuple(field.name for field in fields(View))))
    if not changes and new != stands.view:
        raise ValueError(f"that is what the plan asks; {_AFTER_ALL}")
    return changes


# -- heads -----------------------------------------------------------------------------------------


def _other_thing(plan: Plan, asked: Setup, stands: Setup, of: Changed, typed: tuple[str, str]) -> tuple[Changed, ...]:
    """Another stand, head, modifier, accessories or bags in the place of those planned."""
    (key, value), kit = typed, plan.kit
    old = asked.light[of.item]
    now = stands.light.get(of.item, old)
    nothing = value.lower() in _NOTHING
    table: dict[str, Any]
    if key == "head":
        head = read_choice(value, [*kit.head], "head")
        if head in asked.light and head != of.item:
            raise ValueError(f"{head} is in this setup already; it cannot be in two places")
        kit.head[head].dial.read(str(now.power))
        table = {"head": head}
    elif key == "stand":
        table = {"stand": read_choice(value, [*kit.stand], "stand")}
    elif key == "modifier":
        modifier = "bare" if nothing else read_choice(value, [*kit.modifier], "modifier")
        fits = (each for each in now.accessories if modifier in kit.accessory[each].fits)
        table = {"modifier": modifier, "accessories": tuple(fits)}
    else:
        choices = [*(kit.accessory if key == "accessories" else kit.bag)]
        table = {key: () if nothing else tuple(read_ids(value, choices, key))}
    new = replace(now, **table)
    lights = tuple(new if each.head == of.item else each for each in stands.lights)
    _check(plan, asked, stands, replace(stands, lights=lights), new)
    # accessories that go come off before their modifier
    keys = ("accessories", "modifier", "stand", "bags", "head")
    return tuple(_changes(of, old, new, keys))


def _placed_anew(plan: Plan, asked: Setup, stands: Setup, of: Changed, typed: tuple[str, str]) -> tuple[Changed, ...]:
    head = of.item
    old = asked.light[head]
    now = stands.light.get(head, old)
    new = replace(now, **_placed(plan, stands, now, *typed))
    lights = tuple(new if each.head == head else each for each in stands.lights)
    _check(plan, asked, stands, replace(stands, lights=lights), new)
    changes = list(_changes(of, old, new, _PLACE))
    if not changes and new != now:
        raise ValueError(f"that is what the plan asks; {_AFTER_ALL}")
    # a longer tape first and a shorter one last: no tape is ever too short for the height
    grows = new.distance_m > old.distance_m
    changes.sort(key=lambda each: (each.key == "distance_m") != grows)
    return tuple(changes)


def _placed(plan: Plan, stands: Setup, now: Light, key: str, value: str) -> dict[str, Any]:
    units, face_m = plan.day.units, stands.subject.face_height_m
    if key == "height":
        high = read_length(value, units)
        # the stand stays where it is: it is the tape that goes with the height
        radius = ground_radius(now.distance_m, now.height_m, face_m)
        return {"height_m": high, "distance_m": round(hypot(radius, high - face_m), 5)}
    if key == "tape":
        return {"distance_m": read_length(value, units)}
    if key == "side":
        return {"side": read_choice(value, _SIDES, "side")}
    words = value.replace("camera-", "").split()
    sides = [word for word in words if word[:1].isalpha() and word != "deg"]
    turned: dict[str, Any] = {"side": read_choice(sides[0], _SIDES, "side")} if sides else {}
    number = " ".join(word for word in words if word not in sides)
    return turned | {"angle_deg": read_number(number, "deg")}


# -- what is right, and what is written ------------------------------------------------------------


def _check(plan: Plan, asked: Setup, before: Setup, after: Setup, shape: Any) -> None:
    """Raises ValueError with the first thing wrong that was not wrong before."""
    from runbook.files.form import wrong_with  # all the forms, and only now
    from runbook.files.setup_rules import Parts, setup_wrongs

    table = plain(shape)
    for key in table:
        said = wrong_with(type(shape), table, key)
        if said:
            raise ValueError(f"{word_of(key)}: {said}")

    def wrongs(setup: Setup) -> Iterator[tuple[str, str]]:
        parts = Parts(plan.kit, setup, _table(setup), {*asked.light}, {*asked.panel})
        return ((wrong.what, wrong.do) for wrong in setup_wrongs(parts))

    known = {*wrongs(before)}
    for what, do in wrongs(after):
        if (what, do) not in known:
            raise ValueError(f"{what}; {do}")


def _table(setup: Setup) -> Mapping[str, Any]:
    table: Mapping[str, Any] = plain(setup)
    return table


def _changes(of: Changed, old: Any, new: Any, keys: tuple[str, ...]) -> Iterator[Changed]:
    for key in keys:
        before, now = getattr(old, key), getattr(new, key)
        if before != now:
            yield of._replace(key=key, before=before, now=now)
