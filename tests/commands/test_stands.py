"""``runbook stands``: the table, and a status a script can go by."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from runbook.cli import main
from tests.days import change
from tests.played import copied


def judged(day: Path, setup: str, capsys: pytest.CaptureFixture[str]) -> tuple[str, dict[str, Any]]:
    """What the command prints of a setup that must not be left so, as text and as data."""
    assert main(["stands", str(day), "--setup", setup]) == 1
    text = capsys.readouterr().out
    assert main(["stands", str(day), "--setup", setup, "--json"]) == 1
    (data,) = json.loads(capsys.readouterr().out)["setups"]
    return text, data


def test_a_stand_that_must_not_be_left_so_is_status_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = copied(tmp_path / "day")
    assert main(["stands", str(day)]) == 0
    capsys.readouterr()
    setup = day / "keeper-window.toml"
    setup.write_text(re.sub("^bags =.*\n", "", setup.read_text(), flags=re.MULTILINE))
    text, data = judged(day, "keeper-window", capsys)
    assert "NOT OK: lean" in text
    assert not all(stand["ok"] for stand in data["stands"])


def test_a_panel_the_wind_takes_is_status_1_and_is_in_table_and_json(tmp_path, capsys):
    day = copied(tmp_path / "day")
    change(day, "day.toml", "indoors = true", "indoors = false\ngust_ms = 5.0")
    # its stands bear that gust, its three flats are past their limit of 3.0 m/s
    text, data = judged(day, "lamplighter-fog", capsys)
    assert "NOT OK: wind" in next(line for line in text.splitlines() if "flat-3" in line)
    assert all(stand["ok"] for stand in data["stands"])
    assert [panel["panel"] for panel in data["panels"]] == ["fence", *(f"flat-{n}" for n in range(1, 4))]
    for panel in data["panels"][1:]:
        assert panel["wind_limit_ms"] == pytest.approx(3.00, abs=0.01)
        assert (panel["bags_kg"], panel["ok"], panel["faults"]) == (5.0, False, ["wind"])
