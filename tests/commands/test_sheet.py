"""``runbook sheet --floor``: written whole or not at all, and every mistake reported plainly."""

import os
import re
import shutil
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from runbook.cli import main

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
DAY = (DEMO / "day.toml").read_text("utf-8")


def sheet(*words: object) -> int:
    return main(["sheet", str(DEMO), *map(str, words)])


FLOOR = ("--floor", "keeper-window")


def test_it_writes_a_floor_plan_says_so_and_keeps_the_rights_of_the_page_before(tmp_path, capsys):
    path = tmp_path / "floor.svg"
    path.write_text("yesterday's")
    path.chmod(0o640)
    assert sheet(*FLOOR, "-o", path) == 0
    assert ET.parse(path).getroot().tag.endswith("svg")
    assert path.stat().st_mode & 0o777 == 0o640
    assert "floor.svg" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == ["floor.svg"]


@pytest.mark.parametrize(("words", "why"), [
    (["--floor", "keeper-windw", "-o", "x.svg"], "did you mean keeper-window?"),
    ([*FLOOR, "-o", "floor.html"], ".svg"), ([*FLOOR, "-o", "floor"], ".svg"),
    ([*FLOOR, "-o", "no/x.svg"], "no such file or directory"), ([*FLOOR], "-o"),
    (["-o", "x.svg"], "x.html or x.md"), ([*FLOOR, "--record", "-o", "x.html"], "not allowed"),
])  # fmt: skip
def test_a_sheet_that_cannot_be_written_is_refused(words, why, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert sheet(*words) == 2
    printed = capsys.readouterr()
    assert why in printed.err and not printed.out
    assert list(tmp_path.iterdir()) == []


def test_what_was_there_stays_when_it_cannot_be_written(tmp_path, monkeypatch, capsys):
    path = tmp_path / "floor.svg"
    path.write_text("yesterday's")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert sheet("--floor", "keeper-window", "-o", path) == 2
    assert "no space left on device" in capsys.readouterr().err
    assert path.read_text() == "yesterday's"
    assert [each.name for each in tmp_path.iterdir()] == ["floor.svg"]


def test_a_place_that_is_not_real_is_reported_by_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = tmp_path / "day"
    shutil.copytree(DEMO, day)
    one = day / "keeper-window.toml"
    one.write_text(one.read_text("utf-8").replace("distance_m = 1.4", "distance_m = 0.1"), "utf-8")
    out = tmp_path / "x.svg"
    assert main(["sheet", str(day), "--floor", "keeper-window", "-o", str(out)]) == 2
    assert "keeper-window.toml" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize("more", [[], ["--record"]])
@pytest.mark.parametrize("name", ["day.html", "day.md"])
def test_the_day_and_its_record_are_written_whole(name, more, tmp_path, capsys):
    day = tmp_path / "day"
    shutil.copytree(DEMO, day)
    (day / "day.toml").write_text(re.sub(r"(?s)order = .*?\]", 'order = ["keeper-window"]', DAY), "utf-8")
    path = tmp_path / name
    assert main(["sheet", str(day), *more, "-o", str(path)]) == 0
    text = path.read_text("utf-8")
    assert ("the record" in text) == bool(more)
    assert ("<html" in text) == (path.suffix == ".html")
    assert ("data:image/png" in text) == (path.suffix == ".html" and not more)
    assert name in capsys.readouterr().out
    assert sorted(each.name for each in tmp_path.iterdir()) == ["day", name]
