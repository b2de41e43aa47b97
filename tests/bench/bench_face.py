"""All changeovers of a day of 40 setups of 8 heads, and the face of each of the demo day's setups in 60 x 40 cells.

By hand: ``python -m tests.bench.bench_face``. Exit status 1 when a bound is missed.
"""

import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from runbook.day.changeovers import Changeovers
from runbook.day.load_plan import read_day
from runbook.light.face import LitSetup, render_face
from runbook.light.prediction import predict
from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps, medians, seconds
from tests.day.days import demo

CHANGEOVERS_MS, FACE_MS = 1000.0, 150.0
COLUMNS, ROWS = 60, 2 * 40


def main() -> int:
    """Measure; 1 when a bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        big = read_day(write_big_day(Path(folder)))
    changeovers = "changeovers of 40 setups"
    work = {changeovers: lambda: [change.total_s for change in Changeovers(big).all]}
    for name, setup in demo().setups.items():
        lit = LitSetup(demo().kit, setup, predict(demo(), setup))
        work[name] = partial(render_face, lit, COLUMNS, ROWS)
    taken = medians({name: partial(seconds, each, time.process_time) for name, each in work.items()}, 5)
    kept = [
        keeps(name, 1000 * took, "ms", CHANGEOVERS_MS if name == changeovers else FACE_MS)
        for name, took in taken.items()
    ]
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main())
