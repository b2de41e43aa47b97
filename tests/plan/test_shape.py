"""Values are strict: no unknown keys, no numbers in quotes, no true for 1."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal, NamedTuple

import pytest
from pydantic_core import ValidationError

from runbook.plan.bounds import Id, Key, NotNegative, Positive
from runbook.plan.shape import members, plain, validator


class Inner(NamedTuple):
    id: Id
    size: Positive = 1.0


class Outer(NamedTuple):
    """Holds one of each kind of field."""

    day: dt.date
    hour: dt.time
    kind: Literal["a", "b"] = "a"
    inners: Annotated[tuple[Inner, ...], Key("inner")] = ()
    pair: tuple[NotNegative, NotNegative] = (1.0, 2.0)
    maybe: Positive | None = None
    yes: bool = False


RIGHT: dict[str, Any] = {
    "day": dt.date(2026, 12, 4),
    "hour": dt.time(8),
    "inner": [{"id": "A"}, {"id": "B", "size": 2}],
}


def errors(change: dict[str, Any]) -> list[tuple[tuple[Any, ...], str]]:
    try:
        validator(Outer).validate_python(RIGHT | change)
    except ValidationError as problem:
        return [(error["loc"], error["type"]) for error in problem.errors()]
    return []


def test_a_right_table_becomes_a_value_with_its_defaults() -> None:
    value = validator(Outer).validate_python(RIGHT)
    assert value == Outer(dt.date(2026, 12, 4), dt.time(8), inners=(Inner("A"), Inner("B", 2.0)))
    assert isinstance(value.inners[1].size, float)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"day": "2026-12-04"}, ("day",)), ({"hour": 8}, ("hour",)), ({"kind": "c"}, ("kind",)),
        ({"inner": {"id": "A"}}, ("inner",)), ({"inner": [{}]}, ("inner", 0, "id")),
        ({"inner": [{"id": "a b"}]}, ("inner", 0, "id")),
        ({"inner": [{"id": "A", "size": "1"}]}, ("inner", 0, "size")),
        ({"inner": [{"id": "A", "size": True}]}, ("inner", 0, "size")),
        ({"inner": [{"id": "A", "size": 0}]}, ("inner", 0, "size")),
        ({"inner": [{"id": "A", "size": float("inf")}]}, ("inner", 0, "size")),
        ({"inner": [{"id": "A", "siez": 1}]}, ("inner", 0, "siez")),
        ({"pair": [1.0, 2.0, 3.0]}, ("pair",)), ({"yes": 1}, ("yes",)), ({"maybe": -1}, ("maybe",)),
        ({"inners": []}, ("inners",)),
    ],
)  # fmt: skip
def test_what_is_wrong_is_found_where_it_is(change: dict[str, Any], place: tuple[Any, ...]) -> None:
    assert [loc for loc, _ in errors(change)] == [place]


def test_everything_wrong_is_found_at_once() -> None:
    assert len(errors({"day": 1, "hour": 1, "kind": 1, "x": 1, "inner": [{}, {}]})) == 6


def test_a_value_as_plain_keys_reads_back_the_same() -> None:
    value = validator(Outer).validate_python(RIGHT)
    said = plain(value)
    assert said["inner"] == [{"id": "A", "size": 1.0}, {"id": "B", "size": 2.0}]
    assert said["day"] == "2026-12-04"
    assert [member.key for member in members(Outer)] == list(said)


def test_a_type_without_a_shape_is_a_mistake_of_ours() -> None:
    class Odd(NamedTuple):
        what: complex

    Odd.__annotations__["what"] = complex
    with pytest.raises(TypeError, match="no shape for"):
        validator(Odd)
