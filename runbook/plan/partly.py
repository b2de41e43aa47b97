"""Values that are right in part, so that the rest of them can still be checked.

What is wrong in a table is left out of its value: a rule that asks for it raises ``Unsaid`` and is
given up there. So everything that is right is held against everything else, and nothing is said
that only follows from what is wrong already.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING
from functools import cache
from typing import Any, Final, TypeVar, cast

from pydantic_core import ValidationError

from runbook.plan.shape import Member, inner_shape, is_list, members, validator
from runbook.plan.unsaid import Unsaid

_Shape = TypeVar("_Shape")
_WRONG: Final = object()


def partly(cls: type[_Shape], table: Any, whole: bool = True) -> _Shape:
    """A table as its shape; whatever is wrong in it raises Unsaid when it is asked for.

    So does what is not written, unless it may be left out: from a table that is not ``whole``, or
    that has a key nobody knows, anything may be missing. A wrong id is like no other.
    """
    shape: Any = cls
    if whole:
        try:
            return cast(_Shape, validator(shape).validate_python(table))
        except ValidationError:
            pass
    fields = table if isinstance(table, dict) else {}
    sure = whole and isinstance(table, dict) and not has_strange_keys(cls, table)
    values = [_field(member, fields, whole, sure) for member in members(shape)]
    return cast(_Shape, _partly(shape)(*values))


def has_strange_keys(cls: type, table: Mapping[str, Any]) -> bool:
    """Whether a table has a key that its shape has not: it may stand for any that is not there."""
    return not table.keys() <= {member.key for member in members(cls)}


@cache
def _partly(cls: type) -> type:
    def read(self: Any, name: str) -> Any:
        value = object.__getattribute__(self, name)
        if value is _WRONG:
            raise Unsaid
        return value

    return type(cls.__name__, (cls,), {"__getattribute__": read})


def _field(member: Member, table: Mapping[str, Any], whole: bool, sure: bool) -> Any:
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
        return validator(member.hint).validate_python(value)
    except ValidationError:
        return wrong
