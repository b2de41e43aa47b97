"""Which of several like heads takes which role, so that the least has to be changed.

The assignment problem, solved by shortest augmenting paths with potentials (Kuhn 1955, Munkres
1957; in this form Jonker and Volgenant 1987; from memory). A head takes one role only; pairs that
cannot be are left out. It knows costs of pairs only: where the cost of one pair depends on another
(one modifier wanted by two roles), work out the true steps afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from runbook.plan.tuples import NamedTuple


class NoWayToAssign(ValueError):
    """Not every role can have a head. ``roles`` are rows that fight over too few columns."""

    def __init__(self, roles: tuple[int, ...], heads: tuple[int, ...]) -> None:
        self.roles, self.heads = roles, heads
        super().__init__(f"{len(roles)} roles have {len(heads)} heads between them that would do")


class Assigned(NamedTuple):
    """The column of each row, and prices: no cost is below ``row[i] + column[j]``.

    Prices add up to the cost of the assignment where rows and columns are as many.
    """

    columns: tuple[int, ...]
    row: tuple[float, ...]
    column: tuple[float, ...]


def least_change(costs: Sequence[Sequence[float | None]]) -> tuple[int, ...]:
    """The head (column) of each role (row) with the least total cost; None cannot be.

    Among equals, the same costs always give the same heads, low numbers by preference; to keep a
    head where it is, say so in the costs. Raises NoWayToAssign, and ValueError for ragged rows.
    """
    return assigned(costs).columns


def assigned(costs: Sequence[Sequence[float | None]]) -> Assigned:
    """The least assignment with its prices. At least as many columns as rows, or NoWayToAssign."""
    width = len(costs[0]) if costs else 0
    if any(len(row) != width for row in costs):
        raise ValueError("every role must give a cost, or None, for every head")
    rows = [[inf if cost is None else float(cost) for cost in row] for row in costs]
    row_price, column_price = [0.0] * len(rows), [0.0] * width
    holder = [-1] * width
    for role in range(len(rows)):
        _augment(rows, role, row_price, column_price, holder)
    columns = [-1] * len(rows)
    for column, row in enumerate(holder):
        if row >= 0:
            columns[row] = column
    return Assigned(tuple(columns), tuple(row_price), tuple(column_price))


def _augment(
    rows: list[list[float]],
    role: int,
    row_price: list[float],
    column_price: list[float],
    holder: list[int],
) -> None:
    """Give ``role`` a column along the cheapest chain of exchanges (Dijkstra on reduced costs)."""
    width = len(holder)
    reach = [inf] * width
    via = [-1] * width
    settled: list[int] = []
    open_columns = set(range(width))
    row, so_far = role, 0.0
    while True:
        costs, base = rows[row], so_far - row_price[row]
        for column in open_columns:
            through = base + costs[column] - column_price[column]
            if through < reach[column]:
                reach[column], via[column] = through, row
        nearest = min(open_columns, key=lambda column: (reach[column], column), default=-1)
        if nearest < 0 or reach[nearest] == inf:
            stuck = {role, *(holder[column] for column in settled)}
            raise NoWayToAssign(tuple(sorted(stuck)), tuple(sorted(settled)))
        so_far = reach[nearest]
        open_columns.remove(nearest)
        if holder[nearest] < 0:
            break
        settled.append(nearest)
        row = holder[nearest]
    row_price[role] += so_far
    for column in settled:
        row_price[holder[column]] += so_far - reach[column]
        column_price[column] -= so_far - reach[column]
    column = nearest
    while column >= 0:
        row = via[column]
        holder[column] = row
        column = _other_column(holder, row, column)
        if row == role:
            break


def _other_column(holder: list[int], row: int, taken: int) -> int:
    """The column a row held before it took ``taken``, or -1."""
    for column, owner in enumerate(holder):
        if owner == row and column != taken:
            return column
    return -1
