"""From a key to its effect on the screen, the journal on the disk included, on a day of 40 setups of 8 heads.

By hand: ``python -m tests.bench.bench_keys [PRESSES [COLUMNS ROWS]]``; ``TMPDIR`` says on which disk. A real process
on a terminal: the time from the key to the terminal's showing what it did. Exit status 1 when the
bound is missed.
"""

import sys
import tempfile
from pathlib import Path
from statistics import median, quantiles

from runbook.journal.journal import Journal, journal_path
from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps, seconds
from tests.terminal import RUNBOOK, Terminal

BOUND_MS = 50
# a step or block ticked, a power changed, and that undone: each with what shows that it is done
KEYS = ((" ", b"steps "), ("-", b", as shot"), ("u", b"undone: "))


def _pressed_ms(terminal: Terminal, key: str, shown: bytes) -> float:
    before = len(terminal.painted)
    terminal.send(key)
    return 1000 * seconds(lambda: terminal.wait(lambda: shown in terminal.painted[before:], repr(shown)))


def main(presses: int = 200, columns: int = 80, rows: int = 24) -> int:
    """Measure; 1 when the bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        day = write_big_day(Path(folder) / "big")
        with Terminal([*RUNBOOK, "open", str(day)], rows=rows, columns=columns) as terminal:
            terminal.wait_for("? keys")
            terminal.press("n", "begun: ")
            taken = []
            for n in range(presses):
                if "READY" in terminal.screen:
                    _pressed_ms(terminal, "n", b"leave it open")
                    _pressed_ms(terminal, "l", b"begun: ")
                taken.append(_pressed_ms(terminal, *KEYS[n % len(KEYS)]))
        assert len(Journal.read(journal_path(day)).entries) >= presses + 2
    for n, (key, _) in enumerate(KEYS):
        keeps(f"key {key!r}, median", median(taken[n :: len(KEYS)]), "ms")
    return 0 if keeps("any key, 95th percentile", quantiles(taken, n=20)[-1], "ms", BOUND_MS) else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
