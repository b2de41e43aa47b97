"""Tables of a day's files as values, checked by pydantic; in part, where something is wrong.

A table that is wrong in part is still read as far as it is right (see ``partly``), so that what is
right is checked against everything else and every problem is reported at once.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from typing import Annotated, Any, Final, Literal, TypeVar, cast, get_args, get_origin
from typing import get_type_hints as hints_of

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from runbook.files.errors import Wrong, nearest, shown, split
from runbook.model.fields import LEAST
from runbook.model.power import Power

# what a day's files may say is up to this program: no plugin of pydantic's is searched for
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

T = TypeVar("T")
_WRONG: Final = object()


# -- the fields of a value ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Member:
    """One field of a value: its name, file key, type, default (MISSING if none) and description."""

    name: str
    key: str
    hint: Any
    default: Any
    means: str = ""


def is_shape(hint: Any) -> bool:
    """Whether a type is a value with a table of its own in a file."""
    value = is_dataclass(hint) or hasattr(hint, "_field_defaults")
    return isinstance(hint, type) and value and hint is not Power


def bare(hint: Any) -> Any:
    """A type without the notes on it."""
    return get_args(hint)[0] if get_origin(hint) is Annotated else hint


def inner_shape(hint: Any) -> Any:
    """The value whose table a type holds, through lists, unions and notes; None if none does."""
    if is_shape(hint):
        return hint
    return next(filter(None, map(inner_shape, get_args(hint))), None)


def is_list(hint: Any) -> bool:
    """Whether a type is a list of something, whatever is noted on it."""
    return get_origin(bare(hint)) is tuple


@cache
def members(cls: Any) -> tuple[Member, ...]:
    """The fields of a value, in order."""
    hints = hints_of(cls, include_extras=True)
    defaults: dict[str, Any] = (
        {field.name: field.default for field in fields(cls)}
        if is_dataclass(cls)
        else {name: cls._field_defaults.get(name, MISSING) for name in cls._fields}
    )
    return tuple(_member(name, hints[name], default) for name, default in defaults.items())


def _member(name: str, hint: Any, default: Any) -> Member:
    notes = get_args(hint)[1:] if get_origin(hint) is Annotated else ()
    infos = [note for note in notes if isinstance(note, FieldInfo)]
    key = next((info.alias for info in infos if info.alias), name)
    means = next((info.description for info in infos if info.description), "")
    return Member(name, key, hint, default, means)


def plain(value: Any) -> Any:
    """A value as dicts, lists, texts and numbers, keyed as in its file; defaults included."""
    if isinstance(value, Power):
        return str(value)
    cls: Any = type(value)
    if is_shape(cls):
        return {each.key: plain(getattr(value, each.name)) for each in members(cls)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


# -- a table as a value ------------------------------------------------------------------------


@cache
def _adapter(cls: Any) -> TypeAdapter[Any]:
    return TypeAdapter(cls)


def parse(cls: type[T], table: Any) -> T:
    """Return a table as a value. Raises ValidationError with every problem at once."""
    shape: Any = cls
    return cast(T, _adapter(shape).validate_python(table, extra="forbid"))


def parse_json(cls: type[T], text: str | bytes) -> T:
    """Return a JSON object as a value. Raises ValidationError with every problem at once."""
    shape: Any = cls
    return cast(T, _adapter(shape).validate_json(text, strict=True, extra="forbid"))


def brackets_corrected(cls: type, table: Mapping[str, Any]) -> tuple[dict[str, Any], list[Wrong]]:
    """A file's table with each table in the brackets its type wants, and which were not.

    So what stands in it is checked with everything else: ``[lens]`` for ``[[lens]]``, or the other
    way round. What is no table at all is left, and so are several where there can be one.
    """
    right, wrongs = dict(table), []
    for member in members(cls):
        key, value = member.key, table.get(member.key)
        if inner_shape(member.hint) is None:
            continue
        if is_list(member.hint) and isinstance(value, dict):
            right[key] = [value]
            do = f"write [[{key}]], with two brackets on each side"
            wrongs.append(Wrong(((key,),), "this is one table", do))
        elif not is_list(member.hint) and isinstance(value, list) and _is_one_table(value):
            right[key] = value[0]
            wrongs.append(Wrong(((key,),), "a list is no table", f"write it once, as [{key}]"))
    return right, wrongs


def _is_one_table(value: list[Any]) -> bool:
    return len(value) == 1 and isinstance(value[0], dict)


# -- a table that is right in part -------------------------------------------------------------


class Unknown(Exception):
    """A value was asked for that is wrong, or not known; that is reported already."""


def as_far_as_known(rule: Iterator[Wrong]) -> Iterator[Wrong]:
    """What a rule finds, up to where it asks for a value that is not known."""
    try:
        yield from rule
    except Unknown:
        return


def partly(cls: type[T], table: Any, whole: bool = True) -> T:
    """A table as its value; whatever is wrong in it raises Unknown when it is asked for.

    So does what is not written, unless it may be left out: from a table that is not ``whole``, or
    that has an unknown key, anything may be missing. A wrong id is like no other.
    """
    if whole:
        try:
            return parse(cls, table)
        except ValidationError:
            pass
    written = table if isinstance(table, dict) else {}
    sure = whole and isinstance(table, dict) and not has_unknown_keys(cls, table)
    shape: Any = cls
    values = {each.name: _value_of(shape, each, written, whole, sure) for each in members(shape)}
    return cast(T, _partly(shape)(**values))


def has_unknown_keys(cls: type, table: Mapping[str, Any]) -> bool:
    """Whether a table has a key that its type has not: it may stand for any that is missing."""
    return not table.keys() <= {member.key for member in members(cls)}


@cache
def _partly(cls: Any) -> type:
    def read(self: Any, name: str) -> Any:
        value = object.__getattribute__(self, name)
        if value is _WRONG:
            raise Unknown
        return value

    return type(cls.__name__, (cls,), {"__getattribute__": read})


@cache
def _adapter_of(cls: Any, name: str) -> TypeAdapter[Any]:
    return TypeAdapter(next(member.hint for member in members(cls) if member.name == name))


def _value_of(cls: type, member: Member, table: Mapping[str, Any], whole: bool, sure: bool) -> Any:
    wrong = object() if member.name == "id" else _WRONG
    if member.key not in table:
        return member.default if sure and member.default is not MISSING else wrong
    value, shape = table[member.key], inner_shape(member.hint)
    if shape is not None and is_list(member.hint):
        right = isinstance(value, list)
        return tuple(partly(shape, item, whole) for item in value) if right else wrong
    if shape is not None:
        return partly(shape, value, whole) if isinstance(value, dict) else wrong
    try:
        return _adapter_of(cls, member.name).validate_python(value)
    except ValidationError:
        return wrong


# -- pydantic's errors in plain words ----------------------------------------------------------

_Detail = tuple[str, str]
_WANTED: Final = {
    "float_type": "write a number, without quotes",
    "int_type": "write a whole number, without quotes",
    "string_type": 'write a text in quotes, like "A"',
    "bool_type": "write true or false, without quotes",
    "date_type": "write a date without quotes, like 2026-12-04",
    "time_type": "write a time of day without quotes, like 08:00:00",
    "tuple_type": 'write a list in brackets, like ["A", "B"]',
    "dataclass_type": "write a table of keys",
}


def _kind(value: Any) -> str:
    """What a value is: ``"45" is text``."""
    if isinstance(value, dict | list):
        return f"this is a {'table' if isinstance(value, dict) else 'list'}"
    kinds = {bool: "a yes or no", str: "text", int: "a number", float: "a number"}
    return f"{shown(value)} is {kinds.get(type(value), f'a {type(value).__name__}')}"


def _type(error: ErrorDetails) -> _Detail:
    value, wanted, loc = error["input"], _WANTED[error["type"]], error["loc"]
    if error["type"] == "int_type" and isinstance(value, float):
        return f"{shown(value)} is no whole number", "write it without a point"
    if error["type"] == "float_type" and isinstance(value, int) and not isinstance(value, bool):
        return f"{shown(value)} is too big", "write a smaller number"
    if error["type"] == "dataclass_type" and isinstance(value, list):
        once = f"write it once, as [{loc[-1]}]" if isinstance(loc[-1], str) else ""
        return "a list is no table", once or "write its keys by name"
    return _kind(value), wanted


def _bound(error: ErrorDetails) -> _Detail:
    (side, bound), *_ = error["ctx"].items()
    what = f"{shown(error['input'])} is too {'little' if side in ('gt', 'ge') else 'much'}"
    if bound == LEAST:
        return what, "it must be more than 0"
    sides = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
    return what, f"it must be {sides[side]} {bound:g}"


def _length(error: ErrorDetails) -> _Detail:
    count = len(error["input"]) if isinstance(error["input"], list) else 0
    return f"{count} given", "write two numbers: width and height"


def _choice(error: ErrorDetails) -> _Detail:
    choices = error["ctx"]["expected"].replace("'", '"')
    return f"{shown(error['input'])} is none of its values", f"write {choices}"


def _pattern(error: ErrorDetails) -> _Detail:
    return f"{shown(error['input'])} is no id", "write 1 to 24 letters, digits, - or _"


def _own_words(error: ErrorDetails) -> _Detail:
    return error["msg"], "docs/day-files.md says what is written there"


_WORDS: Final[dict[str, Callable[[ErrorDetails], _Detail]]] = {
    **dict.fromkeys(_WANTED, _type),
    **dict.fromkeys(("greater_than", "greater_than_equal", "less_than", "less_than_equal"), _bound),
    "finite_number": lambda error: (f"{shown(error['input'])} is no real number", "write a number"),
    "literal_error": _choice,
    "power_type": lambda error: (f"{shown(error['input'])} is no text", 'write it in quotes, like "1/8"'),
    "string_pattern_mismatch": _pattern,
    "too_long": _length,
    "missing": _length,
    "value_error": lambda error: split(error["ctx"]["error"]),
}


def _shape_at(cls: Any, loc: tuple[int | str, ...]) -> Any:
    for part in loc:
        if isinstance(part, str):
            cls = inner_shape(next(member.hint for member in members(cls) if member.key == part))
    return cls


def _unknown(cls: Any, error: ErrorDetails, top: tuple[str, ...]) -> Wrong:
    *outer, key = error["loc"]
    known = [member.key for member in members(_shape_at(cls, tuple(outer)))]
    known = known if outer or not top else [*top]
    near = nearest(str(key), known)
    do = f"did you mean {near}?" if near else f"the keys here are {', '.join(known)}"
    return Wrong((error["loc"],), "no such key", do)


def missing(cls: Any, loc: tuple[int | str, ...]) -> _Detail:
    """What is not there: how to write it, where that may be in doubt, and what it means."""
    found = members(_shape_at(cls, loc[:-1]))
    member = next(member for member in found if member.key == loc[-1])
    means = f" ({member.means})" if member.means else ""
    return "is missing", f"write {_as_written(member)}{means}"


def _as_written(member: Member) -> str:
    hint = bare(member.hint)
    if get_origin(hint) is Literal:
        *first, last = map(shown, get_args(hint))
        return f"{', '.join(first)} or {last}"
    if is_shape(hint):
        return f"[{member.key}]"
    return {dt.date: "it like 2026-12-04", dt.time: "it like 08:00:00"}.get(hint, "it")


def shape_wrongs(cls: type, error: ValidationError, whole: bool = True, top: tuple[str, ...] = ()) -> list[Wrong]:
    """Everything wrong with the shape of a table; what is missing only of a ``whole`` one.

    ``top`` are the keys its file may hold at the top, where they are not those of the value.
    """
    wrongs = []
    for detail in error.errors(include_url=False):
        loc = detail["loc"]
        if detail["type"] == "unexpected_keyword_argument":
            wrongs.append(_unknown(cls, detail, top))
        elif detail["type"] == "missing" and isinstance(loc[-1], str):
            if whole:
                wrongs.append(Wrong((loc,), *missing(cls, loc)))
        else:
            what, do = _WORDS.get(detail["type"], _own_words)(detail)
            # of a pair with one number missing, the pair is at fault
            wrongs.append(Wrong((loc[:-1] if detail["type"] == "missing" else loc,), what, do))
    return wrongs
