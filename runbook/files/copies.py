"""Copies of files held against each other, byte for byte: each file of each copy is read once, whole.

Sizes and times prove nothing: one bit changed leaves both. SHA-256 is faster than any disk or card.
"""

from __future__ import annotations

import json
import os
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from threading import Event
from typing import Final

from runbook.files.pictures import fingerprint_of

_BUFFER: Final = 2**20
Tell = Callable[[int], object]  # takes how many bytes more were read


@dataclass(frozen=True, slots=True)
class Wanted:
    """A file that must be in every copy: its name in the folder it came from, its bytes, and its fingerprint."""

    name: str
    size: int
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Copy:
    """What of the files is in one copy: whole, missing, or there and not alike; by name."""

    folder: Path
    whole: frozenset[str]
    missing: tuple[str, ...]
    differ: tuple[str, ...]


_Sum = tuple[str, tuple[int, int]]  # SHA-256, empty where it is not the file that is wanted; device and inode


class Comparison:
    """Files and the folders that are to hold copies of them; ``partial`` keeps the sums, so that it can be resumed.

    ``origin`` is the folder they came from: where it is there still, it is read too, and says which copy is right.
    """

    def __init__(self, wanted: Iterable[Wanted], folders: Sequence[Path], partial: Path, origin: Path | None) -> None:
        self.wanted = tuple(wanted)
        self.folders = tuple(folders)
        apart = origin is not None and all(origin.resolve() != folder.resolve() for folder in folders)
        self._read = (*folders, origin) if origin and apart else self.folders
        self._partial = partial
        self._known: dict[str, str] = {}
        with suppress(OSError, ValueError):  # the last line may be cut
            for line in partial.read_text("utf-8").splitlines():
                self._known |= dict([json.loads(line)])
        self._found = {folder: dict(_find(self.wanted, folder)) for folder in self._read}
        self.stop = Event()

    @property
    def size(self) -> int:
        """The bytes to read in all."""
        return sum(wanted.size for found in self._found.values() for wanted in found)

    def run(self, tell: Tell = lambda _: None) -> tuple[Copy, ...]:
        """Read every file of every copy, those of one folder after each other; return what each copy holds.

        Raises OSError where the sums cannot be kept. What was read before a stop need not be read again.
        """
        with self._partial.open("a", encoding="utf-8") as partial, ThreadPoolExecutor(len(self._read)) as pool:

            def keep(key: str, value: str) -> None:
                partial.write(json.dumps([key, value]) + "\n")
                partial.flush()

            work = {folder: pool.submit(self._sums, self._found[folder], keep, tell) for folder in self._read}
            try:
                sums = {folder: future.result() for folder, future in work.items()}
            except BaseException:
                self.stop.set()
                raise
        self._partial.unlink(missing_ok=True)  # the next time everything is read anew
        states = {wanted.name: self._states(wanted.name, sums) for wanted in self.wanted}
        return tuple(
            Copy(
                folder,
                frozenset(name for name, state in states.items() if state.get(n) == "whole"),
                tuple(name for name, state in states.items() if n not in state),
                tuple(name for name, state in states.items() if state.get(n) == "differs"),
            )
            for n, folder in enumerate(self.folders)
        )

    def _sums(self, found: Mapping[Wanted, Path], keep: Callable[[str, str], None], tell: Tell) -> dict[str, _Sum]:
        sums: dict[str, _Sum] = {}
        for wanted, path in found.items():
            if self.stop.is_set():
                break
            with suppress(OSError):  # it cannot be read: so there is no copy of it
                status = path.stat()
                key = f"{path.resolve()}|{status.st_size}|{status.st_mtime_ns}|{status.st_ctime_ns}"
                total = self._known.get(key, "")
                if total:
                    tell(status.st_size)
                elif fingerprint_of(path) == wanted.fingerprint:
                    total = _sha256_of(path, self.stop, tell)
                    keep(key, total)
                sums[wanted.name] = total, (status.st_dev, status.st_ino)
        return sums

    def _states(self, name: str, sums: Mapping[Path, Mapping[str, _Sum]]) -> dict[int, str]:
        """Return whether a file is whole or differs, by the number of each folder it is in: whole is what most have.

        A link to a file of another copy is not a copy.
        """
        by_inode: dict[tuple[int, int], tuple[int, str]] = {}
        for n, folder in enumerate(self._read):
            if name in sums[folder]:
                total, inode = sums[folder][name]
                by_inode.setdefault(inode, (n, total))
        (most, count), *others = Counter(total for _, total in by_inode.values() if total).most_common() or [("", 0)]
        proved = not others or count > others[0][1]
        return {n: "whole" if proved and total == most != "" else "differs" for n, total in by_inode.values()}


def in_two(copies: Iterable[Copy], names: Iterable[str]) -> bool:
    """Return whether each of these files is whole in two copies or more."""
    copies = tuple(copies)
    return all(sum(name in copy.whole for copy in copies) >= 2 for name in names)


def _find(wanted: Iterable[Wanted], folder: Path) -> Iterator[tuple[Wanted, Path]]:
    """Yield each wanted file that is in a folder or its sub-folders, under its own name or another."""
    there: dict[str | int, list[Path]] = defaultdict(list)  # by name, and by size
    print_of = cache(_print_of)
    for path, folders, names in os.walk(folder):
        folders.sort()
        for file in (Path(path, name) for name in names):
            there[file.name].append(file)
            with suppress(OSError):
                there[file.stat().st_size].append(file)
    for each in wanted:
        # the same sub-folders first: numbers start anew on every card
        named = there[each.name.rpartition("/")[2]]
        named = sorted(named, key=lambda path: not path.as_posix().endswith(f"/{each.name}"))
        if len(named) != 1:  # of several the one alike at its ends; of none, one renamed since
            named = [path for path in named or there[each.size] if print_of(path) == each.fingerprint] or named
        if named:
            yield each, named[0]


def _print_of(path: Path) -> str:
    """Return the fingerprint of a file; nothing where it cannot be read."""
    with suppress(OSError):
        return fingerprint_of(path)
    return ""


def _sha256_of(path: Path, stop: Event, tell: Tell) -> str:
    """Return the sum of a file. Raises OSError; InterruptedError where it is stopped."""
    total, buffer = sha256(), bytearray(_BUFFER)
    with path.open("rb", buffering=0) as file:
        while count := file.readinto(buffer):
            if stop.is_set():
                raise InterruptedError
            total.update(memoryview(buffer)[:count])
            tell(count)
    return total.hexdigest()
