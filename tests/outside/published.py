"""Published values as tables: a row for each source."""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

Rows = list[Any]


def rows(quantity: Callable[..., object], within: float, values: Mapping[tuple[Any, ...], object]) -> Rows:
    """What a function is to return for the arguments of each value, and how nearly."""
    return [
        pytest.param(quantity, given, value, within, id=f"{quantity.__name__}{given}")
        for given, value in values.items()
    ]


def published(*tables: Iterable[Any]) -> pytest.MarkDecorator:
    """Run a test on every row of these tables."""
    return pytest.mark.parametrize(("quantity", "given", "value", "within"), [row for table in tables for row in table])


def agree(quantity: Callable[..., object], given: tuple[object, ...], value: object, within: float) -> None:
    """Assert that a function returns the published value."""
    assert quantity(*given) == pytest.approx(value, abs=within)


def instance(name: str) -> list[list[int]]:
    """The rows of numbers of a published instance; its source is in its file."""
    text = (Path(__file__).parent / "instances" / f"{name}.txt").read_text("utf-8")
    return [[int(word) for word in line.split()] for line in text.splitlines() if not line.startswith("#")]
