"""How long a person waits at the start, against what the libraries alone take.

By hand, on whatever machine: ``python -m tests.bench.bench_start [RUNS]``. Whole processes, run in
turn; the ratio of their medians is what counts. Exit status 1 when a bound is missed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from tests.bench.big_day import write_big_day
from tests.terminal import DEMO, HERE, Terminal, clean_env

LIBRARIES = "import pydantic, tomllib, argparse"
EMPTY_APP = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("? keys")
Empty().run()
"""


def _whole(words: list[str], env: dict[str, str]) -> Callable[[], float]:
    def run() -> float:
        start = time.perf_counter()
        subprocess.run(words, env=env, cwd=HERE, stdout=subprocess.DEVNULL, check=False)
        return time.perf_counter() - start

    return run


def _first_paint(words: list[str], env: dict[str, str]) -> Callable[[], float]:
    """From the start of the process to the line of keys, which every screen of ours ends with."""

    def run() -> float:
        with Terminal(words, env=env) as terminal:
            terminal.wait(lambda: b"? keys" in terminal.painted, "first paint")
            return time.monotonic() - terminal.started

    return run


def ratios(base: Callable[[], float], others: dict[str, tuple[Callable[[], float], float | None]], runs: int) -> bool:
    """Run them in turn, say the medians; whether every one keeps its bound."""
    taken: dict[str, list[float]] = {name: [] for name in ("libraries alone", *others)}
    base()
    for run, _ in others.values():
        run()
    for _ in range(runs):
        taken["libraries alone"].append(base())
        for name, (run, _) in others.items():
            taken[name].append(run())
    least = median(taken["libraries alone"])
    print(f"{'libraries alone':<28} {1000 * least:6.0f} ms")
    kept = True
    for name, (_, bound) in others.items():
        took = median(taken[name])
        kept &= bound is None or took / least <= bound
        told = f", bound {bound}" if bound else ""
        print(f"{name:<28} {1000 * took:6.0f} ms  {took / least:.2f} times{told}")
    return kept


def main(runs: int) -> int:
    """Measure; 1 when a bound is missed."""
    folder = Path(tempfile.mkdtemp(prefix="runbook-bench-"))
    try:
        env = clean_env() | {"PYTHONPYCACHEPREFIX": str(folder / "bytecode")}
        env.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program has its bytecode
        python = [sys.executable]
        runbook = [*python, "-c", "from runbook.cli import run; run()"]  # as the installed script
        demo = str(shutil.copytree(DEMO, folder / "demo"))
        big = str(write_big_day(folder / "big"))
        kept = ratios(
            _whole([*python, "-c", LIBRARIES], env),
            {
                "check, demo day": (_whole([*runbook, "check", demo], env), 4.0),
                "steps --json, demo day": (_whole([*runbook, "steps", "--json", demo], env), 4.0),
            },
            runs,
        )
        kept &= ratios(
            _first_paint([*python, "-c", EMPTY_APP], env),
            {
                "first paint, demo day": (_first_paint([*runbook, "open", demo], env), 2.5),
                "first paint, 40 setups": (_first_paint([*runbook, "open", big], env), None),
            },
            runs,
        )
    finally:
        shutil.rmtree(folder)
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 11))
