"""Assignments against scipy and published examples."""

from __future__ import annotations

from math import inf
from random import Random

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from runbook.clock.assignment import assign


def _total(costs: list[list[int]], columns: tuple[int, ...]) -> int:
    return sum(row[column] for row, column in zip(costs, columns, strict=True))


def test_the_example_of_the_scipy_page():
    # scipy.optimize.linear_sum_assignment, documentation example; from memory, recomputed
    costs = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]
    assert assign(costs) == (1, 0, 2)
    assert _total(costs, (1, 0, 2)) == 5


def test_five_workers_four_tasks():
    # the assignment example of a well-known optimisation toolkit's guide; from memory, recomputed:
    # least total 265, with workers more than tasks, so tasks are the rows here
    workers = [[90, 80, 75, 70], [35, 85, 55, 65], [125, 95, 90, 95], [45, 110, 95, 115],
               [50, 100, 90, 100]]  # fmt: skip
    tasks = [list(column) for column in zip(*workers, strict=True)]
    assert _total(tasks, assign(tasks)) == 265


@pytest.mark.parametrize("seed", range(60))
def test_as_cheap_as_scipy(seed):
    rng = Random(seed)
    rows = rng.randint(1, 12)
    width = rows + rng.randint(0, 5)
    gaps = rng.choice([0.0, 0.3, 0.6])
    costs = [[None if rng.random() < gaps else rng.randint(0, 200) for _ in range(width)] for _ in range(rows)]
    matrix = np.array([[inf if cost is None else cost for cost in row] for row in costs])
    try:
        chosen = linear_sum_assignment(matrix)
    except ValueError:
        assert assign(costs) is None
        return
    columns = assign(costs)
    assert columns is not None
    assert len(set(columns)) == rows
    assert sum(matrix[row, column] for row, column in enumerate(columns)) == matrix[chosen].sum()
