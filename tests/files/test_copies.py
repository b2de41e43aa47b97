"""Copies held against each other: whatever is not proved is not whole."""

import os
import shutil
from pathlib import Path

import pytest

from runbook.files import copies as module
from runbook.files.copies import Comparison, Copy, Wanted, in_two
from runbook.files.pictures import fingerprint_of

NAMES = ("100/a.jpg", "100/a.nef", "101/a.jpg", "b.jpg")


class Day:
    """A folder of frames and two copies of it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.origin = folder, folder / "frames"
        for n, name in enumerate(NAMES):
            path = self.origin / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(bytes([n]) * 1_000_000)
        self.wanted = [Wanted(name, 1_000_000, fingerprint_of(self.origin / name)) for name in NAMES]
        self.a, self.b = (Path(shutil.copytree(self.origin, folder / name)) for name in "AB")

    def compare(self, *folders: Path, origin: Path | None = None) -> list[tuple[int, list[str], list[str]]]:
        found = self.run(*folders, origin=origin)
        return [(len(copy.whole), list(copy.missing), list(copy.differ)) for copy in found]

    def run(self, *folders: Path, origin: Path | None = None) -> tuple[Copy, ...]:
        return Comparison(self.wanted, folders or (self.a, self.b), self.folder / "part", origin).run()

    def flip(self, path: Path) -> None:
        """Change one byte in the middle; size and times stay."""
        status = path.stat()
        with path.open("r+b") as file:
            file.seek(500_000)
            file.write(b"x")
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))


@pytest.fixture
def day(tmp_path: Path) -> Day:
    return Day(tmp_path)


def test_copies_alike_are_whole_wherever_in_them_the_files_are_and_however_named(day: Day) -> None:
    (day.b / "card").mkdir()
    for name in ("100", "101", "b.jpg"):
        (day.b / name).rename(day.b / "card" / name)
    (day.b / "card" / "b.jpg").rename(day.b / "Poster 7.jpg")
    assert day.compare() == [(4, [], [])] * 2
    assert in_two(day.run(), NAMES)
    assert not in_two(day.run(day.a), NAMES)


def test_a_byte_that_differs_is_found_though_size_and_time_are_the_same(day: Day) -> None:
    day.flip(day.b / "b.jpg")
    assert day.compare() == [(3, [], ["b.jpg"])] * 2  # nobody knows which of the two is right
    assert day.compare(origin=day.origin) == [(4, [], []), (3, [], ["b.jpg"])]
    day.flip(day.origin / "b.jpg")
    (day.origin / "b.jpg").unlink()
    assert day.compare(origin=day.origin) == [(3, [], ["b.jpg"])] * 2


def test_two_copies_are_believed_against_an_origin_that_was_damaged_since(day: Day) -> None:
    day.flip(day.origin / "b.jpg")
    assert day.compare(origin=day.origin) == [(4, [], [])] * 2


def test_a_cut_or_missing_file_is_told(day: Day) -> None:
    (day.b / "100" / "a.nef").unlink()
    (day.b / "101" / "a.jpg").write_bytes(b"\2" * 999_999)
    assert day.compare() == [(4, [], []), (2, ["100/a.nef"], ["101/a.jpg"])]


def test_a_link_is_no_second_copy(day: Day) -> None:
    (day.b / "b.jpg").unlink()
    os.link(day.a / "b.jpg", day.b / "b.jpg")
    assert day.compare() == [(4, [], []), (3, ["b.jpg"], [])]
    linked = day.folder / "C"
    linked.symlink_to(day.a)
    assert day.compare(day.a, linked) == [(4, [], []), (0, list(NAMES), [])]
    assert day.compare(day.a, day.a)[1][0] == 0


def test_a_folder_that_is_one_of_the_copies_is_read_once(day: Day) -> None:
    comparison = Comparison(day.wanted, (day.origin, day.a), day.folder / "part", day.origin)
    assert comparison.size == 8_000_000
    read: list[int] = []
    assert [len(copy.whole) for copy in comparison.run(read.append)] == [4, 4]
    assert sum(read) == 8_000_000


def test_what_was_read_before_a_stop_is_not_read_again_and_after_the_end_everything_is(day, monkeypatch):
    reads: list[str] = []
    real = module._sha256_of

    def counted(path: Path, *more: object) -> str:
        reads.append(str(path))
        if len(reads) == 5:
            raise KeyboardInterrupt
        return real(path, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "_sha256_of", counted)
    with pytest.raises(KeyboardInterrupt):
        day.compare()
    before = len(reads)
    with (day.folder / "part").open("a") as part:
        part.write('["cut off as it was wr')
    assert day.compare() == [(4, [], [])] * 2
    again = len(reads) - before
    assert again <= 8 - 3  # not the one that broke off, nor one that was being read beside it
    assert day.compare() == [(4, [], [])] * 2
    assert len(reads) == before + again + 8
