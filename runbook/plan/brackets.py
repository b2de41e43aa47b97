"""A table in the wrong brackets is read as it was meant: ``[lens]`` for ``[[lens]]``, or so."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from runbook.plan.faults import Wrong
from runbook.plan.shape import inner_shape, is_list, members


def mended(cls: type, table: Mapping[str, Any]) -> tuple[dict[str, Any], list[Wrong]]:
    """A file's table with each table in the brackets its shape wants, and which were not.

    So what stands in it is checked with everything else. What is no table at all is left as it is,
    and so are several where there can be one.
    """
    right, wrongs = dict(table), []
    for key, many in _tables(cls):
        value = table.get(key)
        if many and isinstance(value, dict):
            right[key] = [value]
            do = f"write [[{key}]], with two brackets on each side"
            wrongs.append(Wrong(((key,),), "this is one table", do))
        elif not many and isinstance(value, list) and [type(each) for each in value] == [dict]:
            right[key] = value[0]
            wrongs.append(Wrong(((key,),), "a list is no table", f"write it once, as [{key}]"))
    return right, wrongs


@cache
def _tables(cls: Any) -> tuple[tuple[str, bool], ...]:
    """The keys that hold a table, and whether one may be there many times."""
    held = [member for member in members(cls) if inner_shape(member.hint) is not None]
    return tuple((member.key, is_list(member.hint)) for member in held)
