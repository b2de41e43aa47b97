"""A day handed over and taken on real terminals, from the key on one to the step on the other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from runbook.journal.journal import Journal, journal_path
from tests.played import SECOND, half_shot
from tests.terminal import RUNBOOK, Terminal

pytest.importorskip("termios")


def test_from_the_key_to_the_same_step(tmp_path: Path) -> None:
    day = half_shot(tmp_path / "posters")
    other = tmp_path / "other"
    other.mkdir()
    where = {"PYTHONPATH": str(Path(__file__).parents[1])}
    with Terminal([*RUNBOOK, "open", str(day)], cwd=other, env=where) as giving:
        giving.wait_for("? keys")
        giving.press("y", "read out and repeat back")
        giving.press("\r", "Who takes the day over?")
        giving.press("Kim\r", "is for Kim")
        giving.press("s", "frames 0/90")
    (file,) = other.glob("*.handover")
    words = [*RUNBOOK, "resume", file.name, "--into", "mine", "--as", "Kim"]
    with Terminal(words, cwd=other, env=where) as taking:
        taking.wait_for("lines to confirm")
        told = re.search(rb"(\d+) lines to confirm", taking.painted)
        assert told
        for n in range(1, int(told[1]) + 1):
            line = f"\n{n}/".encode()
            taking.wait(lambda line=line: line in taking.painted, f"line {n}")
            taking.press("yes\r", "frames 0/90")
    kinds = [each.kind for each in Journal.read(journal_path(other / "mine")).entries]
    assert "resumed" in kinds
    assert [each.name for each in other.iterdir() if each.is_dir()] == ["mine"]
    given = Journal.read(journal_path(day)).entries
    assert ("handed-over", "Kim") in [(e.kind, getattr(e.data, "to", "")) for e in given]
    assert given[-1].kind in ("handed-over", "left")
    assert SECOND in [e.data.setup for e in given if e.kind == "setup-begun"]
