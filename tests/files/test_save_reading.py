"""Keeping a reading in kit.toml: whole or not at all, and nothing else touched."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from runbook.files.editor import keep_measured, replaced_by
from runbook.files.load import read_day
from runbook.files.toml_edit import NotEdited
from runbook.model.kit import Measured

ROW = Measured(head="A", power="1/8+0.3", distance_m=1.4, reads_f=4.2, modifier="octa", accessories=("grid",))


STAMP = "20261204-091500"
KEPT = f".backup-{STAMP}"


def test_a_row_is_added_and_everything_above_stays_to_the_letter(day: Path) -> None:
    kit = day / "kit.toml"
    kit.write_text(kit.read_text() + "# the photographer's own last word", encoding="utf-8")
    before = kit.read_text(encoding="utf-8")
    assert keep_measured(day, ROW, STAMP) == KEPT
    after = kit.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert read_day(day).kit.measured[-1] == ROW
    assert len(read_day(day).kit.measured) == 2


def test_a_row_taken_at_the_same_distance_is_written_over_in_its_place(day: Path) -> None:
    """It would never count again: power and ISO are carried, the distance is what is nearest."""
    kit = day / "kit.toml"
    keep_measured(day, ROW, STAMP)
    note = "# by the window\n[[measured]]"
    text = note.join(kit.read_text().rsplit("[[measured]]", 1)) + '\n[[bag]]\nid = "B77"\n'
    text += "mass_kg = 6.0\n"
    kit.write_text(text)
    again = replace(ROW, power="1/4", iso=200.0, reads_f=5.6)
    assert keep_measured(day, again, STAMP) == KEPT
    assert read_day(day).kit.measured[1:] == (again,)
    assert note in kit.read_text()
    assert kit.read_text().endswith(text[text.rindex("[[bag]]") :])
    new = kit.read_text().splitlines()
    changed = [old for old, now in zip(text.splitlines(), new, strict=True) if old != now]
    assert {line.split(" = ")[0] for line in changed} == {"power", "iso", "reads_f"}


@pytest.mark.parametrize(
    "other",
    [
        replace(ROW, distance_m=1.5),
        replace(ROW, accessories=()),
        replace(ROW, modifier="bare", accessories=()),
        replace(ROW, head="B"),
    ],
)
def test_a_row_that_still_counts_somewhere_stays(other: Measured) -> None:
    assert replaced_by([other], ROW) is None
    assert replaced_by([replace(ROW, power="1/2", iso=400.0), other], ROW) == 0


def test_accessories_are_the_same_in_any_order() -> None:
    fitted = replace(ROW, accessories=("grid", "gel"))
    assert replaced_by([fitted], replace(fitted, accessories=("gel", "grid"))) == 0


def test_what_the_kit_says_already_is_not_written_again(day: Path) -> None:
    keep_measured(day, ROW, STAMP)
    before = (day / "kit.toml").read_bytes()
    assert keep_measured(day, replace(ROW, distance_m=1.40004), "later") is None
    assert (day / "kit.toml").read_bytes() == before
    assert not (day / ".backup-later").exists()


def test_the_files_as_they_were_are_kept_and_nothing_else_is_left_behind(day: Path) -> None:
    (day / "kit.toml").chmod(0o640)
    files = sorted(path.name for path in day.iterdir())
    before = (day / "kit.toml").read_bytes()
    keep_measured(day, ROW, STAMP)
    assert sorted(path.name for path in day.iterdir()) == sorted((KEPT, *files))
    assert (day / KEPT / "kit.toml").read_bytes() == before
    assert (day / "kit.toml").stat().st_mode & 0o777 == 0o640


def test_a_write_that_fails_leaves_the_kit_as_it_was(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = (day / "kit.toml").read_bytes()
    files = sorted(path.name for path in day.iterdir())

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotEdited, match="no space"):
        keep_measured(day, ROW, STAMP)
    assert (day / "kit.toml").read_bytes() == before
    assert sorted(path.name for path in day.iterdir()) == files


def test_a_linked_kit_is_written_where_it_really_is(day: Path, tmp_path: Path) -> None:
    real = tmp_path / "shared-kit.toml"
    (day / "kit.toml").rename(real)
    (day / "kit.toml").symlink_to(real)
    keep_measured(day, ROW, STAMP)
    assert (day / "kit.toml").is_symlink()
    assert "[[measured]]" in real.read_text().splitlines()[-12:]
