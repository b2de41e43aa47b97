"""What is said on a terminal: nothing a person wrote commands it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from runbook.commands.out import complain, say
from tests.session.days import DEMO
from tests.terminal import clean_env


def test_what_stands_in_a_plan_is_no_command_to_the_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    say("a\x1b[31mred\x07\nb\tc")
    complain("\x9b2J")
    told = capsys.readouterr()
    assert (told.out, told.err) == ("a?[31mred?\nb\tc\n", "?2J\n")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_said_in_a_sentence() -> None:
    words = [sys.executable, "-m", "runbook", "check", str(DEMO)]
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device, not a path
        ended = subprocess.run(
            words, stdout=full, stderr=subprocess.PIPE, env=clean_env(), check=False, text=True
        )
    assert ended.returncode == 2
    assert ended.stderr == (
        "runbook: what it says cannot be written, the disk is full; make room and ask again\n"
    )
