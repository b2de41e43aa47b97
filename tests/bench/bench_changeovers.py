"""All changeovers of a large day, shared over its crew, and how they grow with the number of setups.

By hand: ``python -m tests.bench.bench_changeovers``. Exit status 1 when a bound is missed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from runbook.day.changeovers import Changeovers
from runbook.files.load import read_day
from runbook.model.day import Plan
from tests.bench.big_day import write_big_day

SIZES = (10, 20, 40, 80)
MOST_MS = 1000
# What a setup may cost more on the largest day than on the smallest; noise is most of it.
GROWTH = 1.3


def _ms(plan: Plan) -> float:
    start = time.process_time()
    for changeover in Changeovers(plan).all:
        assert changeover.total_s > 0
    return 1000 * (time.process_time() - start)


def main() -> int:
    """Measure; 1 when a bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        plans = {n: read_day(write_big_day(Path(folder) / str(n), n)) for n in SIZES}
    taken: dict[int, list[float]] = {n: [] for n in SIZES}
    for _ in range(9):
        for n, plan in plans.items():
            taken[n].append(_ms(plan))
    per_setup = {}
    for n in SIZES:
        took = median(taken[n])
        per_setup[n] = took / n
        print(f"{n:>3} setups of 8 heads: {took:6.1f} ms, {took / n:.2f} ms a setup")
    growth = per_setup[SIZES[-1]] / per_setup[SIZES[0]]
    print(f"a setup of the largest day costs {growth:.2f} times one of the smallest")
    return 0 if median(taken[40]) <= MOST_MS and growth <= GROWTH else 1


if __name__ == "__main__":
    sys.exit(main())
