"""Keeping a reading in kit.toml: whole or not at all, and nothing else touched."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from runbook.plan.files import read_day
from runbook.plan.keep import keep_measured
from runbook.plan.kit import Measured

ROW = Measured(
    head="A", power="1/8+0.3", distance_m=1.4, reads_f=4.2, modifier="octa", accessories=("grid",)
)


def test_a_row_is_added_and_everything_above_stays_to_the_letter(day: Path) -> None:
    kit = day / "kit.toml"
    kit.write_text(kit.read_text() + "# the photographer's own last word", encoding="utf-8")
    before = kit.read_text(encoding="utf-8")
    keep_measured(day, ROW)
    after = kit.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert read_day(day).kit.measured[-1] == ROW
    assert len(read_day(day).kit.measured) == 2


def test_nothing_is_left_behind_and_the_mode_stays(day: Path) -> None:
    (day / "kit.toml").chmod(0o640)
    files = sorted(path.name for path in day.iterdir())
    keep_measured(day, ROW)
    assert sorted(path.name for path in day.iterdir()) == files
    assert (day / "kit.toml").stat().st_mode & 0o777 == 0o640


def test_a_write_that_fails_leaves_the_kit_as_it_was(
    day: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (day / "kit.toml").read_bytes()
    files = sorted(path.name for path in day.iterdir())

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        keep_measured(day, ROW)
    assert (day / "kit.toml").read_bytes() == before
    assert sorted(path.name for path in day.iterdir()) == files


def test_a_linked_kit_is_written_where_it_really_is(day: Path, tmp_path: Path) -> None:
    real = tmp_path / "shared-kit.toml"
    (day / "kit.toml").rename(real)
    (day / "kit.toml").symlink_to(real)
    keep_measured(day, ROW)
    assert (day / "kit.toml").is_symlink()
    assert "[[measured]]" in real.read_text().splitlines()[-12:]
