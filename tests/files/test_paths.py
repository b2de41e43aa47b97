"""Which folder a command means when none is named; and a day to begin with."""

import errno
from pathlib import Path

import pytest

from runbook.files import atomic_write, paths
from runbook.files.atomic_write import temp_file
from runbook.files.errors import Unreadable
from runbook.files.load import read_day
from runbook.files.paths import demo_day, find_day, holds_day, records_of


def test_the_folder_named_is_meant_and_else_the_current_one(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert find_day(str(day)) == day
    monkeypatch.chdir(day)
    assert find_day(None) == Path()


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to be in, and no state of earlier days: where the demo's copy will be."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    return tmp_path / "state" / "runbook" / "lantern-row"


def test_without_a_day_the_demo_day_is_shown_with_a_message(nowhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert find_day(None) == demo_day()
    assert capsys.readouterr() == ("", "no day in this folder: showing the demo day\n")
    assert not nowhere.exists()


def test_the_demo_day_is_written_in_a_copy_that_is_the_demo_day_from_then_on(nowhere, capsys):
    demo = demo_day()
    assert find_day(None, to_write=True) == nowhere
    assert read_day(nowhere) == read_day(demo)
    assert records_of(nowhere) == records_of(demo) == nowhere
    shown = "no day in this folder: showing the demo day"
    start = "start your own with: runbook new DAY"
    assert capsys.readouterr() == ("", f"{shown} (copied to {nowhere}); {start}\n")
    (nowhere / "day.toml").write_text("mine", encoding="utf-8")
    for to_write in (False, True):
        assert find_day(None, to_write=to_write) == nowhere
        assert capsys.readouterr().err == f"{shown} (your copy in {nowhere}); {start}\n"
    assert (nowhere / "day.toml").read_text("utf-8") == "mine"


def test_a_copy_half_made_is_none(nowhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copied: list[str] = []

    def full(folder: Path, data: bytes, mode: int) -> Path:
        if len(copied) == 3:
            raise OSError(errno.ENOSPC, "No space left on device")
        copied.append(temp_file(folder, data, mode).name)
        return folder / copied[-1]

    monkeypatch.setattr(atomic_write, "temp_file", full)
    with pytest.raises(Unreadable, match=r"cannot be copied there: No space left.*XDG_STATE_HOME"):
        find_day(None, to_write=True)
    assert find_day(None) == demo_day()
    monkeypatch.undo()
    monkeypatch.setenv("XDG_STATE_HOME", str(nowhere.parents[1]))
    monkeypatch.chdir(nowhere)
    assert holds_day(find_day(None, to_write=True))


def test_the_demo_day_named_is_the_persons_choice(nowhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    demo = demo_day()
    assert find_day(str(demo), to_write=True) == demo
    assert capsys.readouterr().err == ""
    assert not nowhere.exists()


def test_the_demo_day_is_inside_the_package_or_beside_it(tmp_path: Path) -> None:
    package = tmp_path / "runbook"
    beside, inside = tmp_path / "setups" / "b", package / "demo" / "a"
    assert demo_day(package) is None
    for folder in (beside, inside):
        folder.mkdir(parents=True)
        (folder / "day.toml").write_text("")
        assert demo_day(package) == folder


def test_without_any_day_the_message_explains_how_to_start_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(paths, "demo_day", lambda: None)
    with pytest.raises(Unreadable, match=r"holds no day\.toml; .*runbook new DAY"):
        find_day(None)
