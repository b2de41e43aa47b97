"""Tables of a day's files as values, checked by pydantic; in part, where something is wrong.

A table that is wrong in part is still read as far as it is right (see ``partly``), so that what is right is checked
against everything else and every problem is reported at once.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache, cached_property
from typing import Annotated, Any, Final, Literal, TypeVar, cast, get_args, get_origin, get_type_hints

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from runbook.files.errors import Wrong, instead, shown, split
from runbook.model.fields import LEAST
from runbook.model.power import Power

# what a day's files may hold is up to this program: no plugin of pydantic's is searched for
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

T = TypeVar("T")
_WRONG: Final = object()


# -- the fields of a value ---------------------------------------------------------------------


def is_value(hint: Any) -> bool:
    """Whether a type is a value with a table of its own in a file."""
    return isinstance(hint, type) and is_dataclass(hint) and hint is not Power


def bare(hint: Any) -> Any:
    """A type without its annotations."""
    return get_args(hint)[0] if get_origin(hint) is Annotated else hint


def _value_in(hint: Any) -> Any:
    return hint if is_value(hint) else next(filter(None, map(_value_in, get_args(hint))), None)


@dataclass(frozen=True)
class Member:
    """One field of a value: its name, file key, type, default (MISSING if none) and description."""

    name: str
    key: str
    hint: Any
    default: Any
    means: str = ""

    @cached_property
    def shape(self) -> Any:
        """The value whose table, or list of tables, the field holds; None for a plain field."""
        return _value_in(self.hint)

    @cached_property
    def many(self) -> bool:
        """Whether the field is a list."""
        return get_origin(bare(self.hint)) is tuple

    @cached_property
    def adapter(self) -> TypeAdapter[Any]:
        return TypeAdapter(self.hint)


@cache
def members(cls: Any) -> tuple[Member, ...]:
    """The fields of a value, in order."""
    hints = get_type_hints(cls, include_extras=True)
    return tuple(_member(field.name, hints[field.name], field.default) for field in fields(cls))


def _member(name: str, hint: Any, default: Any) -> Member:
    infos = [note for note in get_args(hint)[1:] if isinstance(note, FieldInfo)]
    key = next((info.alias for info in infos if info.alias), name)
    means = next((info.description for info in infos if info.description), "")
    return Member(name, key, hint, default, means)


def plain(value: Any) -> Any:
    """A value as dicts, lists, texts and numbers, keyed as in its file; defaults included."""
    if isinstance(value, Power):
        return str(value)
    cls: Any = type(value)
    if is_value(cls):
        return {member.key: plain(getattr(value, member.name)) for member in members(cls)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


# -- a table as a value ------------------------------------------------------------------------


@cache
def _adapter(cls: Any) -> TypeAdapter[Any]:
    return TypeAdapter(cls)


def parse(cls: type[T], table: Any, dials: Mapping[str, Any] | None = None) -> T:
    """Return a table as a value. Raises ValidationError with every problem at once.

    ``dials`` are those of the heads, by head: a light's power is read on its own.
    """
    shape: Any = cls
    return cast(T, _adapter(shape).validate_python(table, extra="forbid", context=dials))


def parse_json(cls: type[T], text: str | bytes) -> T:
    """Return a JSON object as a value. Raises ValidationError with every problem at once."""
    shape: Any = cls
    return cast(T, _adapter(shape).validate_json(text, strict=True, extra="forbid"))


def brackets_corrected(cls: type, table: Mapping[str, Any]) -> tuple[dict[str, Any], list[Wrong]]:
    """A file's table with ``[key]`` where that is right and ``[[key]]`` where that is, and which were not.

    So what stands in such a table is checked with everything else.
    """
    right, wrongs = dict(table), []
    for member in filter(lambda member: member.shape, members(cls)):
        key, value = member.key, table.get(member.key)
        if member.many and isinstance(value, dict):
            right[key] = [value]
            wrongs.append(Wrong(((key,),), "this is one table", f"write [[{key}]], with two brackets on each side"))
        elif not member.many and isinstance(value, list) and len(value) == 1 and isinstance(value[0], dict):
            right[key] = value[0]
            wrongs.append(Wrong(((key,),), "a list is not a table", f"write it once, as [{key}]"))
    return right, wrongs


# -- a table that is right in part -------------------------------------------------------------


class Unknown(Exception):
    """A value was asked for that is wrong or not known; that is reported already."""


def wrongs_of(rules: tuple[Callable[..., Iterator[Wrong]], ...], *of: Any) -> Iterator[Wrong]:
    """What rules find, each up to where it asks for a value that is not known."""
    for rule in rules:
        with suppress(Unknown):
            yield from rule(*of)


def partly(cls: type[T], table: Any, whole: bool = True) -> T:
    """A table as its value; whatever is wrong in it raises Unknown when it is asked for.

    So does what is not written, unless it may be left out: from a table that is not ``whole``, or that has an unknown
    key, anything may be missing. A wrong id is like no other.
    """
    written = table if isinstance(table, dict) else {}
    sure = whole and isinstance(table, dict) and not has_unknown_keys(cls, table)
    shape: Any = cls
    return cast(T, _partly(shape)(**{each.name: _known(each, written, whole, sure) for each in members(shape)}))


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


def _known(member: Member, table: Mapping[str, Any], whole: bool, sure: bool) -> Any:
    """A field's value as far as it is right."""
    wrong = object() if member.name == "id" else _WRONG
    if member.key not in table:
        return member.default if sure and member.default is not MISSING else wrong
    value = table[member.key]
    if member.shape and member.many:
        return tuple(partly(member.shape, item, whole) for item in value) if isinstance(value, list) else wrong
    if member.shape:
        return partly(member.shape, value, whole) if isinstance(value, dict) else wrong
    try:
        return member.adapter.validate_python(value)
    except ValidationError:
        return wrong


# -- pydantic's errors in plain words ----------------------------------------------------------

_ID: Final = "write 1 to 24 letters, digits, - or _"
_MESSAGES: Final = {
    "float_type": ("{kind}", "write a number, without quotes"),
    "int_type": ("{kind}", "write a whole number, without quotes"),
    "string_type": ("{kind}", 'write a text in quotes, like "A"'),
    "bool_type": ("{kind}", "write true or false, without quotes"),
    "date_type": ("{kind}", "write a date without quotes, like 2026-12-04"),
    "time_type": ("{kind}", "write a time of day without quotes, like 08:00:00"),
    "tuple_type": ("{kind}", 'write a list in brackets, like ["A", "B"]'),
    "dataclass_type": ("{kind}", "write a table of keys"),
    "power_type": ("{value} is not text", 'write it in quotes, like "1/8"'),
    "greater_than": ("{value} is too little", "it must be more than {gt:g}"),
    "greater_than_equal": ("{value} is too little", "it must be at least {ge:g}"),
    "less_than": ("{value} is too much", "it must be less than {lt:g}"),
    "less_than_equal": ("{value} is too much", "it must be at most {le:g}"),
    "finite_number": ("{value} is not a finite number", "write a number"),
    "literal_error": ("{value} is none of its values", "write {expected}"),
    "string_pattern_mismatch": ("{value} is not an id", _ID),
    "too_long": ("there are too many", "write two numbers: width and height"),
    "missing": ("one is missing", "write two numbers: width and height"),
}
_KINDS: Final = {bool: "a yes or no", str: "text", int: "a number", float: "a number"}


def _message(error: ErrorDetails) -> tuple[str, str]:
    """What is wrong and what would be right."""
    value, context = error["input"], error.get("ctx", {})
    if error["type"] == "value_error":
        return split(context["error"])
    if context.get("ge") == LEAST:
        return f"{shown(value)} is too little", "it must be more than 0"
    if error["type"] == "float_type" and type(value) is int:
        return f"{shown(value)} is too big", "write a smaller number"
    kind = f"{shown(value)} is {_KINDS.get(type(value), f'a {type(value).__name__}')}"
    if isinstance(value, dict | list):
        kind = f"this is {shown(value)}"
    what, do = _MESSAGES.get(error["type"], ("{msg}", "docs/day-files.md has what is written there"))
    context = context | {"expected": context.get("expected", "").replace("'", '"')}
    words = {"value": shown(value), "kind": kind, "msg": error["msg"], **context}
    return what.format_map(words), do.format_map(words)


def _shape_at(cls: Any, loc: tuple[int | str, ...]) -> Any:
    for part in loc:
        if isinstance(part, str):
            cls = next(member.shape for member in members(cls) if member.key == part)
    return cls


def missing(cls: Any, loc: tuple[int | str, ...]) -> tuple[str, str]:
    """What to say of a key that is not there: how to write it, where that may be in doubt, and what it means."""
    member = next(member for member in members(_shape_at(cls, loc[:-1])) if member.key == loc[-1])
    hint = bare(member.hint)
    written = {dt.date: "it like 2026-12-04", dt.time: "it like 08:00:00"}.get(hint, "it")
    if get_origin(hint) is Literal:
        *first, last = map(shown, get_args(hint))
        written = f"{', '.join(first)} or {last}"
    elif member.shape and not member.many:
        written = f"[{member.key}]"
    return "is missing", f"write {written} ({member.means})" if member.means else f"write {written}"


def shape_wrongs(cls: type, error: ValidationError, whole: bool = True, top: tuple[str, ...] = ()) -> Iterator[Wrong]:
    """Everything wrong with the shape of a table; what is missing only of a ``whole`` one.

    ``top`` are the keys its file may hold at the top, where they are not those of the value.
    """
    for detail in error.errors(include_url=False):
        loc = detail["loc"]
        if detail["type"] == "unexpected_keyword_argument":
            known = top if top and len(loc) == 1 else [member.key for member in members(_shape_at(cls, loc[:-1]))]
            yield Wrong((loc,), "no such key", instead(str(loc[-1]), known))
        elif detail["type"] != "missing":
            yield Wrong((loc,), *_message(detail))
        elif not isinstance(loc[-1], str):  # of a pair with one number missing, the pair is at fault
            yield Wrong((loc[:-1],), *_message(detail))
        elif whole:
            yield Wrong((loc,), *missing(cls, loc))
