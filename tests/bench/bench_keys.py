"""From a key to its effect on the screen, the journal on the disk included, on a large day.

By hand: ``python -m tests.bench.bench_keys [PRESSES [ENTRIES]]``, with so many entries in the
journal before; ``TMPDIR`` says on which disk. A real process on a terminal: the time from the key
to the terminal's showing what it did. Exit status 1 when the bound is missed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from itertools import cycle
from pathlib import Path
from statistics import median, quantiles

from runbook.day.actions import Session
from runbook.files.load import read_day
from runbook.journal.journal import Journal, journal_path
from tests.bench.big_day import write_big_day
from tests.day.days import SetClock, make_ready
from tests.terminal import RUNBOOK, Terminal

BOUND_MS = 50
# a step or block ticked, a power nudged, and that taken back: each with what shows that it is done
KEYS = ((" ", b"steps "), ("-", b", as shot"), ("u", b"undone: "))


def _pressed(terminal: Terminal, key: str, shown: bytes) -> float:
    before = len(terminal.painted)
    start = time.perf_counter()
    terminal.send(key)
    terminal.wait(lambda: shown in terminal.painted[before:], repr(shown))
    return 1000 * (time.perf_counter() - start)


def _play(day: Path, entries: int) -> None:
    """Shoot setup after setup until the journal has so many entries."""
    plan, clock = read_day(day), SetClock()
    with Journal.open(journal_path(day), clock=clock, who="photo") as journal:
        session = Session(plan, journal, "photo", clock, day)
        for setup_id in cycle(plan.day.order):
            if len(session.entries) >= entries:
                return
            make_ready(session, setup_id)
            session.reading(session.view.heads[0].head, 4.0)
            session.note("next")
            session.frames(40)
            session.mark_shot()


def main(presses: int, entries: int) -> int:
    """Measure; 1 when the bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        day = write_big_day(Path(folder) / "big")
        if entries:
            _play(day, entries)
        with Terminal([*RUNBOOK, "open", str(day)]) as terminal:
            terminal.wait_for("? keys")
            terminal.send("n")
            terminal.wait_for("begun: ")
            taken = []
            for n in range(presses):
                key, shown = KEYS[n % len(KEYS)]
                if "READY" in terminal.screen:
                    _pressed(terminal, "n", b"leave it open")
                    _pressed(terminal, "l", b"begun: ")
                taken.append(_pressed(terminal, key, shown))
        had = len(Journal.read(journal_path(day)).entries)
        assert had >= entries + presses + 2, had
    for n, (key, _) in enumerate(KEYS):
        print(f"  {key!r}: median {median(taken[n :: len(KEYS)]):.1f} ms")
    worst = quantiles(taken, n=20)[-1]
    print(f"{presses} keys: median {median(taken):.1f} ms, 95th percentile {worst:.1f} ms")
    return 0 if worst <= BOUND_MS else 1


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(numbers + [200, 0][len(numbers) :])))
