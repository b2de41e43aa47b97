"""What a day's files can hold, as lines of a form: made from the values that read them.

A ``Field`` is one key: where it stands, what kind of thing it takes, its value and where that comes from.
``read_field`` turns what a person types into the value a file holds: metres or feet, kilograms or pounds. A number
without a unit is in the units of the day. Each reader raises ValueError with what would be right.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass
from fractions import Fraction
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import StringConstraints, ValidationError

from runbook.files.errors import Path, instead
from runbook.files.inherit import CALLED, NAMED_BY, Merged, name_of, place_of
from runbook.files.rules import IN_DAY, IN_KIT, IN_SETUP
from runbook.files.validate import Member, members, parse, plain, shape_wrongs
from runbook.model.fields import is_id
from runbook.model.nominal_values import shutter_stops
from runbook.model.power import SOLVE, Dial, Power, stops_below
from runbook.model.setup import MERGE_KEYS
from runbook.model.units import KG_PER_POUND, M_PER_INCH, Units, length, mass

Ids = Mapping[str, tuple[str, ...]]

Origin = Literal["own", "inherited", "default", "none"]

_KINDS_BY_KEY: Final = {
    **dict.fromkeys(("f", "f_min", "f_max", "aim_reading_f", "reads_f"), "aperture"),
    **dict.fromkeys(("shutter", "sync"), "shutter"),
    **dict.fromkeys(("power", "power_min"), "power"),
}
_KINDS_BY_TYPE: Final[dict[Any, str]] = {
    bool: "yes", int: "whole", float: "number", dt.date: "date", dt.time: "time", Power: "power",
}  # fmt: skip
# keys whose end is not a unit, or that are one
_WHOLE: Final = {
    "iso_min": "",
    "under_key_stops": "stops",
    "whole_over_stops": "stops",
    "over_stops": "stops",
    "minutes": "min",
}
# the longer of two ends that fit comes first
_UNITS: Final = {
    "_per_s": "per s", "_deg": "deg", "_stops": "stops", "_s": "s", "_min": "min", "_ws": "Ws", "_wh": "Wh",
    "_w": "W", "_lux": "lux", "_ms": "m/s", "_mm": "mm", "_v": "V", "_a": "A", "_m": "", "_kg": "",
}  # fmt: skip
_LABELS: Final = {
    "f": "aperture",
    "aim_reading_f": "target reading",
    "under_key_stops": "target under key",
    "reads_f": "reads",
    "whole_over_stops": "target of all, over f",
    "over_stops": "target over f",
    "iso": "ISO",
    "iso_min": "least ISO",
    "power_min": "least power",
    "f_min": "widest aperture",
    "f_max": "least aperture",
}
# a key by its way from the top, and the kind of thing its ids name
_REFERS: Final = {
    tuple(part for part in pattern if part != "*"): kind for pattern, kind in (*IN_DAY, *IN_KIT, *IN_SETUP)
} | {("like",): "setup", ("subject", "looks_at"): "lit", ("place_panel", "catches"): "lit"}


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form.

    ``path`` goes from the top of ``file``, things named by id. ``kind`` says how it is read and shown; ``origin``
    where the value comes from, and ``source`` from which setup; ``must`` is for a key without a default; ``choices``
    are ids or words to take from, and ``what`` they are; ``means`` is what the key is, in a few words. A heading has
    the kind ``heading``, and the path of its table.
    """

    file: str
    path: Path
    kind: str
    label: str
    unit: str = ""
    value: Any = None
    origin: Origin = "own"
    source: str = ""
    must: bool = False
    choices: tuple[str, ...] = ()
    what: str = ""
    means: str = ""

    @property
    def key(self) -> str:
        return str(self.path[-1])


def _type_of(hint: Any, notes: tuple[Any, ...] = ()) -> tuple[Any, tuple[Any, ...]]:
    """A type without its notes and without None, and the notes."""
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _type_of(args[0], (*args[1:], *notes))
    if origin in (Union, UnionType):
        return _type_of(next(arg for arg in args if arg is not NoneType), notes)
    return hint, notes


def kind_of(member: Member) -> tuple[str, str]:
    """How a key's value is read and shown, and its unit."""
    (hint, notes), key = _type_of(member.hint), member.key
    kind = _KINDS_BY_KEY.get(key) or _KINDS_BY_TYPE.get(hint)
    if kind == "number":
        end = _unit_end(key)
        return {"_m": "length", "_kg": "mass"}.get(end, "number"), _WHOLE.get(key) or _UNITS.get(end, "")
    if kind is None and get_origin(hint) is Literal:
        kind = "choice"
    elif kind is None and get_origin(hint) is tuple:
        kind = "ids" if get_args(hint)[-1] is Ellipsis else "pair"
    elif kind is None:
        kind = "id" if any(isinstance(note, StringConstraints) for note in notes) else "text"
    return kind, "mm" if key == "sensor_mm" else ""


def _unit_end(key: str) -> str:
    return next((end for end in _UNITS if key.endswith(end)), "") if key not in _WHOLE else ""


def label_of(key: str) -> str:
    """A key in words, without its unit."""
    return _LABELS.get(key) or key.removesuffix(_unit_end(key)).replace("_", " ")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a form is made with: the ids there are, and where a setup's values come from."""

    file: str
    ids: Ids
    merged: Merged | None = None


def fields_of(cls: type, table: Mapping[str, Any], on: Reading, path: Path = ()) -> Iterator[Field]:
    """Every line of a value's form, the tables inside it under headings of their own.

    Lists of tables are left out of the kit's and the day's own form: their things have one each.
    """
    yield from (field_of(member, table, on, path) for member in members(cls) if not member.shape)
    if on.merged is not None and not path:
        yield from _like_fields(on, on.merged)
    for member in members(cls):
        if member.shape and not member.many:
            here, inside = (*path, member.key), table.get(member.key, {})
            origin, _ = _origin(on, here, bool(inside), member)
            yield Field(on.file, here, "heading", member.key, value=bool(inside), origin=origin)
            yield from fields_of(member.shape, inside, on, here)
        elif member.shape and on.merged is not None:
            for place, item in enumerate(table.get(member.key, [])):
                here = (*path, member.key, name_of(member.key, item) or place)
                origin, source = _origin(on, here, True, member)
                label = f"{CALLED.get(member.key, member.key)} {here[-1]}"
                yield Field(on.file, here, "heading", label, value=True, origin=origin, source=source)
                yield from fields_of(member.shape, item, on, here)


def _like_fields(on: Reading, merged: Merged) -> Iterator[Field]:
    own = merged.source.table
    others = tuple(name for name in on.ids["setup"] if name != merged.id)
    lines = [("like", "ref", others, "setup")]
    if len(merged.chain) > 1:
        lines.append(("drop", "ids", _inherited(merged), "inherited thing"))
    for key, kind, choices, what in lines:
        origin: Origin = "own" if key in own else "none"
        yield Field(on.file, (key,), kind, key, value=own.get(key), origin=origin,
                    choices=choices, what=what, means=MERGE_KEYS[key])  # fmt: skip


def _inherited(merged: Merged) -> tuple[str, ...]:
    """The heads, panels and hung cloths a setup can drop: those of the files it is like."""
    tables = [source.table for _, source in merged.chain[1:]]
    names = (name_of(key, item) for table in tables for key in NAMED_BY for item in table.get(key, []))
    return tuple(dict.fromkeys(filter(None, names)))


def field_of(member: Member, table: Mapping[str, Any], on: Reading, path: Path = ()) -> Field:
    """One line of a form."""
    here = (*path, member.key)
    kind, unit = kind_of(member)
    origin, source = _origin(on, here, member.key in table, member)
    value = table.get(member.key)
    if member.key not in table and member.default is not MISSING:
        value = plain(member.default)
        origin = "none" if value is None else "default"
    if member.key == "id" and on.merged is not None and not path:
        value, origin = on.merged.id, "own"
    choices, what = _choices(member, here, on)
    if what and kind not in ("ids", "choice"):
        kind = "ref"
    return Field(on.file, here, kind, label_of(member.key), unit, value, origin, source,
                 member.default is MISSING, choices, what, member.means)  # fmt: skip


def _origin(on: Reading, path: Path, there: bool, member: Member) -> tuple[Origin, str]:
    if not there:
        return ("none" if member.default is MISSING else "default"), ""
    if on.merged is None:
        return "own", ""
    place = place_of(on.merged.table, path)
    if place is None or place_of(on.merged.source.table, path) is not None:
        return "own", ""
    return "inherited", on.merged.origins[place][0]


def _choices(member: Member, path: Path, on: Reading) -> tuple[tuple[str, ...], str]:
    """The words or ids a key takes, and what they are; nothing for one that takes any."""
    hint = _type_of(member.hint)[0]
    if get_origin(hint) is Literal:
        return tuple(map(str, get_args(hint))), label_of(member.key)
    way = (path[0], *path[2:]) if len(path) > 2 else path
    if way == ("light", "aim"):
        return ("face", "background", *_placed(on, "place_panel")), "aim"
    if way in (("place_panel", "face_to"), ("hang", "face_to")):
        return ("face", *_placed(on, "light")), "direction"
    kind = _REFERS.get(way)
    if kind == "lit":
        return _placed(on, "light"), "head"
    return (on.ids.get(kind, ()), kind) if kind else ((), "")


def _placed(on: Reading, key: str) -> tuple[str, ...]:
    items = on.merged.table.get(key, []) if on.merged else []
    return tuple(name for item in items if (name := name_of(key, item)))


# -- as it is typed ---------------------------------------------------------------------------

_NUMBER: Final = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_MEASURE: Final = re.compile(rf"({_NUMBER})\s*(\D*?)(?:\s*({_NUMBER})\s*(\D*?))?")
_FOOT: Final = 12 * M_PER_INCH
_METRES: Final = {
    "m": 1.0, "cm": 0.01, "mm": 0.001, **dict.fromkeys(("ft", "feet", "foot", "'", "′", "’"), _FOOT),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "”", "''"), M_PER_INCH),
}  # fmt: skip
_KILOS: Final = {"kg": 1.0, "g": 0.001, "lb": KG_PER_POUND, "lbs": KG_PER_POUND, "oz": KG_PER_POUND / 16}
# places kept of what was typed in other units: a tenth of a millimetre, a gram
_M_PLACES, _KG_PLACES = 4, 3


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _wrong(text: str, what: str, like: str) -> ValueError:
    typed = f"{text.strip()!r}" if text.strip() else "nothing"
    return ValueError(f"{typed} is not {what}; write it like {like}")


def _measure(text: str, scale: Mapping[str, float], bare: float, small: float, places: int) -> float | None:
    """A number with a unit of a scale, or two with a large unit and a ``small`` one; None when it is neither."""
    found = _MEASURE.fullmatch(text.strip().lower())
    if found is None:
        return None
    value, unit = _number(found[1]), scale.get(found[2]) if found[2] else bare
    if unit is None:
        return None
    if found[3] is None:
        return value if unit == 1.0 else round(value * unit, places)
    more, of = _number(found[3]), scale.get(found[4]) if found[4] else small
    if found[2] and unit in (_FOOT, KG_PER_POUND) and of == small and value >= 0 and more >= 0:
        return round(value * unit + more * small, places)
    return None


def read_length(text: str, units: Units = "metric") -> float:
    """Metres: ``1.4 m``, ``1,4``, ``140 cm``, ``4 ft 6 in``, ``4'6"``, ``54 in``."""
    metres = _measure(text, _METRES, 1.0 if units == "metric" else _FOOT, M_PER_INCH, _M_PLACES)
    if metres is None:
        raise _wrong(text, "a length", "1.4 m or 4 ft 6 in" if units == "metric" else "4 ft 6 in or 1.4 m")
    return metres


def read_mass(text: str, units: Units = "metric") -> float:
    """Kilograms: ``7 kg``, ``6,8``, ``15 lb``, ``900 g``, ``2 lb 4 oz``."""
    kilos = _measure(text, _KILOS, 1.0 if units == "metric" else KG_PER_POUND, KG_PER_POUND / 16, _KG_PLACES)
    if kilos is None:
        raise _wrong(text, "a mass", "7 kg or 15 lb" if units == "metric" else "15 lb or 7 kg")
    return kilos


def read_number(text: str, unit: str = "") -> float:
    """A number, with its unit or without: ``45``, ``45°``, ``1,5``, ``25 min``."""
    typed = text.strip().lower()
    ends = (unit.lower(), "°") if unit == "deg" else (unit.lower(),)
    typed = next((typed.removesuffix(end).rstrip() for end in ends if end and typed.endswith(end)), typed)
    if not re.fullmatch(_NUMBER, typed):
        raise _wrong(text, "a number", f"1.5 {unit}".rstrip())
    return _number(typed)


def read_aperture(text: str) -> float:
    """An f-number: ``5.6``, ``f/5.6``, ``f 5,6``."""
    typed = re.sub(r"^f\s*/?\s*", "", text.strip().lower())
    if not re.fullmatch(_NUMBER, typed) or _number(typed) <= 0:
        raise _wrong(text, "an aperture", "5.6 or f/5.6")
    return _number(typed)


def read_whole(text: str) -> int:
    """A whole number."""
    typed = text.strip()
    if not re.fullmatch(r"[+-]?\d{1,18}", typed):
        raise _wrong(text, "a whole number", "36")
    return int(typed)


def read_shutter(text: str) -> str:
    """A shutter time as it is marked: ``1/160``, ``1/160 s``, ``2``."""
    typed = re.sub(r"\s*s(ec)?$", "", text.strip().lower()).replace(",", ".").replace(" ", "")
    shutter_stops(typed)
    return typed


def read_power(text: str, dial: Dial) -> str:
    """A power on a head's own dial, as it is written: ``1/8+0.3``, ``full``; or ``solve``, to have it worked out."""
    typed = re.sub(r"\s+", "", text.lower()).replace(",", ".")
    if typed != str(SOLVE):
        dial.read(typed)
    return typed


def read_time(text: str) -> dt.time:
    """A time of day: ``8:00``, ``08.30``, ``0830``, ``8``, ``6 pm``."""
    found = re.fullmatch(
        r"(?P<h>\d{1,2})(?:\s*[:.h]\s*(?P<m>\d{2})(?::(?P<s>\d{2}))?|(?P<mm>\d{2}))?"
        r"\s*(?P<half>[ap]\.?m\.?)?",
        text.strip().lower(),
    )
    if found:
        hour = int(found["h"])
        if found["half"] and 1 <= hour <= 12:
            hour = hour % 12 + (12 if found["half"][0] == "p" else 0)
        try:
            return dt.time(hour, int(found["m"] or found["mm"] or 0), int(found["s"] or 0))
        except ValueError:
            pass
    raise _wrong(text, "a time of day", "8:00, 14:30 or 6 pm")


def read_date(text: str) -> dt.date:
    """A date: ``2026-12-04``."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise _wrong(text, "a date", "2026-12-04") from None


def read_yes(text: str) -> bool:
    """Yes or no."""
    words = {"yes": True, "y": True, "true": True, "on": True, "no": False, "n": False, "false": False, "off": False}
    if text.strip().lower() not in words:
        raise _wrong(text, "yes or no", "yes or no")
    return words[text.strip().lower()]


def read_id(text: str) -> str:
    """An id: 1 to 24 letters, digits, ``-`` and ``_``."""
    typed = text.strip()
    if not is_id(typed):
        raise ValueError(f"{typed!r} is not an id; write 1 to 24 letters, digits, - or _")
    return typed


def read_choice(text: str, choices: Sequence[str], what: str = "choice") -> str:
    """One of a few words; as much of its beginning as is of no other is enough."""
    typed = text.strip()
    if typed in choices:
        return typed
    begun = [choice for choice in choices if typed and choice.lower().startswith(typed.lower())]
    exact = [choice for choice in begun if choice.lower() == typed.lower()]
    if len(exact or begun) == 1:
        return (exact or begun)[0]
    raise ValueError(f"{typed!r} is not {'an' if what[0] in 'aeiou' else 'a'} {what}; {instead(typed, choices)}")


def read_ids(text: str, choices: Sequence[str], what: str) -> list[str]:
    """Ids with commas or spaces between them, each of what there is; nothing is none."""
    return [read_choice(part, choices, what) for part in re.split(r"[\s,;]+", text) if part]


def read_pair(text: str) -> list[float]:
    """Two numbers: ``36 x 24``, ``36, 24``."""
    parts = [part for part in re.split(r"\s*(?:x|×|;|,\s|\s)\s*", text.strip().lower()) if part]
    if len(parts) != 2 or not all(re.fullmatch(_NUMBER, part) for part in parts):
        raise _wrong(text, "a pair of numbers", "36 x 24")
    return [_number(part) for part in parts]


# -- shown and read ----------------------------------------------------------------------------


_SHOWN: Final[dict[str, Callable[[Any], str]]] = {
    "yes": lambda value: "yes" if value else "no",
    "ids": ", ".join,
    "pair": lambda value: " x ".join(f"{number:g}" for number in value),
    "time": lambda value: str(value).removesuffix(":00") if str(value).count(":") > 1 else str(value),
    "aperture": lambda value: f"f/{value!r}".removesuffix(".0"),
    "number": lambda value: f"{value!r}".removesuffix(".0"),
}


def length_to_edit(metres: float, units: Units) -> str:
    """A length to the tenth of a millimetre, which is all that is kept of one typed in inches."""
    if units == "metric":
        return f"{metres!r} m"
    inches = metres / M_PER_INCH
    feet = int(inches // 12)
    rest = f"{inches - 12 * feet:.3f}".rstrip("0").rstrip(".")
    if rest == "12":
        feet, rest = feet + 1, "0"
    return f"{feet} ft {rest} in" if feet else f"{rest} in"


def mass_to_edit(kilograms: float, units: Units) -> str:
    """A mass to the gram."""
    if units == "metric":
        return f"{kilograms!r} kg"
    return f"{kilograms / KG_PER_POUND:.4f}".rstrip("0").rstrip(".") + " lb"


def shown_field(field: Field, units: Units) -> str:
    """A field's value as a person reads it; empty where it has none."""
    return "" if field.kind == "heading" else _text(field, units, length, mass)


def field_to_edit(field: Field, units: Units) -> str:
    """A field's value as it is put before a person to change."""
    return _text(field, units, length_to_edit, mass_to_edit)


def _text(
    field: Field, units: Units, length_text: Callable[[float, Units], str], mass_text: Callable[[float, Units], str]
) -> str:
    if field.value is None:
        return ""
    if field.kind == "length":
        return length_text(field.value, units)
    if field.kind == "mass":
        return mass_text(field.value, units)
    return f"{_SHOWN.get(field.kind, str)(field.value)} {field.unit if field.kind == 'number' else ''}".rstrip()


def read_field(field: Field, text: str, units: Units, dial: Dial | None = None) -> Any:
    """What was typed, as the file holds it; None to clear a key that is not required.

    ``dial`` is that of the head a power is for. Raises ValueError with what would be right.
    """
    typed = text.strip()
    if not typed and field.kind not in ("ids", "text"):
        if field.must:
            raise ValueError(f"{field.label} is required; it has no default")
        return None
    choices = (field.choices, field.what)
    more: dict[str, tuple[Any, ...]] = {
        "length": (units,), "mass": (units,), "number": (field.unit,), "power": (dial or _ANY_DIAL,),
        "choice": choices, "ref": choices, "ids": choices,
    }  # fmt: skip
    return _READ[field.kind](typed, *more.get(field.kind, ()))


_READ: Final[dict[str, Callable[..., Any]]] = {
    "length": read_length,
    "mass": read_mass,
    "number": read_number,
    "aperture": read_aperture,
    "whole": read_whole,
    "shutter": read_shutter,
    "power": read_power,
    "time": read_time,
    "date": read_date,
    "yes": read_yes,
    "id": read_id,
    "choice": read_choice,
    "ref": read_choice,
    "ids": read_ids,
    "pair": read_pair,
    "text": lambda typed: " ".join(typed.split()),
}
# a tenth of a stop and a third go into a thirtieth: any click of any head
_ANY_DIAL: Final = Dial(Fraction(1, 30), stops_below("1/8192", Fraction(1, 3)))


# -- a thing that is not whole yet -------------------------------------------------------------


def missing(cls: type, table: Mapping[str, Any]) -> list[str]:
    """The keys a thing must have and has not."""
    return [each.key for each in members(cls) if each.default is MISSING and each.key not in table]


def wrong_with(cls: type, table: Mapping[str, Any], key: str) -> str:
    """What is wrong with one key of a thing that need not be whole; nothing when it is right."""
    try:
        parse(cls, dict(table))
    except ValidationError as problem:
        for wrong in shape_wrongs(cls, problem, whole=False):
            if wrong.paths[0][:1] == (key,):
                return f"{wrong.what}; {wrong.do}" if wrong.do else wrong.what
    return ""
