"""All changeovers of a day of 40 setups of 8 heads, shared over its crew.

By hand: ``python -m tests.bench.bench_changeovers``. Exit status 1 when the bound is missed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from runbook.day.changeovers import Changeovers
from runbook.day.load_plan import read_day
from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps, medians, seconds

BOUND_S = 1.0


def main() -> int:
    """Measure; 1 when the bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        plan = read_day(write_big_day(Path(folder)))
    name = "changeovers of 40 setups"

    def measure() -> float:
        return seconds(lambda: [change.total_s for change in Changeovers(plan).all], time.process_time)

    taken = medians({name: measure}, 5)
    return 0 if keeps(name, taken[name], "s", BOUND_S) else 1


if __name__ == "__main__":
    sys.exit(main())
