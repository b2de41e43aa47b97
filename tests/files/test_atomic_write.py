"""Several files change together or not at all, whatever happens in between."""

import os
from pathlib import Path

import pytest

from runbook.files.atomic_write import HALF, put_back, replace_files

BEFORE = {"day.toml": b"day", "kit.toml": b"kit", "old.toml": b"old"}
AFTER = {"day.toml": b"day 2", "kit.toml": b"kit 2", "old.toml": None, "new.toml": b"new"}


def folder_of(tmp_path: Path) -> Path:
    folder = tmp_path / "day"
    folder.mkdir()
    for name, data in BEFORE.items():
        (folder / name).write_bytes(data)
    return folder


def files_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_all_of_them_change(tmp_path: Path) -> None:
    folder = folder_of(tmp_path)
    (folder / "kit.toml").chmod(0o600)
    replace_files(folder, BEFORE, AFTER)
    assert files_in(folder) == {name: data for name, data in AFTER.items() if data is not None}
    assert sorted(path.name for path in folder.iterdir()) == ["day.toml", "kit.toml", "new.toml"]
    assert (folder / "kit.toml").stat().st_mode & 0o777 == 0o600


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    folder = folder_of(tmp_path)
    real = tmp_path / "shared.toml"
    real.write_bytes(b"kit")
    (folder / "kit.toml").unlink()
    (folder / "kit.toml").symlink_to(real)
    replace_files(folder, BEFORE, {"kit.toml": b"kit 2"})
    assert (folder / "kit.toml").is_symlink()
    assert real.read_bytes() == b"kit 2"


def moves_until(monkeypatch: pytest.MonkeyPatch, last: int, then: BaseException | None) -> list[int]:
    """Let so many renames and removals of a day's files happen, then fail, or end the process."""
    count = [0]

    def counted(real):  # type: ignore[no-untyped-def]
        def move(self: Path, *args: object, **more: object) -> object:
            count[0] += 1
            if count[0] == last:
                if then is None:
                    os._exit(9)
                raise then
            return real(self, *args, **more)

        return move

    monkeypatch.setattr(Path, "replace", counted(Path.replace))
    return count


@pytest.mark.parametrize("last", range(1, 9))
def test_a_disk_that_fails_in_between_changes_nothing(tmp_path, monkeypatch, last):
    folder = folder_of(tmp_path)
    count = moves_until(monkeypatch, last, OSError(28, "No space left on device"))
    with pytest.raises(OSError, match="No space"):
        replace_files(folder, BEFORE, AFTER)
    assert count[0] >= last
    assert files_in(folder) == BEFORE
    assert not (folder / HALF).exists()


@pytest.mark.parametrize("last", range(1, 9))
def test_a_process_that_ends_in_between_leaves_what_can_be_put_back(tmp_path, monkeypatch, last):
    folder = folder_of(tmp_path)
    child = os.fork()
    if child == 0:
        moves_until(monkeypatch, last, None)
        replace_files(folder, BEFORE, AFTER)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9, "it was never cut off"
    half_done = (folder / HALF).exists()
    assert put_back(folder) == half_done
    kept = {name: data for name, data in files_in(folder).items() if name.endswith(".toml")}
    assert kept == BEFORE
    assert not put_back(folder)


def test_a_full_disk_is_found_before_anything_moves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = folder_of(tmp_path)

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        replace_files(folder, BEFORE, AFTER)
    assert files_in(folder) == BEFORE
    assert sorted(path.name for path in folder.iterdir()) == sorted(BEFORE)
