"""Putting several files of a folder in place of others: all of them or none, whatever happens.

Everything new is on disk under another name first. Where there is more than one file, what was
there before is on disk too, in a folder that is only there while files are being moved: a crash
in between leaves it, and ``put_back`` makes the day what it was.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

HALF: Final = ".edit-half"
_NEW: Final = "new files"  # in HALF: the names of those that were not there before


def new_mode(*, folder: bool = False) -> int:
    """Return the permissions of a new file, or folder, as the user's umask has them."""
    mask = os.umask(0)
    os.umask(mask)
    return (0o777 if folder else 0o666) & ~mask


def temp_file(folder: Path, data: bytes, mode: int) -> Path:
    """A file with these bytes, on disk for good, under a name that is not read. Raises OSError."""
    handle, name = tempfile.mkstemp(prefix=".edit-", dir=folder)
    try:
        with open(handle, "wb") as file:  # noqa: PTH123 - a handle, not a path
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(mode)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def replace_files(folder: Path, before: Mapping[str, bytes], after: Mapping[str, bytes | None]) -> None:
    """Files by name with these bytes, None for one that goes. Raises OSError, with all as it was.

    New files come first and others go last.
    """
    names = sorted(after, key=lambda name: (name in before) + 2 * (after[name] is None))
    real = {name: (folder / name).resolve() for name in names}  # a link stays a link
    fresh: dict[str, Path] = {}
    try:
        for name in names:
            if (data := after[name]) is not None:
                fresh[name] = temp_file(real[name].parent, data, file_mode(real[name]))
        if len(names) > 1:
            _remember(folder, before, names)
        for name in names:
            if name in fresh:
                fresh[name].replace(real[name])
            else:
                real[name].unlink(missing_ok=True)
    except OSError:
        put_back(folder)
        raise
    finally:
        for temp in fresh.values():
            temp.unlink(missing_ok=True)
    _sync(folder)
    shutil.rmtree(folder / HALF, ignore_errors=True)


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write a whole new folder, on disk for good, or none. Raises OSError or ValueError."""
    folder = folder.absolute()
    aside = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}-", dir=folder.parent))
    try:
        for name, data in files.items():
            temp_file(aside, data, new_mode()).replace(aside / name)
        _sync(aside)
        aside.chmod(new_mode(folder=True))
        aside.rename(folder)
        _sync(folder.parent)
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise


def put_back(folder: Path) -> bool:
    """Make good what a crash left half done: the files as they were. Whether there was any.

    A folder that cannot be written is left as it is.
    """
    half = folder / HALF
    if not half.is_dir():
        return False
    with suppress(OSError):
        for name in (half / _NEW).read_text("utf-8").splitlines():
            (folder / name).resolve().unlink(missing_ok=True)
        for kept in half.glob("*.toml"):
            kept.replace((folder / kept.name).resolve())
        _sync(folder)
        shutil.rmtree(half)
    return True


def _remember(folder: Path, before: Mapping[str, bytes], names: list[str]) -> None:
    """What was there before, whole before it has the name that is looked for."""
    aside = Path(tempfile.mkdtemp(prefix=".edit-", dir=folder))
    try:
        for name in names:
            if name in before:
                temp_file(aside, before[name], file_mode(folder / name)).replace(aside / name)
        new = "".join(f"{name}\n" for name in names if name not in before)
        temp_file(aside, new.encode(), new_mode()).replace(aside / _NEW)
        _sync(aside)
        aside.replace(folder / HALF)
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise


def file_mode(path: Path) -> int:
    """Return the permissions of a file, or of a new one where there is none. Raises OSError."""
    try:
        return path.stat().st_mode & 0o777
    except FileNotFoundError:
        return new_mode()


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk. Raises OSError."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sync(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system can do so."""
    with suppress(OSError):
        sync_folder(folder)
