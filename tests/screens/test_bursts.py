"""Keys typed faster than the screen follows: a burst does what the same keys do one by one."""

from __future__ import annotations

import random
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.keys import _character_to_key
from textual.pilot import Pilot

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal
from runbook.screens.app import RunbookApp
from runbook.screens.text import UNICODE
from tests.day.days import DEMO, SetClock
from tests.screens.screen_text import shown, until

NAMED = {"space": " ", "enter": "\r", "escape": None, "up": None, "down": None, "left": None}
# keys that open or answer a dialog come up more often than the others
KEYS = [*"qgnkfwrioxabcpmyhtjdszlveuU?0123456789 +-", *"gggnnn???xxx111222", *NAMED, "enter", "enter"]
BURSTS = 8
LENGTH = 14


def send(pilot: Pilot[Any], keys: Sequence[str]) -> None:
    """Put keys on the app's queue at once, as a terminal does."""
    for key in keys:
        name = key if key in NAMED else _character_to_key(key)
        character = NAMED.get(key, key)
        pilot.app.post_message(events.Key(name, character))


@dataclass
class Outcome:
    """What a person is left with: the screens, what they show, and the journal."""

    journal: list[Any]
    screens: list[str] = field(default_factory=list)
    screen: str = ""


async def outcome(folder: Path, keys: Sequence[str], *, at_once: bool) -> Outcome:
    """Open the demo day in ``folder``, begin a setup, and press these keys."""
    shutil.copytree(DEMO, folder)
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo")
    app = RunbookApp(Session(read_day(folder), journal, "photo", clock, folder), clock, UNICODE)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        for burst in [keys] if at_once else [[key] for key in keys]:
            send(pilot, burst)
            await pilot.pause()
        await until(pilot, lambda: not app.keys_waiting or app._exit)
        await pilot.pause()
        result = Outcome([(entry.kind, entry.data, entry.who) for entry in app.session.entries])
        if not app._exit:
            result.screens = [type(screen).__name__ for screen in app.screen_stack]
            if "HoursScreen" not in result.screens:  # it shows how far its work beside the keys is
                result.screen = shown(pilot)
    return result


NAMED_BURSTS = (
    ["q", "enter", "n"], ["q", "enter", "enter"], ["q", "n", "n"], ["q", "y", "y"], ["q", "q", "q", "n"],
    ["g", "1", "1"], ["g", "2", "2"], ["?", "enter", "enter"], ["?", "escape", "q", "escape"],
    ["f", "1", "2", "enter"], ["w", *"two words", "enter", "n"], ["k", "3", *"rain", "enter", "u"],
    ["t", "space", "v", "o"], ["l", "x", "enter", "escape"], ["l", "l", "e", "space", "y", "j", "d", "z"],
)  # fmt: skip
RANDOM_BURSTS = [random.Random(seed).choices(KEYS, k=LENGTH) for seed in range(BURSTS)]


@pytest.mark.parametrize("keys", [*NAMED_BURSTS, *RANDOM_BURSTS], ids="-".join)
async def test_a_burst_of_keys_does_what_the_same_keys_do_one_by_one(keys: list[str], tmp_path: Path) -> None:
    quick, slow = [await outcome(tmp_path / name / "day", keys, at_once=name == "quick") for name in ("quick", "slow")]
    assert quick == slow
