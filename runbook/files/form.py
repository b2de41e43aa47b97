"""What a day's files can hold, as lines of a form: made from the values that read them.

A ``Field`` is one key: where it stands, what kind of thing it takes, its value and where that comes from.
``read_field`` turns what a person types into the value a file holds.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass
from fractions import Fraction
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import StringConstraints, ValidationError

from runbook.files import parse_input
from runbook.files.errors import Path
from runbook.files.inherit import NAMED_BY, Merged, name_of, place_of
from runbook.files.rules import IN_DAY, IN_KIT, IN_SETUP
from runbook.files.validate import Member, members, parse, plain, shape_wrongs
from runbook.model.power import Dial, Power, stops_below
from runbook.model.setup import MERGE_KEYS
from runbook.model.units import Units, length, mass

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
# keys whose end is no unit, or that are one
_WHOLE: Final = {"iso_min": "", "under_key_stops": "stops", "minutes": "min"}
# the longer of two ends that fit comes first
_UNITS: Final = {
    "_per_s": "per s", "_deg": "deg", "_stops": "stops", "_s": "s", "_min": "min", "_ws": "Ws", "_wh": "Wh",
    "_w": "W", "_lux": "lux", "_ms": "m/s", "_mm": "mm", "_v": "V", "_a": "A", "_m": "", "_kg": "",
}  # fmt: skip
_LABELS: Final = {
    "f": "aperture",
    "aim_reading_f": "asked reading",
    "under_key_stops": "asked under key",
    "reads_f": "reads",
    "iso": "ISO",
    "iso_min": "least ISO",
    "power_min": "least power",
    "f_min": "widest aperture",
    "f_max": "least aperture",
}
# a key by its way from the top, and the kind of thing its ids name
_REFERS: Final = {
    tuple(part for part in pattern if part != "*"): kind for pattern, kind in (*IN_DAY, *IN_KIT, *IN_SETUP)
} | {("like",): "setup", ("subject", "looks_at"): "lit"}


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
                label = f"{member.key.removeprefix('place_')} {here[-1]}"
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
    """The heads and panels a setup can drop: those of the files it is like."""
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
    if way == ("place_panel", "face_to"):
        return ("face", *_placed(on, "light")), "direction"
    kind = _REFERS.get(way)
    if kind == "lit":
        return _placed(on, "light"), "head"
    return (on.ids.get(kind, ()), kind) if kind else ((), "")


def _placed(on: Reading, key: str) -> tuple[str, ...]:
    items = on.merged.table.get(key, []) if on.merged else []
    return tuple(name for item in items if (name := name_of(key, item)))


# -- shown and read ----------------------------------------------------------------------------


_SHOWN: Final[dict[str, Callable[[Any], str]]] = {
    "yes": lambda value: "yes" if value else "no",
    "ids": ", ".join,
    "pair": lambda value: " x ".join(f"{number:g}" for number in value),
    "time": lambda value: str(value).removesuffix(":00") if str(value).count(":") > 1 else str(value),
    "aperture": lambda value: f"f/{value!r}".removesuffix(".0"),
    "number": lambda value: f"{value!r}".removesuffix(".0"),
}


def shown_field(field: Field, units: Units) -> str:
    """A field's value as a person reads it; empty where it has none."""
    return "" if field.kind == "heading" else _text(field, units, length, mass)


def field_to_edit(field: Field, units: Units) -> str:
    """A field's value as it is put before a person to change."""
    return _text(field, units, parse_input.length_to_edit, parse_input.mass_to_edit)


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
    "length": parse_input.read_length,
    "mass": parse_input.read_mass,
    "number": parse_input.read_number,
    "aperture": parse_input.read_aperture,
    "whole": parse_input.read_whole,
    "shutter": parse_input.read_shutter,
    "power": parse_input.read_power,
    "time": parse_input.read_time,
    "date": parse_input.read_date,
    "yes": parse_input.read_yes,
    "id": parse_input.read_id,
    "choice": parse_input.read_choice,
    "ref": parse_input.read_choice,
    "ids": parse_input.read_ids,
    "pair": parse_input.read_pair,
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
