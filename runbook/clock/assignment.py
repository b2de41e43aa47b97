"""Which of several like heads takes which role, so that the least has to be changed.

The assignment problem, solved by shortest augmenting paths with potentials (Kuhn 1955, Munkres
1957; in this form Jonker and Volgenant 1987; from memory). It knows the costs of pairs only: where
the cost of one pair depends on another (one modifier wanted by two roles), compare the true steps
afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf


def assign(costs: Sequence[Sequence[float | None]]) -> tuple[int, ...] | None:
    """Return the head (column) of each role (row) with the least total cost.

    A pair that cannot be costs None. Among equals the same costs always give the same heads, low
    numbers first. None if not every role can have a head of its own. Raises ValueError for rows of
    different lengths.
    """
    width = len(costs[0]) if costs else 0
    if any(len(row) != width for row in costs):
        raise ValueError("every role must give a cost, or None, for every head")
    row_price, column_price = [0.0] * len(costs), [0.0] * width
    holder = [-1] * width  # the row that has each column
    for role in range(len(costs)):
        reach, via = [inf] * width, [-1] * width
        settled: list[int] = []
        row, at = role, -1
        while row >= 0:
            still_open = [column for column in range(width) if column not in settled]
            for column in still_open:
                cost = costs[row][column]
                reduced = (inf if cost is None else cost) - row_price[row] - column_price[column]
                if reduced < reach[column]:
                    reach[column], via[column] = reduced, at
            at = min(still_open, key=reach.__getitem__, default=-1)
            if at < 0 or reach[at] == inf:
                return None
            step = reach[at]
            row_price[role] += step
            for column in settled:
                row_price[holder[column]] += step
                column_price[column] -= step
            for column in still_open:
                reach[column] -= step
            settled.append(at)
            row = holder[at]
        while at >= 0:
            holder[at] = holder[via[at]] if via[at] >= 0 else role
            at = via[at]
    columns = {row: column for column, row in enumerate(holder)}
    return tuple(columns[role] for role in range(len(costs)))
