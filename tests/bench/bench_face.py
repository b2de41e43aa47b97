"""The face of each of the demo day's setups in 60 x 40 cells, two pixels to a cell.

By hand: ``python -m tests.bench.bench_face``. Exit status 1 when the bound is missed.
"""

from __future__ import annotations

import sys
import time
from functools import partial

from runbook.light.face import render_face
from runbook.light.prediction import LitSetup, predict
from tests.bench.measure import keeps, medians, seconds
from tests.day.days import demo

BOUND_MS = 150.0
COLUMNS, ROWS = 60, 2 * 40


def main() -> int:
    """Measure; 1 when the bound is missed."""
    plan = demo()
    lit = {name: LitSetup(plan.kit, setup, predict(plan, setup)) for name, setup in plan.setups.items()}

    def measure(name: str) -> float:
        return 1000 * seconds(partial(render_face, lit[name], COLUMNS, ROWS), time.process_time)

    taken = medians({name: partial(measure, name) for name in lit}, 5)
    kept = [keeps(name, ms, "ms", BOUND_MS) for name, ms in taken.items()]
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main())
