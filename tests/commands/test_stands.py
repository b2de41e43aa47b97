"""``runbook stands``: the table, and a status a script can go by."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from runbook.cli import main
from tests.session.days import DEMO


def test_a_stand_that_must_not_be_left_so_is_status_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = shutil.copytree(DEMO, tmp_path / "day")
    assert main(["stands", str(day)]) == 0
    capsys.readouterr()
    setup = day / "keeper-window.toml"
    lines = setup.read_text().splitlines(keepends=True)
    setup.write_text("".join(line for line in lines if not line.startswith("bags =")))
    assert main(["stands", str(day), "--setup", "keeper-window"]) == 1
    assert "NOT OK: lean" in capsys.readouterr().out
    assert main(["stands", str(day), "--setup", "keeper-window", "--json"]) == 1
    (told,) = json.loads(capsys.readouterr().out)["setups"]
    assert not all(stand["ok"] for stand in told["stands"])
