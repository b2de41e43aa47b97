"""The program killed at any moment: whatever the screen showed as done is in the journal."""

import random
import re
import shutil
import signal
import time
from datetime import datetime
from pathlib import Path

from runbook.journal.events import SetupBegun
from runbook.journal.journal import Journal, journal_path
from tests.terminal import DEMO, RUNBOOK, Terminal

KILLS = 3
_FRAMES = re.compile(r"frames (\d+)/")
_STEPS = re.compile(r"steps (\d+) of")


def _recorded(day: Path) -> tuple[int, int]:
    """Frames counted and steps done in the journal, which must be whole."""
    seen = Journal.read(journal_path(day))
    assert not seen.unreadable
    assert [entry.n for entry in seen.entries] == list(range(1, len(seen.entries) + 1))
    return (
        sum(entry.data.added for entry in seen.entries if entry.kind == "frames"),
        sum(entry.kind == "step-ticked" for entry in seen.entries),
    )


def _shown(screen: str) -> tuple[int, int]:
    """Frames counted and steps done as a person reads them off the screen."""
    frames, steps = _FRAMES.search(screen), _STEPS.search(screen)
    assert frames
    assert steps, screen
    return int(frames[1]), int(steps[1])


def _press(terminal: Terminal, chance: random.Random) -> None:
    """Tick and count as fast as the screen answers, then press once more and wait for nothing."""
    for _ in range(chance.randrange(1, 4)):
        frames = _shown(terminal.screen)[0]
        terminal.press("f", "How many more frames")
        terminal.send("1\r")
        terminal.wait(lambda seen=frames: _shown(terminal.screen)[0] > seen, "frame")
        terminal.wait_until_gone("How many more frames")
        terminal.send("  ")
    terminal.send(chance.choice(["    ", "f"]))
    if chance.random() < 0.5:
        terminal.look()
    terminal.send("1\r")
    end = time.monotonic() + chance.uniform(0.0, 0.04)
    while time.monotonic() < end:
        terminal.look()


def test_what_the_screen_showed_as_done_survives_a_kill(tmp_path: Path) -> None:
    day = Path(shutil.copytree(DEMO, tmp_path / "day"))
    with Journal.open(journal_path(day), clock=lambda: datetime.now().astimezone(), who="photo") as journal:
        journal.append(SetupBegun("keeper-window"))
    chance = random.Random(7)
    known = (0, 0)
    for _ in range(KILLS):
        with Terminal([*RUNBOOK, "open", str(day)], rows=60) as terminal:
            terminal.wait_for("frames ")
            terminal.wait_for("steps ")
            assert _shown(terminal.screen) == known
            _press(terminal, chance)
            terminal.signal(signal.SIGKILL)
            assert terminal.end() == -signal.SIGKILL
            shown = _shown(terminal.screen)
        recorded = _recorded(day)
        assert shown[0] <= recorded[0]
        assert shown[1] <= recorded[1]
        assert recorded >= known
        known = recorded
    assert known[0] >= KILLS
    assert known[1] > 2, "hardly a step was done"
