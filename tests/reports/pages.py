"""Reading the parts of a printed page."""

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.reports.day_page import day_page
from runbook.reports.document import Checklist, Group, Heading, Page, Pairs, Part, Table, Text, Tick
from tests.day.days import demo


def flat(parts: Iterable[Part]) -> Iterator[Part]:
    """The parts in order, with those of groups in their place."""
    for part in parts:
        yield from flat(part.parts) if isinstance(part, Group) else [part]


def pages(page: Page) -> list[list[Part]]:
    """The parts of each page of paper after the front, in order: crew, kit, checklist, setups, wrap."""
    begins = ("page", "crew", "sheet")
    return [[*flat(part.parts)] for part in page.parts if isinstance(part, Group) and part.kind in begins]


@cache
def demo_document() -> Page:
    """The demo day on paper."""
    return day_page(demo(), face_px=12)


def setup_sheets(plan: Plan, measured: tuple[Measured, ...] = ()) -> list[list[Part]]:
    """The sheets of the setups."""
    parts = day_page(plan, measured).parts
    return [[*flat(part.parts)] for part in parts if isinstance(part, Group) and part.kind == "sheet"]


def rows(parts: list[Part], first_column: str) -> list[dict[str, Any]]:
    """The rows of the table with that first column, by column; the last, untitled one is ``note``."""
    table = next(part for part in parts if isinstance(part, Table) and part.columns[0] == first_column)
    columns = [column or "note" for column in table.columns]
    return [dict(zip(columns, row, strict=True)) for row in table.rows]


def ticks(parts: list[Part]) -> list[Tick]:
    """Every line to tick."""
    return [line for part in parts if isinstance(part, Checklist) for line in part.lines]


def warnings(parts: list[Part]) -> list[str]:
    return [part.text for part in parts if isinstance(part, Text) and part.kind == "warn"]


def headings(parts: list[Part]) -> list[str]:
    return [part.text for part in parts if isinstance(part, Heading)]


def pairs(parts: Iterable[Part]) -> dict[str, str]:
    """Every label with its value."""
    return {label: text for part in parts if isinstance(part, Pairs) for label, text in part.rows}
