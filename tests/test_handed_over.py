"""A day handed over and taken on real terminals, from the key on one to the step on the other."""

import re
from pathlib import Path

from runbook.journal.journal import Journal, journal_path
from tests.played import SECOND, half_shot
from tests.terminal import RUNBOOK, Terminal


def test_from_the_key_to_the_same_step(tmp_path: Path) -> None:
    day, other = half_shot(tmp_path / "posters"), tmp_path / "other"
    other.mkdir()
    with Terminal([*RUNBOOK, "open", str(day)], cwd=other) as giving:
        giving.wait_for("? keys")
        giving.press("y", "read out and repeat back")
        giving.press("\r", "Who takes the day over?")
        giving.press("Kim\r", "is for Kim")
        giving.press("s", "frames 0/90")
    (file,) = other.glob("*.handover")
    with Terminal([*RUNBOOK, "resume", file.name, "--into", "mine", "--as", "Kim"], cwd=other) as taking:
        taking.wait_for("lines to confirm")
        count = re.search(r"(\d+) lines to confirm", taking.text)
        assert count
        for n in range(1, int(count[1]) + 1):
            taking.wait(lambda line=f"\n{n}/": line in taking.text, f"line {n}")
            taking.send("yes\r")
        taking.wait_for("frames 0/90")
    assert "resumed" in [entry.kind for entry in Journal.read(journal_path(other / "mine")).entries]
    assert [path.name for path in other.iterdir() if path.is_dir()] == ["mine"]
    given = Journal.read(journal_path(day)).entries
    assert ("handed-over", "Kim") in [(entry.kind, getattr(entry.data, "to", "")) for entry in given]
    assert given[-1].kind in ("handed-over", "left")
    assert SECOND in [entry.data.setup for entry in given if entry.kind == "setup-begun"]
