"""Reading the parts of a printed page."""

from __future__ import annotations

from collections.abc import Iterator

from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.reports.day_page import day_page
from runbook.reports.document import Checklist, Drawing, Heading, Page, Pairs, Part, Table, Text


def sheets(page: Page) -> Iterator[list[Part]]:
    """The parts of each sheet of paper."""
    parts: list[Part] = []
    for part in page.parts:
        if isinstance(part, Heading) and part.new_page:
            yield parts
            parts = []
        parts.append(part)
    yield parts


def setup_sheets(plan: Plan, measured: tuple[Measured, ...] = ()) -> list[list[Part]]:
    """The sheets of the setups: after the front, the kit and the checklist, before the wrap."""
    return list(sheets(day_page(plan, measured)))[3:-1]


def rows(parts: list[Part], first_column: str) -> list[dict[str, str]]:
    """The rows of the table with that first column, by column; the last, untitled one is ``note``."""
    table = next(part for part in parts if isinstance(part, Table) and part.columns[0] == first_column)
    columns = [column or "note" for column in table.columns]
    return [dict(zip(columns, row, strict=True)) for row in table.rows]


def ticks(parts: list[Part]) -> list[tuple[str, str]]:
    """Every line to tick with its note."""
    return [line for part in parts if isinstance(part, Checklist) for line in part.lines]


def warnings(parts: list[Part]) -> list[str]:
    return [part.text for part in parts if isinstance(part, Text) and part.kind == "warn"]


def headings(parts: list[Part]) -> list[str]:
    return [part.text for part in parts if isinstance(part, Heading)]


def pairs(parts: list[Part]) -> dict[str, str]:
    """Every label with its value, also beside a drawing."""
    beside = [part.beside for part in parts if isinstance(part, Drawing)]
    return {label: text for part in (*parts, *beside) if isinstance(part, Pairs) for label, text in part.rows}
