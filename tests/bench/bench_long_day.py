"""Thousands of keys on a day of 40 setups of 8 heads: neither memory nor the work for a key grows.

By hand: ``python -m tests.bench.bench_long_day [PRESSES]``. The work is what the process has of a processor, so a
busy machine counts for little. Linux only: read from ``/proc``. Exit status 1 when a bound is missed.
"""

import resource
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

from tests.bench.bench_keys import KEYS
from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps
from tests.terminal import RUNBOOK, Terminal

FIRST, GROWTH = 1000, 1.1


def _used(process: int) -> tuple[float, float]:
    """Return the memory of a process in MB, and the milliseconds it ran."""
    proc = Path("/proc") / str(process)
    pages = int((proc / "statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6, int((proc / "schedstat").read_text().split()[0]) / 1e6


def main(presses: int = 5000) -> int:
    """Measure; 1 when a bound is missed."""
    marks = []
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        day = write_big_day(Path(folder) / "big")
        with Terminal([*RUNBOOK, "open", str(day)]) as terminal:
            terminal.wait_for("? keys")
            terminal.press("n", "begun: ")
            for n in range(presses):
                if n % FIRST == 0:
                    marks.append(_used(terminal.process.pid))
                if "c shot" in terminal.screen:
                    terminal.press("n", "leave it open")
                    terminal.press("l", "begun: ")
                key, shown = KEYS[n % len(KEYS)]
                terminal.painted = b""
                terminal.send(key)
                either = (shown, b"already")  # a head may be at its least power
                terminal.wait(lambda either=either: any(text in terminal.painted for text in either), repr(shown))  # type: ignore[misc]
            marks.append(_used(terminal.process.pid))
    work = [(after[1] - before[1]) / FIRST for before, after in pairwise(marks)]
    print("memory:", ", ".join(f"{mb:.0f}" for mb, _ in marks), "MB")
    print("work for a key:", ", ".join(f"{ms:.1f}" for ms in work), "ms")
    kept = keeps("memory, at the end against the first thousand", marks[-1][0] / marks[1][0], "times", GROWTH)
    return 0 if keeps("work for a key, likewise", work[-1] / work[0], "times", GROWTH) and kept else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
