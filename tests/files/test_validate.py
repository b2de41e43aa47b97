"""Tables are strict: no unknown keys, no numbers in quotes, no true for 1, everything at once."""

import datetime as dt
from dataclasses import FrozenInstanceError, dataclass
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field, ValidationError

from runbook.files.validate import Unknown, members, parse, parse_json, partly, plain
from runbook.model.fields import Date, Flag, Id, NotNegative, Positive, Time


@dataclass(frozen=True, slots=True)
class Inner:
    id: Id
    size: Annotated[Positive, Field(description="how big")] = 1.0


@dataclass(frozen=True, slots=True)
class Other:
    id: Id
    size: Positive = 1.0


@dataclass(frozen=True, slots=True)
class Outer:
    """Holds one of each kind of field."""

    day: Date
    hour: Time
    kind: Literal["a", "b"] = "a"
    inners: Annotated[tuple[Inner, ...], Field(alias="inner")] = ()
    pair: tuple[NotNegative, NotNegative] = (1.0, 2.0)
    maybe: Positive | None = None
    yes: Flag = False


RIGHT: dict[str, Any] = {
    "day": dt.date(2026, 12, 4),
    "hour": dt.time(8),
    "inner": [{"id": "A"}, {"id": "B", "size": 2}],
}


def places(change: dict[str, Any]) -> list[tuple[Any, ...]]:
    with pytest.raises(ValidationError) as problem:
        parse(Outer, RIGHT | change)
    return [error["loc"] for error in problem.value.errors()]


def test_a_right_table_becomes_a_value_with_its_defaults() -> None:
    value = parse(Outer, RIGHT)
    assert value == Outer(dt.date(2026, 12, 4), dt.time(8), inners=(Inner("A"), Inner("B", 2.0)))
    assert isinstance(value.inners[1].size, float)


def test_values_of_different_types_are_never_equal_and_cannot_be_changed() -> None:
    assert Inner("A") != Other("A")
    with pytest.raises(FrozenInstanceError):
        Inner("A").size = 2.0  # type: ignore[misc]


@pytest.mark.parametrize(("change", "place"), [
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
])  # fmt: skip
def test_what_is_wrong_is_found_where_it_is(change: dict[str, Any], place: tuple[Any, ...]) -> None:
    assert places(change) == [place]


def test_everything_wrong_is_found_at_once() -> None:
    assert len(places({"day": 1, "hour": 1, "kind": 1, "x": 1, "inner": [{}, {}]})) == 6


def test_a_value_as_plain_keys_reads_back_the_same() -> None:
    table = plain(parse(Outer, RIGHT))
    assert table["inner"] == [{"id": "A", "size": 1.0}, {"id": "B", "size": 2.0}]
    assert [member.key for member in members(Outer)] == list(table)
    assert members(Inner)[1].means == "how big"


def test_json_is_as_strict_as_a_table() -> None:
    assert parse_json(Inner, '{"id": "A", "size": 2}') == Inner("A", 2.0)
    for text in ('{"id": "A", "size": "2"}', '{"id": "A", "siez": 2}', '["A"]', "{}"):
        with pytest.raises(ValidationError):
            parse_json(Inner, text)


def test_of_a_table_that_is_wrong_in_part_the_rest_can_be_used() -> None:
    value = partly(Outer, RIGHT | {"hour": 8, "inner": [{"id": "A", "size": "1"}]})
    assert (value.day, value.inners[0].id, value.yes) == (RIGHT["day"], "A", False)
    for asked in (lambda: value.hour, lambda: value.inners[0].size):
        with pytest.raises(Unknown):
            asked()
