"""A day to begin with: right as it is, and never written over anything."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from pathlib import Path

import pytest

from runbook.files.errors import Unreadable
from runbook.files.lint import audit
from runbook.files.load import read_day
from runbook.files.starter import start_day

ROOT = Path(__file__).parents[2]
DATE = dt.date(2026, 12, 4)


def test_it_writes_a_day_with_nothing_wrong(tmp_path: Path) -> None:
    folder = tmp_path / "new" / 'Café "día"'
    written = start_day(folder, DATE)
    assert sorted(path.name for path in written) == sorted(path.name for path in folder.iterdir())
    plan = read_day(folder)
    assert plan.day.date == DATE
    assert plan.day.name == "Café día"
    assert [setup.id for setup in plan.order] == ["one", "two"]
    assert audit(plan) == ()


def test_an_empty_folder_will_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    start_day(Path(), DATE)
    assert read_day(Path()).day.name == tmp_path.name


def test_it_leaves_alone_what_is_there(tmp_path: Path) -> None:
    (tmp_path / "notes").write_text("mine")
    with pytest.raises(Unreadable, match="is not empty; name a new one"):
        start_day(tmp_path, DATE)
    assert [path.name for path in tmp_path.iterdir()] == ["notes"]


def test_what_is_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for name, what in (("file", "is no folder"), ("link", "points at a folder that is not there")):
        for path in (tmp_path / name, tmp_path / name / "in" / "it"):
            with pytest.raises(Unreadable) as said:
                start_day(path, DATE)
            (fault,) = said.value.faults
            assert (fault.file, fault.what) == (str(tmp_path / name), what)


def test_a_folder_that_takes_no_other_is_named() -> None:
    with pytest.raises(Unreadable) as said:
        start_day(Path("/proc/x/y"), DATE)
    assert [str(fault) for fault in said.value.faults] == [
        "/proc: cannot be written: it takes no new folder; name a folder that can be made"
    ]


@pytest.mark.parametrize("fails_at", [1, 2, 4])
@pytest.mark.parametrize("fresh", [True, False])
def test_nothing_half_written_is_left_when_the_disk_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int, fresh: bool
) -> None:
    folder = tmp_path / "day"
    if not fresh:
        folder.mkdir()
    calls = 0
    real = Path.write_text

    def failing(path: Path, *args: object, **more: object) -> int:
        nonlocal calls
        calls += 1
        if calls == fails_at:
            raise OSError(28, "No space left on device")
        return real(path, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "write_text", failing)
    with pytest.raises(Unreadable, match="no space left on device"):
        start_day(folder, DATE)
    assert list(tmp_path.rglob("*")) == ([] if fresh else [folder])


def test_nothing_half_written_is_left_when_a_file_cannot_be_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    real = os.replace

    def failing(source: Path, target: Path) -> None:
        if target.name == "one.toml":
            raise PermissionError(13, "Permission denied")
        real(source, target)

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(Unreadable, match="may not be written"):
        start_day(tmp_path / "day", DATE)
    assert list(tmp_path.iterdir()) == []


KILLED = """
import datetime as dt, os, sys
from pathlib import Path
from runbook.files.starter import start_day
left = int(sys.argv[2])
replace = os.replace
def killed(*names):
    global left
    if left == 0:
        os._exit(9)
    left -= 1
    replace(*names)
os.replace = killed
start_day(Path(sys.argv[1]), dt.date(2026, 1, 1))
"""


@pytest.mark.parametrize("moved", range(4))
def test_a_start_that_was_killed_can_be_made_again(moved: int, tmp_path: Path) -> None:
    folder = tmp_path / "day"
    words = [sys.executable, "-c", KILLED, str(folder), str(moved)]
    assert subprocess.run(words, check=False, cwd=ROOT).returncode == 9
    assert any(folder.iterdir())
    start_day(folder, DATE)
    assert read_day(folder).day.date == DATE
    assert sorted(path.name for path in folder.iterdir()) == [
        "day.toml", "kit.toml", "one.toml", "two.toml",
    ]  # fmt: skip


def test_what_a_person_changed_after_a_kill_is_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "day"
    subprocess.run([sys.executable, "-c", KILLED, str(folder), "2"], check=False, cwd=ROOT)
    changed = (folder / "kit.toml").read_text("utf-8") + "# mine\n"
    (folder / "kit.toml").write_text(changed, "utf-8")
    with pytest.raises(Unreadable):
        start_day(folder, DATE)
    assert (folder / "kit.toml").read_text("utf-8") == changed
