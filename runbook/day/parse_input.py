"""Parsers of what a person types on set: readings, counts, times, wind, and targets of a setup."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from math import hypot, inf
from typing import Any, Final

from runbook.day.event_text import key_label
from runbook.files import form
from runbook.files.errors import instead
from runbook.files.rules import Parts, setup_wrongs
from runbook.files.validate import plain
from runbook.journal.events import MOST_GUST_MS, Changed
from runbook.light.stops import f_number
from runbook.model.day import Plan
from runbook.model.geometry import ground_radius
from runbook.model.nominal_values import APERTURE_MARKS, FULL_APERTURES, aperture_stops
from runbook.model.power import Power
from runbook.model.setup import Exposure, Light, Setup, View
from runbook.model.units import MS_PER_MPH, Units, length, speed
from runbook.stands.wind import top_of_force

_READING: Final = re.compile(
    r"(?:f\s*/?\s*)?(?P<mark>\d{1,3}(?:[.,]\d{1,2})?)"
    r"(?:\s*(?:(?P<sign>[+-])\s*0?[.,]?(?P<tenths>\d)|\s(?P<digit>\d)))?"
)
_WIND: Final = re.compile(r"(?P<force>force\s*|bft\s*)?(?P<number>\d{1,3}(?:[.,]\d{1,2})?)\s*(?P<unit>[a-z/]*)")
# a knot is a nautical mile of 1852 m in an hour, exact by definition
_MS: Final = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "mph": MS_PER_MPH, "kn": 1852 / 3600, "force": 0.0}
_WIND_UNIT: Final[dict[Units, str]] = {"metric": "m/s", "imperial": "mph"}
_MOST_AHEAD_S: Final = 3e9  # a clock that was never set is decades off
_WIND_HINT: Final = "write it like 6 m/s, 20 km/h, 13 mph, 12 kn or force 4"


@dataclass(frozen=True, slots=True)
class ReadingOption:
    """One meaning of a typed reading, in words, and its stops."""

    text: str
    stops: float

    @property
    def f(self) -> float:
        """The f-number as a file holds it: the mark itself, else to a thousandth."""
        marks = (mark for mark, stops in APERTURE_MARKS.items() if abs(stops - self.stops) < 1e-9)
        return next(marks, round(f_number(self.stops), 3))


def reading_options(text: str) -> tuple[ReadingOption, ...]:
    """Return what a typed reading can mean: ``5.6``, ``f/5.6 +0.3``, ``5.6 3`` (a mark and tenths).

    There are two for a number that is no mark but may be one with its tenths, as many meters show
    them: ``8.3`` is f/8 and three tenths, or the aperture f/8.3. With an ``f`` in front it is the
    aperture. Raises ValueError with what would be right.
    """
    typed = text.strip().lower()
    match = _READING.fullmatch(typed)
    if match is None:
        raise ValueError(f"{typed or 'nothing'!r} is not a reading; write it like 5.6 or 5.6 +0.3")
    number = match["mark"].replace(",", ".")
    f = float(number)
    if not 0.5 <= f <= 128:
        raise ValueError(f"f/{f:g} is not a reading; a meter shows f/0.5 to f/128")
    tenths = match["tenths"] or match["digit"]
    if f in APERTURE_MARKS:
        stops = aperture_stops(f) + (-1 if match["sign"] == "-" else 1) * int(tenths or 0) / 10
        return (ReadingOption(f"f/{f:g}", stops),)
    if tenths:
        raise ValueError(f"f/{f:g} is not a marked aperture; tenths go with marks like 4, 5.6 or 8")
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
    count = form.read_whole(text)
    if not -9999 <= count <= 9999 or count == 0:
        raise ValueError("count between 1 and 9999 frames, or -9999 to -1 to correct")
    return count


def parse_ahead(text: str) -> tuple[float | None]:
    """Return how far a clock is ahead in seconds; None where nothing is typed. Raises ValueError."""
    try:
        ahead_s = float(text) if text.strip() else 0.0
    except ValueError:
        ahead_s = inf
    if not abs(ahead_s) <= _MOST_AHEAD_S:
        raise ValueError("write seconds, like 3600 or -12")
    return (ahead_s if text.strip() else None,)


def parse_words(text: str) -> str:
    """Parse a note or a reason. Raises ValueError when it is empty."""
    words = " ".join(text.split())
    if not words:
        raise ValueError("write a few words; they stay in the journal")
    return words[:500]


def parse_time(text: str) -> str:
    """Return a typed time of day as ``HH:MM``: ``13:40``, ``9.15`` or ``14``. Raises ValueError otherwise."""
    return f"{form.read_time(text):%H:%M}"


def parse_break(text: str) -> tuple[float, str]:
    """Parse the minutes and the reason of an unplanned break: ``20 fire alarm``. Raises ValueError otherwise."""
    minutes, _, reason = text.strip().partition(" ")
    if not minutes.isdecimal() or not 1 <= int(minutes) <= 600 or not reason.strip():
        raise ValueError("write the minutes (1 to 600) and the reason, like: 20 fire alarm")
    return float(minutes), parse_words(reason)


def wind_hint(units: Units = "metric") -> str:
    """Return what can be typed as a wind, its unit and its bounds."""
    most = speed(MOST_GUST_MS, units, ".0f")
    return f"0 to {most}; a bare number is in {_WIND_UNIT[units]}; also km/h, mph, kn, m/s, force 0 to 12"


def parse_wind(text: str, units: Units = "metric") -> float:
    """Parse gusts, in m/s: ``6``, ``6 m/s``, ``20 km/h``, ``13 mph``, ``12 kn`` or ``force 4``.

    A bare number is in m/s, on an imperial day in mph; a force of the Beaufort scale is taken at
    its upper end. Raises ValueError with what would be right.
    """
    match = _WIND.fullmatch(text.strip().lower())
    unit = match and (match["unit"] or ("force" if match["force"] else _WIND_UNIT[units]))
    if match is None or unit not in _MS or (match["force"] and match["unit"]):
        raise ValueError(f"{text.strip() or 'nothing'!r} is not a wind speed; {_WIND_HINT}")
    number = float(match["number"].replace(",", "."))
    if unit == "force":
        if number not in range(13):
            raise ValueError(f"there is no force {number:g}; the scale goes from 0 to 12")
        return top_of_force(int(number))
    gust = number * _MS[unit]
    if gust > MOST_GUST_MS:
        raise ValueError(f"{speed(gust, units)} is out of range: 0 to {speed(MOST_GUST_MS, units)}; {_WIND_HINT}")
    return gust


# -- targets ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Typed:
    """What a typed value is read with: the plan, the setup as it stands, and the head that is meant."""

    plan: Plan
    stands: Setup
    light: Light | None

    @property
    def now(self) -> Light:
        """The head as it stands."""
        assert self.light is not None
        return self.light

    def length(self, value: str) -> float:
        return form.read_length(value, self.plan.day.units)


Values = dict[str, Any]


def _height(typed: _Typed, value: str) -> Values:
    """The stand stays where it is: the tape goes with the height."""
    high, now, face_m = typed.length(value), typed.now, typed.stands.subject.face_height_m
    radius = ground_radius(now.distance_m, now.height_m, face_m)
    return {"height_m": high, "distance_m": round(hypot(radius, high - face_m), 5)}


def _side(_: _Typed, value: str) -> Values:
    return {"side": form.read_choice(value, ("left", "right"), "side")}


def _angle(typed: _Typed, value: str) -> Values:
    words = value.replace("camera-", "").split()
    sides = [word for word in words if word[:1].isalpha() and word != "deg"]
    number = " ".join(word for word in words if word not in sides)
    return (_side(typed, sides[0]) if sides else {}) | {"angle_deg": form.read_number(number, "deg")}


def _power(typed: _Typed, value: str) -> Values:
    dial = typed.plan.kit.head[typed.now.head].dial
    return {"power": dial.read(form.read_power(value, dial))}


def _head(typed: _Typed, value: str) -> Values:
    head = form.read_choice(value, [*typed.plan.kit.head], "head")
    if head in typed.stands.light and head != typed.now.head:
        raise ValueError(f"{head} is already in use in this setup")
    typed.plan.kit.head[head].dial.read(str(typed.now.power))
    return {"head": head}


def _modifier(typed: _Typed, value: str) -> Values:
    kit = typed.plan.kit
    modifier = "bare" if _is_nothing(value) else form.read_choice(value, [*kit.modifier], "modifier")
    fits = tuple(each for each in typed.now.accessories if modifier in kit.accessory[each].fits)
    return {"modifier": modifier, "accessories": fits}


def _ids(value: str, choices: list[str], what: str) -> Values:
    return {what: () if _is_nothing(value) else tuple(form.read_ids(value, choices, what))}


def _is_nothing(value: str) -> bool:
    return value.lower() in ("none", "nothing", "-")


def _camera(typed: _Typed, value: str) -> Values:
    word, rest = _split(value)
    what = form.read_choice(word, (*_CAMERA_LENGTHS, "portrait", "landscape"), "place of the camera")
    return {_CAMERA_LENGTHS[what]: typed.length(rest)} if what in _CAMERA_LENGTHS else {"orientation": what}


_CAMERA_LENGTHS: Final = {"distance": "distance_m", "height": "height_m"}
# the keys of a setup that are changed together; accessories that go come off before their modifier
_PLACE: Final = ("side", "angle_deg", "distance_m", "height_m")
_THINGS: Final = ("accessories", "modifier", "stand", "bags", "head")
_EXPOSURE: Final = tuple(field.name for field in fields(Exposure))
_VIEW: Final = tuple(field.name for field in fields(View))
_Parser = Callable[[_Typed, str], Values]
_OF_HEAD: Final[dict[str, tuple[tuple[str, ...], _Parser]]] = {
    "height": (_PLACE, _height),
    "tape": (_PLACE, lambda typed, value: {"distance_m": typed.length(value)}),
    "angle": (_PLACE, _angle),
    "side": (_PLACE, _side),
    "power": (("power",), _power),
    "stand": (_THINGS, lambda typed, value: {"stand": form.read_choice(value, [*typed.plan.kit.stand], "stand")}),
    "head": (_THINGS, _head),
    "modifier": (_THINGS, _modifier),
    "accessories": (_THINGS, lambda typed, value: _ids(value, [*typed.plan.kit.accessory], "accessories")),
    "bags": (_THINGS, lambda typed, value: _ids(value, [*typed.plan.kit.bag], "bags")),
}
_OF_CAMERA: Final[dict[str, tuple[tuple[str, ...], _Parser]]] = {
    "f": (_EXPOSURE, lambda _, value: {"f": form.read_aperture(value)}),
    "shutter": (_EXPOSURE, lambda _, value: {"shutter": form.read_shutter(value)}),
    "iso": (_EXPOSURE, lambda _, value: {"iso": form.read_number(value)}),
    "lens": (_VIEW, lambda typed, value: {"lens": form.read_choice(value, [*typed.plan.kit.lens], "lens")}),
    "camera": (_VIEW, _camera),
}
_SAME_AS: Final = {"distance": "tape", "aperture": "f", "f/": "f", "accessory": "accessories", "bag": "bags"}


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
    word, value = _split(text)
    targets = (_OF_HEAD if head is not None else {}) | _OF_CAMERA
    key = _SAME_AS.get(word, word)
    if key not in targets:
        near = instead(word, [*targets]) if word and not value else f"there are {', '.join(targets)}"
        raise ValueError(f"{repr(word) if word else 'nothing'} is not a target; {near}")
    keys, parse = targets[key]
    old: Any
    now: Any
    if head is not None and key in _OF_HEAD:
        change, old = Changed(asked.id, "head", "", None, None, head), asked.light[head]
        now = stands.light.get(head, old)
        new = replace(now, **parse(_Typed(plan, stands, now), value))
        after = replace(stands, lights=tuple(new if light.head == head else light for light in stands.lights))
    else:
        change, part = Changed(asked.id, "camera", "", None, None), "exposure" if keys == _EXPOSURE else "view"
        old, now = getattr(asked, part), getattr(stands, part)
        new = replace(now, **parse(_Typed(plan, stands, None), value))
        after = replace(stands, **{part: new})
    _check(plan, asked, stands, after, new)
    changes = [
        replace(change, key=name, before=_written(getattr(old, name)), now=_written(getattr(new, name)))
        for name in keys
        if getattr(old, name) != getattr(new, name) or name == "power"  # where its dial really is, only the floor knows
    ]
    if not changes and new != now:
        raise ValueError("that is the plan's target; press space on the skipped step if it is done after all")
    if keys == _PLACE:
        # a longer tape first and a shorter one last: no tape is ever too short for the height
        grows = new.distance_m > old.distance_m
        changes.sort(key=lambda change: (change.key == "distance_m") != grows)
    return tuple(changes)


def _written(value: Any) -> Any:
    return str(value) if isinstance(value, Power) else value


def _split(text: str) -> tuple[str, str]:
    """Return the first word, and the rest; ``f/5.6`` and ``f5.6`` are split after the f."""
    words = " ".join(text.split())
    aperture = re.fullmatch(r"[fF](?:/|(?=\d))(.*)", words)
    if aperture:
        return "f", aperture[1]
    word, _, rest = words.partition(" ")
    return word.lower().rstrip(":="), rest


def _check(plan: Plan, asked: Setup, before: Setup, after: Setup, shape: Any) -> None:
    """Raise ValueError with the first thing wrong that was not wrong before."""
    table = plain(shape)
    for key in table:
        wrong = form.wrong_with(type(shape), table, key)
        if wrong:
            raise ValueError(f"{key_label(key)}: {wrong}")

    def wrongs(setup: Setup) -> Iterator[str]:
        parts = Parts(plan.kit, setup, plain(setup), {*asked.light}, {*asked.panel})
        return (f"{wrong.what}; {wrong.do}" for wrong in setup_wrongs(parts))

    known = {*wrongs(before)}
    new = next((wrong for wrong in wrongs(after) if wrong not in known), None)
    if new is not None:
        raise ValueError(new)
