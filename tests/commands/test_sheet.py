"""``runbook sheet --floor``: written whole or not at all, and every mistake reported plainly."""

import os
import shutil
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from runbook.cli import main

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"


def sheet(*words: object) -> int:
    return main(["sheet", str(DEMO), *map(str, words)])


def test_it_writes_a_floor_plan_and_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "floor.svg"
    assert sheet("--floor", "keeper-window", "-o", path) == 0
    assert ET.parse(path).getroot().tag.endswith("svg")
    assert "floor.svg" in capsys.readouterr().out
    assert [each.name for each in tmp_path.iterdir()] == ["floor.svg"]


def test_every_setup_of_the_demo_day_has_one(tmp_path: Path) -> None:
    setups = [path.stem for path in DEMO.glob("*.toml") if path.stem not in ("day", "kit")]
    for setup in setups:
        assert sheet("--floor", setup, "-o", tmp_path / f"{setup}.svg") == 0
    assert len(list(tmp_path.iterdir())) == len(setups) > 5


def test_an_unknown_setup_is_reported_with_the_nearest_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert sheet("--floor", "keeper-windw", "-o", tmp_path / "x.svg") == 2
    message = capsys.readouterr()
    assert message.out == ""
    assert "did you mean keeper-window?" in message.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["floor.html", "floor", "floor.svg.txt"])
def test_another_kind_of_file_is_refused_with_what_would_be_right(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sheet("--floor", "keeper-window", "-o", tmp_path / name) == 2
    assert ".svg" in capsys.readouterr().err.split(";")[1]
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert sheet("--floor", "keeper-window", "-o", tmp_path / "no" / "x.svg") == 2
    assert "no such file or directory" in capsys.readouterr().err


def test_what_was_there_stays_when_it_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "floor.svg"
    path.write_text("yesterday's")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert sheet("--floor", "keeper-window", "-o", path) == 2
    assert "no space left on device" in capsys.readouterr().err
    assert path.read_text() == "yesterday's"
    assert [each.name for each in tmp_path.iterdir()] == ["floor.svg"]


def test_a_page_written_again_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "floor.svg"
    path.write_text("yesterday's")
    path.chmod(0o640)
    assert sheet("--floor", "keeper-window", "-o", path) == 0
    assert path.stat().st_mode & 0o777 == 0o640
    assert "yesterday" not in path.read_text("utf-8")


def test_a_place_that_is_not_real_is_reported_by_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = tmp_path / "day"
    shutil.copytree(DEMO, day)
    one = day / "keeper-window.toml"
    one.write_text(one.read_text("utf-8").replace("distance_m = 1.4", "distance_m = 0.1"), "utf-8")
    out = tmp_path / "x.svg"
    assert main(["sheet", str(day), "--floor", "keeper-window", "-o", str(out)]) == 2
    assert "keeper-window.toml" in capsys.readouterr().err
    assert not out.exists()


def test_both_words_are_needed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert sheet("--floor", "keeper-window") == 2
    assert "-o" in capsys.readouterr().err
    assert sheet("-o", tmp_path / "x.svg") == 2
    assert "x.html or x.md" in capsys.readouterr().err


@pytest.mark.parametrize("more", [[], ["--record"]])
@pytest.mark.parametrize("name", ["day.html", "day.md"])
def test_the_day_and_its_record_are_written_whole(
    name: str, more: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = tmp_path / "day"
    shutil.copytree(DEMO, day)
    path = tmp_path / name
    assert main(["sheet", str(day), *more, "-o", str(path)]) == 0
    text = path.read_text("utf-8")
    assert ("the record" in text) == bool(more)
    assert ("<html" in text) == (path.suffix == ".html")
    assert name in capsys.readouterr().out
    assert sorted(each.name for each in tmp_path.iterdir()) == ["day", name]


def test_a_floor_and_a_record_are_two_things(capsys: pytest.CaptureFixture[str]) -> None:
    assert sheet("--floor", "keeper-window", "--record", "-o", "x.html") == 2
    assert "not allowed" in capsys.readouterr().err
