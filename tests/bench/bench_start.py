"""How long a person waits at the start, against what the libraries alone take.

By hand, on whatever machine: ``python -m tests.bench.bench_start [RUNS]``. Whole processes, run in
turn; the ratio of their medians is what counts. Exit status 1 when a bound is missed.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench.measure import keeps, medians, seconds
from tests.terminal import DEMO, HERE, Terminal, clean_env

ALONE = "the libraries alone"
LIBRARIES = "import pydantic, tomllib, argparse"
EMPTY_APP = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("? keys")
Empty().run()
"""
RUNBOOK = "from runbook.cli import run; run()"  # as the installed script


def _whole(env: dict[str, str], *words: str) -> Callable[[], float]:
    run = [sys.executable, "-c", *words]
    return lambda: seconds(lambda: subprocess.run(run, env=env, cwd=HERE, stdout=subprocess.DEVNULL, check=False))


def _first_paint(env: dict[str, str], *words: str) -> Callable[[], float]:
    """From the start of the process to the line of keys, which every screen of ours ends with."""

    def run() -> float:
        with Terminal([sys.executable, "-c", *words], env=env) as terminal:
            terminal.wait_for("? keys")
            return time.monotonic() - terminal.started

    return run


def _ratios_kept(measured: dict[str, Callable[[], float]], bound: float, runs: int, bytecode: Path) -> bool:
    """Measure in turn, and hold everything against the libraries alone."""
    taken = medians(measured, runs)
    # the round that does not count has compiled both sides, whatever the caller's environment says
    compiled = {path.name.partition(".")[0] for path in bytecode.rglob("*.pyc")}
    assert {"cli", "argparse"} <= compiled, "the programs compared have no bytecode"
    alone = taken.pop(ALONE)
    keeps(ALONE, 1000 * alone, "ms")
    kept = [keeps(name, took / alone, f"times ({1000 * took:.0f} ms)", bound) for name, took in taken.items()]
    return all(kept)


def main(runs: int = 11) -> int:
    """Measure; 1 when a bound is missed."""
    with tempfile.TemporaryDirectory(prefix="runbook-bench-") as folder:
        bytecode = Path(folder) / "bytecode"
        # an installed program has its bytecode: an empty value lets Python write it
        env = clean_env() | {"PYTHONPYCACHEPREFIX": str(bytecode), "PYTHONDONTWRITEBYTECODE": ""}
        demo = str(shutil.copytree(DEMO, Path(folder) / "demo"))
        commands = {
            ALONE: _whole(env, LIBRARIES),
            "check, demo day": _whole(env, RUNBOOK, "check", demo),
            "steps --json, demo day": _whole(env, RUNBOOK, "steps", "--json", demo),
        }
        paints = {
            ALONE: _first_paint(env, EMPTY_APP),
            "first paint, demo day": _first_paint(env, RUNBOOK, "open", demo),
        }
        kept = [_ratios_kept(commands, 4.0, runs, bytecode), _ratios_kept(paints, 2.5, runs, bytecode)]
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
