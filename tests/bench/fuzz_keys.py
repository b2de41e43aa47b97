"""Random keys in bursts, typed text and windows of any size, on copies of the demo day and the small day.

By hand: ``python -m tests.bench.fuzz_keys [KEYS [SEED]]``. Nothing may raise, hang, or leave a day that cannot be
read; the exit status is 1 where something does, with the seed and the last keys.
"""

import asyncio
import os
import random
import shutil
import sys
import tempfile
import traceback
from collections import deque
from pathlib import Path
from typing import Any, Final

from textual.pilot import Pilot

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal, journal_path
from runbook.screens.app import RunbookApp
from runbook.screens.text import ASCII, UNICODE
from tests.day.days import DEMO, SetClock
from tests.days import write_day
from tests.screens.screen_text import post_keys

LETTERS: Final = "abcdefghijklmnopqrstuvwxyzTUJK?[]0123456789 +-/."
NAMED: Final = (
    *("up", "down", "left", "right", "home", "end", "pageup", "pagedown", "tab", "shift+tab", "escape", "enter"),
    *("backspace", "delete", "ctrl+p", "ctrl+q", "ctrl+u", "f1", "shift+up", "ctrl+right"),
)
TYPED: Final = ("1/2", "f/8", "1.8", "45", "-3", "key", "13:05", "a note, 2 × 3", "é", "[b]x", "0", "999999", '"', "\\")
SIZES: Final = ((80, 24), (140, 45), (80, 24), (140, 45), (40, 12), (39, 11), (1, 1), (300, 100), (20, 60), (120, 12))
HANG_S: Final = 60.0


def _burst(rng: random.Random) -> list[str]:
    kind = rng.random()
    if kind < 0.2:
        return [*rng.choice(TYPED), rng.choice(("enter", "enter", "escape", "tab"))]
    if kind < 0.4:
        return [rng.choice(NAMED)] * rng.randint(1, 8)
    return [rng.choice(NAMED) if rng.random() < 0.4 else rng.choice(LETTERS) for _ in range(rng.randint(1, 12))]


async def _settled(app: RunbookApp, pilot: Pilot[Any]) -> None:
    await pilot.pause(0)
    while app.keys_waiting and app.is_running and not app._exit:
        await asyncio.sleep(0.002)


async def _run(folder: Path, rng: random.Random, keys: int, last: deque[str]) -> int:
    """Open the day and press keys until it is left; return how many."""
    clock = SetClock()
    with Journal.open(journal_path(folder), clock=clock, who="photo") as journal:
        session = Session(read_day(folder), journal, "photo", clock, folder)
        app = RunbookApp(session, clock, rng.choice((UNICODE, UNICODE, ASCII)))
        pressed = 0
        async with app.run_test(size=rng.choice(SIZES), notifications=True) as pilot:
            while pressed < keys and app.is_running and not app._exit:
                if rng.random() < 0.08:
                    size = rng.choice((*SIZES, (rng.randint(1, 300), rng.randint(1, 100))))
                    last.append(f"{size[0]}x{size[1]}")
                    await asyncio.wait_for(pilot.resize_terminal(*size), HANG_S)
                burst = _burst(rng)
                last.extend(burst)
                pressed += len(burst)
                post_keys(pilot, *burst)
                if rng.random() < 0.8:
                    await asyncio.wait_for(_settled(app, pilot), HANG_S)
                clock.move(rng.random())
    return pressed


def main(keys: int = 20_000, seed: int = 0) -> int:
    """Press keys; 1 where something goes wrong."""
    rng, last, pressed = random.Random(seed), deque[str](maxlen=80), 0
    with tempfile.TemporaryDirectory(prefix="runbook-fuzz-") as temporary:
        os.environ["XDG_CONFIG_HOME"] = temporary
        days = [Path(shutil.copytree(DEMO, Path(temporary) / "demo")), write_day(Path(temporary) / "small")]
        opened = 0
        while pressed < keys:
            folder = days[opened % 2]
            opened += 1
            try:
                pressed += asyncio.run(_run(folder, rng, min(keys - pressed, 400), last))
                read_day(folder)
            except BaseException:
                traceback.print_exc()
                print(f"seed {seed}, after {pressed} keys of {opened} days: {' '.join(last)}")
                return 1
    print(f"{pressed} keys, {opened} days opened, seed {seed}: nothing raised, nothing hung, every day is read")
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
