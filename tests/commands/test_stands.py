"""``runbook stands``: the table, and a status a script can go by."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from runbook.cli import main
from tests.day.days import DEMO


def test_a_stand_that_must_not_be_left_so_is_status_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = shutil.copytree(DEMO, tmp_path / "day")
    assert main(["stands", str(day)]) == 0
    capsys.readouterr()
    setup = day / "keeper-window.toml"
    lines = setup.read_text().splitlines(keepends=True)
    setup.write_text("".join(line for line in lines if not line.startswith("bags =")))
    assert main(["stands", str(day), "--setup", "keeper-window"]) == 1
    assert "NOT OK: lean" in capsys.readouterr().out
    assert main(["stands", str(day), "--setup", "keeper-window", "--json"]) == 1
    (message,) = json.loads(capsys.readouterr().out)["setups"]
    assert not all(stand["ok"] for stand in message["stands"])


def test_a_panel_the_wind_takes_is_status_1_and_is_in_table_and_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = shutil.copytree(DEMO, tmp_path / "day")
    text = (day / "day.toml").read_text()
    (day / "day.toml").write_text(text.replace("indoors = true", "indoors = false\ngust_ms = 5.0"))
    # its stands bear that gust, its four flats are past their limit of 3.0 m/s
    assert main(["stands", str(day), "--setup", "lamplighter-fog"]) == 1
    message = capsys.readouterr().out
    assert "NOT OK: wind" in next(line for line in message.splitlines() if "flat-4" in line)
    assert main(["stands", str(day), "--setup", "lamplighter-fog", "--json"]) == 1
    (setup,) = json.loads(capsys.readouterr().out)["setups"]
    assert all(stand["ok"] for stand in setup["stands"])
    assert [panel["panel"] for panel in setup["panels"]] == [f"flat-{n}" for n in range(1, 5)]
    for panel in setup["panels"]:
        assert panel["wind_limit_ms"] == pytest.approx(3.00, abs=0.01)
        assert (panel["bags_kg"], panel["ok"], panel["faults"]) == (5.0, False, ["wind"])
