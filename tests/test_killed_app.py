"""The program killed at any moment: whatever the screen showed as done is in the journal."""

import random
import re
import shutil
import signal
import time
from datetime import datetime
from pathlib import Path

from runbook.journal.entries import SetupBegun
from runbook.journal.store import Journal, journal_path
from tests.terminal import DEMO, RUNBOOK, Terminal

KILLS = 12
_FRAMES = re.compile(r"frames (\d+)/")
_STEPS = re.compile(r"steps (\d+) of")


def _recorded(day: Path) -> tuple[int, int]:
    """Frames counted and steps done in the journal, which must be whole."""
    seen = Journal.look(journal_path(day))
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


def _press(terminal: Terminal, end: float, chance: random.Random) -> None:
    """Tick what is next and count frames, as fast as the screen answers, until the time is over."""
    while time.monotonic() < end:
        if chance.random() < 0.5:
            terminal.send(" ")
            terminal.look()
            continue
        for keys, answer in (("f", "How many frames"), ("1\r", "frames counted")):
            terminal.send(keys)
            while answer not in terminal.screen and time.monotonic() < end:
                terminal.look()


def test_what_the_screen_showed_as_done_survives_a_kill(tmp_path: Path) -> None:
    day = Path(shutil.copytree(DEMO, tmp_path / "day"))
    with Journal.open(
        journal_path(day), clock=lambda: datetime.now().astimezone(), who="photo"
    ) as journal:
        journal.append(SetupBegun("keeper-window"))
    chance = random.Random(7)
    known = (0, 0)
    for _ in range(KILLS):
        with Terminal([*RUNBOOK, "open", str(day)], rows=60) as terminal:
            terminal.wait_for("? keys")
            assert _shown(terminal.screen) == known
            _press(terminal, time.monotonic() + chance.uniform(0.05, 0.5), chance)
            terminal.signal(signal.SIGKILL)
            assert terminal.end() == -signal.SIGKILL
            shown = _shown(terminal.screen)
        recorded = _recorded(day)
        assert shown[0] <= recorded[0]
        assert shown[1] <= recorded[1]
        assert recorded >= known
        known = recorded
    assert known[0] > 3, "hardly a frame was counted"
    assert known[1] > 3, "hardly a step was done"
