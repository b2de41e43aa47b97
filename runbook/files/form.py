"""What a day's files can say, as lines of a form: made from the shapes that read them.

A ``Field`` is one key: where it stands, what kind of thing it takes, what it says now and where
that comes from. ``read_field`` turns what a person types into the value a file holds.
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

_APERTURES: Final = {"f", "f_min", "f_max", "aim_reading_f", "reads_f"}
_SHUTTERS: Final = {"shutter", "sync"}
_POWERS: Final = {"power", "power_min"}
# keys whose end is no unit, or that are one
_WHOLE: Final = {"iso_min": "", "under_key_stops": "stops", "minutes": "min"}
_UNITS: Final = {
    "_deg": "deg", "_stops": "stops", "_s": "s", "_min": "min", "_ws": "Ws", "_wh": "Wh",
    "_w": "W", "_lux": "lux", "_ms": "m/s", "_mm": "mm", "_v": "V", "_a": "A",
    "_per_s": "per s",
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

    ``path`` goes from the top of ``file``, things named by id. ``kind`` says how it is read and
    shown. ``origin`` is ``own``, ``inherited`` (``source`` says from which setup), ``default`` or
    ``none``; ``must`` is for a key without a default; ``choices`` are ids or words to take from.
    ``means`` says what the key is, in a few words. A heading has the kind ``heading``, and the path
    of its table.
    """

    file: str
    path: Path
    kind: str
    label: str
    unit: str = ""
    value: Any = None
    origin: Literal["own", "inherited", "default", "none"] = "own"
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


def shape_of(member: Member) -> tuple[Any, bool] | None:
    """The shape a key holds, and whether it is a list of them; None for a plain value."""
    return None if member.shape is None else (member.shape, member.many)


def kind_of(member: Member) -> tuple[str, str]:
    """How a key's value is read and shown, and its unit."""
    hint, notes = _type_of(member.hint)
    key = member.key
    by_type = {bool: "yes", int: "whole", dt.date: "date", dt.time: "time", Power: "power"}
    if key in _APERTURES:
        found = "aperture"
    elif key in _SHUTTERS:
        found = "shutter"
    elif key in _POWERS:
        found = "power"
    elif get_origin(hint) is Literal:
        found = "choice"
    elif get_origin(hint) is tuple:
        found = "ids" if get_args(hint)[-1] is Ellipsis else "pair"
    elif hint in by_type:
        found = by_type[hint]
    elif hint is float:
        return _measure(key)
    else:
        found = "id" if any(isinstance(note, StringConstraints) for note in notes) else "text"
    return found, "mm" if key == "sensor_mm" else ""


def _measure(key: str) -> tuple[str, str]:
    if key.endswith("_m"):
        return "length", ""
    if key.endswith("_kg"):
        return "mass", ""
    if key in _WHOLE:
        return "number", _WHOLE[key]
    ends = [end for end in _UNITS if key.endswith(end)]
    return "number", _UNITS[max(ends, key=len)] if ends else ""


def label_of(key: str) -> str:
    """A key as one says it, without its unit."""
    if key in _LABELS:
        return _LABELS[key]
    ends = [end for end in (*_UNITS, "_m", "_kg") if key.endswith(end)]
    word = key.removesuffix(max(ends, key=len)) if ends and key not in _WHOLE else key
    return word.replace("_", " ")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a form is made with: the ids there are, and where a setup's values come from."""

    file: str
    ids: Ids
    merged: Merged | None = None


def fields_of(cls: type, table: Mapping[str, Any], on: Reading, path: Path = ()) -> Iterator[Field]:
    """Every line of a shape's form, the tables inside it under headings of their own.

    Lists of tables are left out of the kit's and the day's own form: their things have one each.
    """
    later: list[tuple[Member, Any, bool]] = []
    for member in members(cls):
        inner = shape_of(member)
        if inner is None:
            yield field_of(member, table, on, path)
        elif not inner[1] or on.merged is not None:
            later.append((member, *inner))
    if on.merged is not None and not path:
        yield from _like_fields(on)
    for member, shape, many in later:
        inside = table.get(member.key, [] if many else {})
        if not many:
            here = (*path, member.key)
            yield Field(on.file, here, "heading", member.key, value=bool(inside),
                        origin=_origin(on, here, bool(inside), member)[0])  # fmt: skip
            yield from fields_of(shape, inside, on, here)
            continue
        for place, item in enumerate(inside):
            here = (*path, member.key, name_of(member.key, item) or place)
            origin, source = _origin(on, here, True, member)
            label = f"{member.key.replace('place_', '')} {here[-1]}"
            yield Field(on.file, here, "heading", label, value=True, origin=origin, source=source)
            yield from fields_of(shape, item, on, here)


def _like_fields(on: Reading) -> Iterator[Field]:
    assert on.merged is not None
    own = on.merged.chain[0][1].table
    others = tuple(name for name in on.ids["setup"] if name != on.merged.id)
    for key, kind, choices in (("like", "ref", others), ("drop", "ids", _inherited(on.merged))):
        origin: Literal["own", "none"] = "own" if key in own else "none"
        what = "setup" if key == "like" else "inherited thing"
        if key == "like" or len(on.merged.chain) > 1:
            yield Field(on.file, (key,), kind, key, value=own.get(key), origin=origin,
                        choices=choices, what=what, means=MERGE_KEYS[key])  # fmt: skip


def _inherited(merged: Merged) -> tuple[str, ...]:
    """The heads and panels a setup can drop: those of the files it is like."""
    names: dict[str, None] = {}
    for _, source in merged.chain[1:]:
        for key in NAMED_BY:
            for item in source.table.get(key, []):
                if name := name_of(key, item):
                    names[name] = None
    return tuple(names)


def field_of(member: Member, table: Mapping[str, Any], on: Reading, path: Path = ()) -> Field:
    """One line of a form."""
    here = (*path, member.key)
    kind, unit = kind_of(member)
    there = member.key in table
    origin, source = _origin(on, here, there, member)
    value = table.get(member.key)
    if not there and member.default is not MISSING:
        value = plain(member.default)
        origin = "none" if value is None else "default"
    if member.key == "id" and on.merged is not None and not path:
        value, origin = on.merged.id, "own"
    choices, what = _choices(member, here, on)
    if choices or what:
        kind = "ids" if kind == "ids" else "choice" if kind == "choice" else "ref"
    return Field(on.file, here, kind, label_of(member.key), unit, value, origin, source,
                 member.default is MISSING, choices, what, member.means)  # fmt: skip


def _origin(
    on: Reading, path: Path, there: bool, member: Member
) -> tuple[Literal["own", "inherited", "default", "none"], str]:
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
    way = tuple(part for n, part in enumerate(path) if isinstance(part, str) and not _is_name(path, n))
    if way == ("light", "aim"):
        return ("face", "background", *_placed(on, "place_panel")), "aim"
    if way == ("place_panel", "face_to"):
        return ("face", *_placed(on, "light")), "direction"
    kind = _REFERS.get(way)
    if kind == "lit":
        return _placed(on, "light"), "head"
    return (on.ids.get(kind, ()), kind) if kind else ((), "")


def _is_name(path: Path, n: int) -> bool:
    """Whether a part of a path is a thing's id: the second of three."""
    return n == 1 and len(path) > 2


def _placed(on: Reading, key: str) -> tuple[str, ...]:
    items = on.merged.table.get(key, []) if on.merged else []
    return tuple(name for item in items if (name := name_of(key, item)))


# -- shown and read ----------------------------------------------------------------------------


def shown_field(field: Field, units: Units) -> str:
    """A field's value as it is said; nothing where it has none."""
    value = field.value
    if value is None or field.kind == "heading":
        return ""
    if field.kind == "length":
        return length(value, units)
    if field.kind == "mass":
        return mass(value, units)
    return _said(field, value)


def field_to_edit(field: Field, units: Units) -> str:
    """A field's value as it is put before a person to change."""
    if field.value is None:
        return ""
    if field.kind == "length":
        return parse_input.length_to_edit(field.value, units)
    if field.kind == "mass":
        return parse_input.mass_to_edit(field.value, units)
    return _said(field, field.value)


def _said(field: Field, value: Any) -> str:
    how: dict[str, Callable[[], str]] = {
        "yes": lambda: "yes" if value else "no",
        "ids": lambda: ", ".join(value),
        "pair": lambda: " x ".join(f"{each:g}" for each in value),
        "time": lambda: str(value).removesuffix(":00") if str(value).count(":") > 1 else str(value),
        "aperture": lambda: f"f/{value!r}".removesuffix(".0"),
        "number": lambda: f"{value!r}".removesuffix(".0") + (f" {field.unit}" if field.unit else ""),
    }
    return how[field.kind]() if field.kind in how else str(value)


def read_field(field: Field, text: str, units: Units, dial: Dial | None = None) -> Any:
    """What was typed, as the file holds it; None to clear a key that need not be there.

    ``dial`` is that of the head a power is for. Raises ValueError with what would be right.
    """
    said = text.strip()
    if not said and field.kind not in ("ids", "text"):
        if field.must:
            raise ValueError(f"{field.label} must be there; it has no default")
        return None
    readers: dict[str, Callable[[], Any]] = {
        "length": lambda: parse_input.read_length(said, units),
        "mass": lambda: parse_input.read_mass(said, units),
        "number": lambda: parse_input.read_number(said, field.unit),
        "aperture": lambda: parse_input.read_aperture(said),
        "whole": lambda: parse_input.read_whole(said),
        "shutter": lambda: parse_input.read_shutter(said),
        "power": lambda: parse_input.read_power(said, dial or _ANY_DIAL),
        "time": lambda: parse_input.read_time(said),
        "date": lambda: parse_input.read_date(said),
        "yes": lambda: parse_input.read_yes(said),
        "id": lambda: parse_input.read_id(said),
        "choice": lambda: parse_input.read_choice(said, field.choices, field.what),
        "ref": lambda: parse_input.read_choice(said, field.choices, field.what),
        "ids": lambda: parse_input.read_ids(said, field.choices, field.what),
        "pair": lambda: parse_input.read_pair(said),
    }
    return readers[field.kind]() if field.kind in readers else " ".join(said.split())


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
