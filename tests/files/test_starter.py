"""A day to begin with: right as it is, and never written over anything."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import pytest

from runbook.files.errors import Unreadable
from runbook.files.lint import audit
from runbook.files.load import read_day
from runbook.files.paths import start_day

DATE = dt.date(2026, 12, 4)


def test_it_writes_a_day_with_nothing_wrong(tmp_path: Path) -> None:
    folder = tmp_path / "new" / 'Café "día"'
    written = start_day(folder, DATE)
    assert sorted(path.name for path in written) == sorted(path.name for path in folder.iterdir())
    plan = read_day(folder)
    assert (plan.day.date, plan.day.name) == (DATE, "Café día")
    assert [setup.id for setup in plan.order] == ["one", "two"]
    assert audit(plan) == ()


def test_an_empty_folder_is_filled_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    start_day(Path(), DATE)
    assert read_day(Path()).day.name == tmp_path.name


def test_what_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes").write_text("mine")
    with pytest.raises(Unreadable, match="is not empty; name a new one"):
        start_day(tmp_path, DATE)
    assert [path.name for path in tmp_path.iterdir()] == ["notes"]


def test_what_is_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for name, what in (("file", "is no folder"), ("link", "points at a folder that is not there")):
        for path in (tmp_path / name, tmp_path / name / "in" / "it"):
            with pytest.raises(Unreadable) as refused:
                start_day(path, DATE)
            (fault,) = refused.value.faults
            assert (fault.file, fault.what) == (str(tmp_path / name), what)


@pytest.mark.parametrize("name", ["fsync", "replace"])
@pytest.mark.parametrize("fresh", [True, False])
def test_nothing_half_written_is_left_when_the_disk_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, fresh: bool
) -> None:
    folder, real, calls = tmp_path / "day", getattr(os, name), 0
    if not fresh:
        folder.mkdir()

    def failing(*args: object) -> None:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise OSError(28, "No space left on device")
        real(*args)

    monkeypatch.setattr(os, name, failing)
    with pytest.raises(Unreadable, match="no space left on device"):
        start_day(folder, DATE)
    assert list(tmp_path.rglob("*")) == ([] if fresh else [folder])


def test_a_start_that_ends_before_the_folder_has_its_name_leaves_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "rename", stopped)
    with pytest.raises(KeyboardInterrupt):
        start_day(tmp_path / "day", DATE)
    assert list(tmp_path.iterdir()) == []
