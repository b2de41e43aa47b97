"""Which folder a command means when none is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from runbook.plan import where
from runbook.plan.faults import Unreadable
from runbook.plan.where import demo_day, find_day


def test_the_folder_named_is_meant(day: Path) -> None:
    assert find_day(str(day)) == day


def test_the_current_folder_if_it_holds_a_day(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(day)
    assert find_day(None) == Path()


def test_else_the_demo_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert (find_day(None) / "kit.toml").is_file()


def test_the_demo_day_is_inside_the_package_or_beside_it(tmp_path: Path) -> None:
    package = tmp_path / "runbook"
    beside, inside = tmp_path / "setups" / "b", package / "demo" / "a"
    assert demo_day(package) is None
    for folder in (beside, inside):
        folder.mkdir(parents=True)
        (folder / "day.toml").write_text("")
        assert demo_day(package) == folder


def test_no_day_at_all_says_how_to_start_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(where, "demo_day", lambda: None)
    with pytest.raises(Unreadable, match=r"holds no day\.toml; .*runbook new DAY"):
        find_day(None)
