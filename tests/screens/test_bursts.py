"""Keys typed faster than the screen follows: a burst does what the same keys do one by one."""

import random
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from runbook.day.load_plan import read_day
from tests.day.days import DEMO, begun
from tests.screens.screen_text import app_of, post_keys, shown, until

NAMED = ("space", "enter", "escape", "up", "down", "left")
# keys that open or answer a dialog come up more often than the others
KEYS = [*"qgnkfwrioxabcpmyhtjdszlveuU?0123456789 +-", *"gggnnn???xxx111222", *NAMED, "enter", "enter"]
BURSTS = 6
LENGTH = 14


async def outcome(folder: Path, keys: Sequence[str], *, at_once: bool) -> tuple[list[Any], list[str], str]:
    """Open the demo day in ``folder``, begin a setup, and press these keys.

    Returns what a person is left with: the journal, the screens, and what the one on top shows.
    """
    shutil.copytree(DEMO, folder)
    app = app_of(begun(read_day(folder), folder=folder))
    screens, screen = list[str](), ""
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        for burst in [keys] if at_once else [[key] for key in keys]:
            post_keys(pilot, *burst)
            await pilot.pause()
        await until(pilot, lambda: not app.keys_waiting or app._exit)
        await pilot.pause()
        journal = [(entry.kind, entry.data, entry.who) for entry in app.session.entries]
        if not app._exit:
            screens = [type(screen).__name__ for screen in app.screen_stack]
            if "HoursScreen" not in screens:  # it shows how far its work beside the keys is
                screen = shown(pilot)
    return journal, screens, screen


NAMED_BURSTS = (
    ["q", "enter", "enter"], ["q", "y", "y"], ["q", "q", "q", "n"], ["g", "1", "1"], ["?", "escape", "q", "escape"],
    ["f", "1", "2", "enter"], ["w", *"two words", "enter", "n"], ["k", "3", *"rain", "enter", "u"],
    ["t", "space", "v", "o"], ["l", "x", "enter", "escape"], ["l", "l", "e", "space", "y", "j", "d", "z"],
)  # fmt: skip
RANDOM_BURSTS = [random.Random(seed).choices(KEYS, k=LENGTH) for seed in range(BURSTS)]


@pytest.mark.parametrize("keys", [*NAMED_BURSTS, *RANDOM_BURSTS], ids="-".join)
async def test_a_burst_of_keys_does_what_the_same_keys_do_one_by_one(keys: list[str], tmp_path: Path) -> None:
    quick, slow = [await outcome(tmp_path / name / "day", keys, at_once=name == "quick") for name in ("quick", "slow")]
    assert quick == slow
