"""A named tuple of ours does what the standard library's does."""

from __future__ import annotations

import copy
import pickle
import typing
from typing import Any

import pytest

from runbook.plan.tuples import NamedTuple


class Ours(NamedTuple):
    """With a docstring."""

    x: float
    y: float = 2.0
    name: str | None = None

    @property
    def both(self) -> float:
        return self.x + self.y


class Theirs(typing.NamedTuple):
    """With a docstring."""

    x: float
    y: float = 2.0
    name: str | None = None


class Nothing(NamedTuple):
    pass


class Kept(Ours):
    """A subclass with a place for what is worked out once."""


MADE: list[tuple[tuple[Any, ...], dict[str, Any]]] = [
    ((1.0,), {}),
    ((1.0, 3.0, "a"), {}),
    ((), {"x": 1.0}),
    ((1.0,), {"name": "b"}),
    ((), {"name": "c", "y": 0.0, "x": -1.0}),
]


@pytest.mark.parametrize(("values", "named"), MADE)
def test_it_is_made_read_compared_and_said_alike(
    values: tuple[Any, ...], named: dict[str, Any]
) -> None:
    ours, theirs = Ours(*values, **named), Theirs(*values, **named)
    assert ours == theirs
    assert hash(ours) == hash(theirs)
    assert (ours.x, ours.y, ours.name) == (theirs.x, theirs.y, theirs.name)
    assert repr(ours) == repr(theirs).replace("Theirs", "Ours")
    assert ours._asdict() == theirs._asdict()
    assert ours._replace(y=9.0, name="d") == theirs._replace(y=9.0, name="d")
    assert type(ours._replace(y=9.0)) is Ours
    assert Ours._make(theirs) == theirs


@pytest.mark.parametrize(
    ("values", "named"),
    [((), {}), ((1.0, 2.0, "a", 4), {}), ((1.0,), {"z": 1}), ((1.0,), {"x": 1.0}), ((), {"y": 1})],
)
def test_it_refuses_what_the_other_refuses(values: tuple[Any, ...], named: dict[str, Any]) -> None:
    with pytest.raises(TypeError):
        Theirs(*values, **named)
    with pytest.raises(TypeError):
        Ours(*values, **named)


def test_it_says_what_it_is() -> None:
    assert Ours._fields == Theirs._fields == Ours.__match_args__
    assert Ours._field_defaults == Theirs._field_defaults
    assert typing.get_type_hints(Ours) == typing.get_type_hints(Theirs)
    assert Ours.__doc__ == Theirs.__doc__
    assert isinstance(Ours(1.0), tuple)
    match Ours(1.0, 5.0):
        case Ours(x, y):
            assert (x, y) == (1.0, 5.0)


def test_it_does_not_change() -> None:
    with pytest.raises(AttributeError):
        Ours(1.0).x = 2.0  # type: ignore[misc]
    with pytest.raises(AttributeError):
        Ours(1.0).z = 2.0  # type: ignore[attr-defined]
    with pytest.raises(ValueError, match="no field z"):
        Ours(1.0)._replace(z=1)  # type: ignore[call-arg]


def test_it_is_copied_and_packed() -> None:
    made = Ours(1.0, name="e")
    assert copy.copy(made) == copy.deepcopy(made) == pickle.loads(pickle.dumps(made)) == made


def test_it_may_be_empty_and_may_be_more() -> None:
    assert Nothing() == ()
    assert repr(Nothing()) == "Nothing()"
    kept = Kept(1.0, 4.0)
    assert kept.both == 5.0
    assert type(kept._replace(x=2.0)) is Kept
    assert Ours(1.0, 4.0) == kept
