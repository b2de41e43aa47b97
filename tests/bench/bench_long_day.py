"""A day of 40 setups of 8 heads worked through step by step: neither memory nor the work for a key grows.

By hand: ``python -m tests.bench.bench_long_day [PRESSES [COLUMNS ROWS]]``. The first thousand keys, in which the set
fills, are not counted. The work is what the process has of a processor, so a busy machine counts for little. Linux
only: read from ``/proc``. Exit status 1 when a bound is missed.
"""

import resource
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps
from tests.terminal import RUNBOOK, Terminal

FIRST, GROWTH = 1000, 1.1
_OPEN = "\x1b[C"  # the arrow to the right


def _used(process: int) -> tuple[float, float]:
    """Return the memory of a process in MB, and the milliseconds it ran."""
    proc = Path("/proc") / str(process)
    pages = int((proc / "statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6, int((proc / "schedstat").read_text().split()[0]) / 1e6


def _press(terminal: Terminal, key: str, *shown: bytes) -> bytes:
    """Press a key and return which of these texts came."""
    terminal.painted = b""
    terminal.send(key)
    terminal.wait(lambda: any(text in terminal.painted for text in shown), repr(shown))
    return next(text for text in shown if text in terminal.painted)


def main(presses: int = 5000, columns: int = 80, rows: int = 24) -> int:
    """Measure; 1 when a bound is missed."""
    marks = []
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        day = write_big_day(Path(folder) / "big")
        with Terminal([*RUNBOOK, "open", str(day)], rows=rows, columns=columns) as terminal:
            terminal.wait_for("to spare")  # the hours are worked out
            terminal.press("n", "begun: ")
            pressed = 0
            while pressed <= presses:
                if pressed >= len(marks) * FIRST:
                    marks.append(_used(terminal.process.pid))
                if "c shot" in terminal.screen:
                    terminal.press("n", "leave it open")
                    terminal.press("l", "begun: ")
                _press(terminal, _OPEN + " ", b"steps ")  # a check or a step, none left in a closed block
                pressed += 3
                if _press(terminal, "-", b", as shot", b"already") != b"already":  # a head may be at its least power
                    _press(terminal, "u", b"undone: ")
                    pressed += 1
    work = [(after[1] - before[1]) / FIRST for before, after in pairwise(marks)]
    print("memory:", ", ".join(f"{mb:.0f}" for mb, _ in marks), "MB")
    print("work for a key:", ", ".join(f"{ms:.1f}" for ms in work), "ms")
    memory = keeps("memory, at the end against the first thousand", marks[-1][0] / marks[1][0], "times", GROWTH)
    worked = keeps("work, the last thousand against the second", work[-1] / work[1], "times", GROWTH)
    return 0 if memory and worked else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
