"""Parsers of what a person types on set: readings, counts, times, wind, and targets of a setup."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from math import hypot
from typing import Any, Final

from runbook.day.event_text import key_label
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
from runbook.journal.events import MOST_GUST_MS, Changed
from runbook.model.day import Plan
from runbook.model.geometry import ground_radius
from runbook.model.nominal_values import APERTURE_MARKS, FULL_APERTURES, aperture_stops
from runbook.model.setup import Exposure, Light, Setup, View
from runbook.model.units import MS_PER_MPH, Units, length, speed
from runbook.stands.wind import top_of_force

_DUE: Final = re.compile(r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>[0-5]\d))?")
_MOST_BREAK_MIN: Final = 600
_READING: Final = re.compile(
    r"(?:f\s*/?\s*)?(?P<mark>\d{1,3}(?:[.,]\d{1,2})?)"
    r"(?:\s*(?:(?P<sign>[+-])\s*0?[.,]?(?P<tenths>\d)|\s(?P<digit>\d)))?"
)

_WIND: Final = re.compile(r"(?P<force>force\s*|bft\s*)?(?P<number>\d{1,3}(?:[.,]\d{1,2})?)\s*(?P<unit>[a-z/]*)")
# a knot is a nautical mile of 1852 m in an hour, exact by definition
_MS: Final = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "mph": MS_PER_MPH, "kn": 1852 / 3600}
_WIND_HINT: Final = "write it like 6 m/s, 20 km/h, 13 mph, 12 kn or force 4"


@dataclass(frozen=True, slots=True)
class ReadingOption:
    """One meaning of a typed reading, in words, and its stops."""

    text: str
    stops: float


def reading_options(text: str) -> tuple[ReadingOption, ...]:
    """Return what a typed reading can mean: ``5.6``, ``f/5.6 +0.3``, ``5.6 3`` (a mark and tenths).

    There are two for a number that is no mark but may be one with its tenths, as many meters show
    them: ``8.3`` is f/8 and three tenths, or the aperture f/8.3. With an ``f`` in front it is the
    aperture. Raises ValueError with what would be right.
    """
    typed = text.strip().lower()
    match = _READING.fullmatch(typed)
    if match is None:
        raise ValueError(f"{typed or 'nothing'!r} is no reading; write it like 5.6 or 5.6 +0.3")
    number = match["mark"].replace(",", ".")
    f = float(number)
    if not 0.5 <= f <= 128:
        raise ValueError(f"f/{f:g} is no reading; a meter shows f/0.5 to f/128")
    tenths = match["tenths"] or match["digit"]
    if f in APERTURE_MARKS:
        stops = aperture_stops(f) + (-1 if match["sign"] == "-" else 1) * int(tenths or 0) / 10
        return (ReadingOption(f"f/{f:g}", stops),)
    if tenths:
        raise ValueError(f"f/{f:g} is no mark; tenths go with marks like 4, 5.6 or 8")
    aperture = ReadingOption(f"the aperture f/{f:g}", aperture_stops(f))
    mark, digit = number[:-1].rstrip("."), number[-1]
    if typed.startswith("f") or "." not in number or mark not in FULL_APERTURES:
        return (aperture,)
    in_tenths = aperture_stops(float(mark)) + int(digit) / 10
    return (ReadingOption(f"f/{mark} and {digit} tenths of a stop", in_tenths), aperture)


def parse_reading(text: str) -> float:
    """Return the stops of a typed reading that has one meaning.

    Raises ValueError with what would be right, as ``reading_options`` does, and where there are
    two meanings.
    """
    meaning, *other = reading_options(text)
    if other:
        number = text.strip().replace(",", ".")
        mark, digit = number[:-1].rstrip("."), number[-1]
        raise ValueError(f"{number} may be {meaning.text} or {other[0].text}; write {mark} +0.{digit} or f/{number}")
    return meaning.stops


def parse_frames(text: str) -> int:
    """Parse a count of frames: ``36``, or ``-4`` to correct. Raises ValueError with what would be right."""
    try:
        count = int(text.strip())
    except ValueError:
        raise ValueError(f"{text.strip() or 'nothing'!r} is no count; write it like 36, or -4 to correct") from None
    if not -9999 <= count <= 9999 or count == 0:
        raise ValueError("count between 1 and 9999 frames, or -9999 to -1 to correct")
    return count


def parse_words(text: str) -> str:
    """Parse a note or a reason. Raises ValueError when it is empty."""
    said = " ".join(text.split())
    if not said:
        raise ValueError("write a few words; they stay in the journal")
    return said[:500]


def wind_hint(units: Units = "metric") -> str:
    """Return what can be typed as a wind, its unit and its bounds."""
    bare = "mph" if units == "imperial" else "m/s"
    most = speed(MOST_GUST_MS, units, ".0f")
    return f"0 to {most}; a bare number is in {bare}; also km/h, mph, kn, m/s, force 0 to 12"


def parse_time(text: str) -> str:
    """Return a typed time of day as ``HH:MM``: ``13:40``, ``9.15`` or ``14``. Raises ValueError otherwise."""
    parts = _DUE.fullmatch(text.strip())
    if parts is None or int(parts["hour"]) > 23:
        raise ValueError(f"{text.strip() or 'nothing'!r} is no time of day; write it like 13:40")
    return f"{int(parts['hour']):02}:{parts['minute'] or '00'}"


def parse_break(text: str) -> tuple[float, str]:
    """Parse the minutes and the reason of an unplanned break: ``20 fire alarm``. Raises ValueError otherwise."""
    minutes, _, reason = text.strip().partition(" ")
    if not minutes.isdecimal() or not 1 <= int(minutes) <= _MOST_BREAK_MIN or not reason.strip():
        raise ValueError("write the minutes (1 to 600) and the reason, like: 20 fire alarm")
    return float(minutes), parse_words(reason)


def parse_wind(text: str, units: Units = "metric") -> float:
    """Parse gusts, in m/s: ``6``, ``6 m/s``, ``20 km/h``, ``13 mph``, ``12 kn`` or ``force 4``.

    A bare number is in m/s, on an imperial day in mph; a force of the Beaufort scale is taken at
    its upper end. Raises ValueError with what would be right.
    """
    found = _WIND.fullmatch(text.strip().lower())
    if found is None or (found["unit"] and (found["force"] or found["unit"] not in _MS)):
        raise ValueError(f"{text.strip() or 'nothing'!r} is no wind; {_WIND_HINT}")
    number = float(found["number"].replace(",", "."))
    if found["force"]:
        if number not in range(13):
            raise ValueError(f"there is no force {number:g}; the scale goes from 0 to 12")
        return top_of_force(int(number))
    gust = number * _MS[found["unit"] or ("mph" if units == "imperial" else "m/s")]
    if gust > MOST_GUST_MS:
        what = f"{speed(gust, units)} is out of range: 0 to {speed(MOST_GUST_MS, units)}"
        raise ValueError(f"{what}; {_WIND_HINT}")
    return gust


_PLACE: Final = ("side", "angle_deg", "distance_m", "height_m")
_PLACED: Final = ("height", "tape", "angle", "side")
_THINGS: Final = ("stand", "head", "modifier", "accessories", "bags")
_OF_HEAD: Final = (*_PLACED, "power", *_THINGS)
_OF_CAMERA: Final = ("f", "shutter", "iso", "lens", "camera")
_NOTHING: Final = ("none", "nothing", "-")
_VIEW: Final = {"distance": "distance_m", "height": "height_m"}
_AFTER_ALL: Final = "press space on the skipped step if it is done after all"
_SAME_AS: Final = {"distance": "tape", "aperture": "f", "f/": "f", "accessory": "accessories", "bag": "bags"}
_SIDES: Final = ("left", "right")


def hint(units: Units, *, head: bool) -> str:
    """Return examples of what can be typed as a target."""
    high, away = (length(metres, units) for metres in (2.1, 1.6))
    of_head = (
        f"height {high}, tape {away}, angle 40 left, power 1/8+0.3, stand S2, head B, "
        "modifier none, accessories none, bags B1 B2, "
    )
    return (
        f"like {of_head if head else ''}f 5.6, shutter 1/125, iso 200, lens 85, "
        f"camera distance {away}, camera height {high}"
    )


def parse_target(plan: Plan, asked: Setup, stands: Setup, head: str | None, text: str) -> tuple[Changed, ...]:
    """Return the changes that make a target what was typed, in an order that is possible at every step.

    ``asked`` is what the setup asks for, ``stands`` how it really stands: the changes include
    whatever else of the same thing is not as asked. Raises ValueError with what would be right.
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
            raise ValueError(f"that is the plan's target; {_AFTER_ALL}")
        return changes
    assert head is not None
    of = Changed(asked.id, "head", "power", None, None, head)
    if key == "power":
        dial = plan.kit.head[head].dial
        power, was = read_power(value, dial), asked.light[head].power
        return (replace(of, before=str(was), now=str(dial.read(power))),)
    if key in _THINGS:
        return _other_thing(plan, asked, stands, of, (key, value))
    return _placed_anew(plan, asked, stands, of, (key, value))


def _parted(text: str) -> tuple[str, str]:
    """Return the first word, and the rest; ``f/5.6`` and ``f5.6`` are parted after the f."""
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
    """Return the changes of the lens, or of the camera's place or orientation."""
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
        raise ValueError(f"that is the plan's target; {_AFTER_ALL}")
    return changes


# -- heads -----------------------------------------------------------------------------------------


def _other_thing(plan: Plan, asked: Setup, stands: Setup, of: Changed, typed: tuple[str, str]) -> tuple[Changed, ...]:
    """Return the changes for another stand, head, modifier, accessories or bags."""
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
        raise ValueError(f"that is the plan's target; {_AFTER_ALL}")
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


# -- checks and changes ------------------------------------------------------------------------------


def _check(plan: Plan, asked: Setup, before: Setup, after: Setup, shape: Any) -> None:
    """Raise ValueError with the first thing wrong that was not wrong before."""
    from runbook.files.form import wrong_with  # all the forms, and only now
    from runbook.files.setup_rules import Parts, setup_wrongs

    table = plain(shape)
    for key in table:
        said = wrong_with(type(shape), table, key)
        if said:
            raise ValueError(f"{key_label(key)}: {said}")

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
            yield replace(of, key=key, before=before, now=now)
