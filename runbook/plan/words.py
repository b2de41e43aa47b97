"""What is wrong with the shape of a file, in plain words instead of the validator's own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Annotated, Any, Final, Literal, get_args, get_origin

from pydantic_core import ErrorDetails, ValidationError

from runbook.plan.bounds import LEAST
from runbook.plan.faults import Wrong, nearest, shown, split
from runbook.plan.meanings import MEANINGS
from runbook.plan.shape import inner_shape, is_shape, members

_FROM_A_LIST: Final = "unexpected_positional_argument"
_Detail = tuple[str, str]
_WANTED: Final = {
    "float_type": "write a number, without quotes",
    "int_type": "write a whole number, without quotes",
    "string_type": 'write a text in quotes, like "A"',
    "bool_type": "write true or false, without quotes",
    "date_type": "write a date without quotes, like 2026-12-04",
    "time_type": "write a time of day without quotes, like 08:00:00",
    "tuple_type": 'write a list in brackets, like ["A", "B"]',
    "arguments_type": "write a table of keys",
}


def _kind(value: Any) -> str:
    """What a value is, said back: ``"45" is text``."""
    if isinstance(value, bool):
        kind = "a yes or no"
    elif isinstance(value, str):
        kind = "text"
    elif isinstance(value, int | float):
        kind = "a number"
    elif isinstance(value, dict):
        return "this is a table"
    elif isinstance(value, list):
        return "this is a list"
    else:
        kind = f"a {type(value).__name__}"
    return f"{shown(value)} is {kind}"


def _type(error: ErrorDetails) -> _Detail:
    value, wanted = error["input"], _WANTED[error["type"]]
    if error["type"] == "int_type" and isinstance(value, float):
        return f"{shown(value)} is no whole number", "write it without a point"
    if error["type"] == "float_type" and isinstance(value, int) and not isinstance(value, bool):
        return f"{shown(value)} is too big", "write a smaller number"
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
    "string_pattern_mismatch": _pattern,
    "too_long": _length,
    "missing": _length,
    "value_error": lambda error: split(error["ctx"]["error"]),
}


def _once(loc: tuple[int | str, ...]) -> str:
    return (
        f"write it once, as [{loc[-1]}]" if isinstance(loc[-1], str) else "write its keys by name"
    )


def _shape_at(cls: Any, loc: tuple[int | str, ...]) -> Any:
    for part in loc:
        if isinstance(part, str):
            cls = inner_shape(next(member.hint for member in members(cls) if member.key == part))
    return cls


def _unknown(cls: Any, error: ErrorDetails, top: tuple[str, ...]) -> Wrong:
    *outer, key = error["loc"]
    in_shape = [member.key for member in members(_shape_at(cls, tuple(outer)))]
    known = in_shape if outer or not top else [*top]
    near = nearest(str(key), known)
    do = f"did you mean {near}?" if near else f"the keys here are {', '.join(known)}"
    return Wrong((error["loc"],), "no such key", do)


def missing(cls: Any, loc: tuple[int | str, ...]) -> _Detail:
    """What is not there: how to write it, where that may be in doubt, and what it means."""
    shape, key = _shape_at(cls, loc[:-1]), str(loc[-1])
    hint = next(member.hint for member in members(shape) if member.key == key)
    means = MEANINGS.get(shape, {}).get(key)
    return "is missing", f"write {_as_written(key, hint)}" + (f" ({means})" if means else "")


def _as_written(key: str, hint: Any) -> str:
    if get_origin(hint) is Annotated:
        return _as_written(key, get_args(hint)[0])
    if get_origin(hint) is Literal:
        *first, last = map(shown, get_args(hint))
        return f"{', '.join(first)} or {last}"
    if is_shape(hint):
        return f"[{key}]"
    return {dt.date: "it like 2026-12-04", dt.time: "it like 08:00:00"}.get(hint, "it")


def shape_wrongs(
    cls: type, error: ValidationError, whole: bool = True, top: tuple[str, ...] = ()
) -> list[Wrong]:
    """Everything wrong with the shape of a table; what is missing only of a ``whole`` one.

    ``top`` are the keys its file may hold at the top, where they are not those of the shape.
    """
    details = error.errors(include_url=False)
    # a list would fill a shape's fields in turn: what it lacks or has over is no fault of its own
    lists = dict.fromkeys(d["loc"][:-1] for d in details if d["type"] == _FROM_A_LIST)
    wrongs = [Wrong((loc,), "a list is no table", _once(loc)) for loc in lists]
    for detail in details:
        if detail["loc"][:-1] in lists:
            continue
        if detail["type"] == "unexpected_keyword_argument":
            wrongs.append(_unknown(cls, detail, top))
        elif detail["type"] == "missing_keyword_only_argument":
            if whole:
                wrongs.append(Wrong((detail["loc"],), *missing(cls, detail["loc"])))
        else:
            what, do = _WORDS.get(detail["type"], _own_words)(detail)
            # of a pair with one number missing, the pair is at fault
            loc = detail["loc"][:-1] if detail["type"] == "missing" else detail["loc"]
            wrongs.append(Wrong((loc,), what, do))
    return wrongs
