"""Plain immutable values, checked at the edge by pydantic's own core.

The values of this package are named tuples whose annotations say what is allowed (see ``bounds``).
``validator`` turns such a class into a strict pydantic-core validator: no unknown keys, no numbers
in quotes, no true for 1. Full pydantic models, or a dataclass for each value, cost a tenth of a
second at every start: more than all the rest of ``runbook check`` together.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import MISSING
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic_core import CoreSchema, SchemaValidator, core_schema

from runbook.plan.bounds import Key, Matches, Reads, Within
from runbook.plan.faults import shown
from runbook.plan.power import Power
from runbook.plan.tuples import NamedTuple

_SCALARS: dict[Any, Callable[..., CoreSchema]] = {
    float: core_schema.float_schema,
    int: core_schema.int_schema,
    str: core_schema.str_schema,
    bool: core_schema.bool_schema,
    dt.date: core_schema.date_schema,
    dt.time: core_schema.time_schema,
    dt.datetime: core_schema.datetime_schema,
}


def key_of(hint: Any, name: str) -> str:
    """The key a field is written under."""
    notes = get_args(hint)[1:] if get_origin(hint) is Annotated else ()
    return next((note.name for note in notes if isinstance(note, Key)), name)


def is_shape(hint: Any) -> bool:
    """Whether a type is one of our values: a named tuple."""
    return isinstance(hint, type) and hasattr(hint, "_field_defaults")


def inner_shape(hint: Any) -> Any:
    """The shape whose table a type holds, through lists, choices and notes; None if none does."""
    if is_shape(hint):
        return hint
    if get_origin(hint) is Annotated:
        inner, *notes = get_args(hint)
        return None if any(isinstance(note, Reads) for note in notes) else inner_shape(inner)
    return next(filter(None, map(inner_shape, get_args(hint))), None)


def is_list(hint: Any) -> bool:
    """Whether a type is a list of something, whatever is noted on it."""
    return get_origin(get_args(hint)[0] if get_origin(hint) is Annotated else hint) is tuple


class Member(NamedTuple):
    """One field of a shape: its Python name, file key, type, and default (MISSING if none)."""

    name: str
    key: str
    hint: Any
    default: Any


@cache
def members(cls: type) -> tuple[Member, ...]:
    """The fields of a named tuple, in order."""
    hints = get_type_hints(cls, include_extras=True)
    given = cls._field_defaults  # type: ignore[attr-defined]
    return tuple(
        Member(name, key_of(hints[name], name), hints[name], given.get(name, MISSING))
        for name in cls._fields  # type: ignore[attr-defined]
    )


def _scalar(hint: Any, notes: tuple[Any, ...]) -> CoreSchema:
    bounds: dict[str, Any] = {"allow_inf_nan": False} if hint is float else {}
    for note in notes:
        if isinstance(note, Within):
            bounds |= {key: bound for key, bound in note._asdict().items() if bound is not None}
        elif isinstance(note, Matches):
            bounds["pattern"] = note.pattern
    return _SCALARS[hint](strict=True, **bounds)


def _union(args: tuple[Any, ...], notes: tuple[Any, ...]) -> CoreSchema:
    kept = [_schema(arg, notes) for arg in args if arg is not NoneType]
    inner = kept[0] if len(kept) == 1 else core_schema.union_schema([*kept])
    return core_schema.nullable_schema(inner) if len(kept) < len(args) else inner


def _written(note: Reads) -> CoreSchema:
    def read(value: Any) -> Any:
        if isinstance(value, note.kind):
            return value
        if not isinstance(value, str):
            what = f"{shown(value)} is no text"
            raise ValueError(f"{what}; write it in quotes, like {shown(note.like)}")  # noqa: TRY004
        return note.read(value)

    return core_schema.no_info_plain_validator_function(read)


def _shape(cls: type) -> CoreSchema:
    parameters = [
        core_schema.arguments_parameter(
            member.name,
            _schema(member.hint)
            if member.default is MISSING
            else core_schema.with_default_schema(_schema(member.hint), default=member.default),
            mode="keyword_only",
            alias=member.key,
        )
        for member in members(cls)
    ]
    return core_schema.call_schema(core_schema.arguments_schema(parameters), cls)


def _schema(hint: Any, notes: tuple[Any, ...] = ()) -> CoreSchema:
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _schema(args[0], (*args[1:], *notes))
    written = next((note for note in notes if isinstance(note, Reads)), None)
    if written is not None:
        return _written(written)
    if origin is tuple:
        variadic = args[-1] is Ellipsis
        items = [_schema(arg) for arg in args if arg is not Ellipsis]
        return core_schema.tuple_schema(items, variadic_item_index=0 if variadic else None)
    if origin is dict:
        # a JSON object, kept as it is: only its keys are held to be texts
        schema: CoreSchema = core_schema.dict_schema(core_schema.str_schema(strict=True))
    elif origin is Literal:
        schema = core_schema.literal_schema(list(args))
    elif origin in (Union, UnionType):
        schema = _union(args, notes)
    elif hint in _SCALARS:
        schema = _scalar(hint, notes)
    elif is_shape(hint):
        schema = _shape(hint)
    else:
        raise TypeError(f"no shape for {hint!r}")
    return schema


@cache
def validator(cls: type) -> SchemaValidator:
    """The strict validator of a shape; ``validate_python(dict)`` gives an instance.

    It raises ``pydantic_core.ValidationError`` with every problem at once.
    """
    return SchemaValidator(_schema(cls))


def plain(value: Any) -> Any:
    """A shape as dicts, lists, texts and numbers, keyed as in its file; defaults included."""
    if isinstance(value, Power):
        return str(value)
    if is_shape(type(value)):
        return {key: plain(item) for key, item in _items(value)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def _items(value: Any) -> Iterator[tuple[str, Any]]:
    cls: type = type(value)
    for member in members(cls):
        yield member.key, getattr(value, member.name)
