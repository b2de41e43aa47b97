"""The folder of frames, look by look."""

import datetime as dt
import os
from pathlib import Path

import pytest

from runbook.files.watch import Arrival, FolderWatch
from tests.pictures import AT, jpeg, write

START = AT.replace(tzinfo=dt.UTC)


class Looks:
    """A watch, and a clock that moves half a second with every look."""

    def __init__(self, folder: Path) -> None:
        self.watch = FolderWatch(folder)
        self.now = START

    def __call__(self, times: int = 1, step_s: float = 0.5) -> list[str]:
        return [arrival.name for arrival in self.arrivals(times, step_s)]

    def arrivals(self, times: int = 1, step_s: float = 0.5) -> list[Arrival]:
        found: list[Arrival] = []
        for _ in range(times):
            found += self.watch.look(self.now)
            self.now += dt.timedelta(seconds=step_s)
        return found


@pytest.fixture
def looks(tmp_path: Path) -> Looks:
    return Looks(tmp_path)


def test_what_is_there_is_given_once_and_when_it_came_is_not_known(looks: Looks, tmp_path: Path) -> None:
    write(tmp_path, "b.jpg")
    write(tmp_path, "100/a.jpg")
    (tmp_path / "notes.txt").write_text("no picture")
    found = looks.arrivals(2)
    assert [(arrival.name, arrival.seen) for arrival in found] == [("100/a.jpg", None), ("b.jpg", None)]
    assert looks(60) == []


def test_a_file_counts_once_it_stands_still_and_is_whole(looks: Looks, tmp_path: Path) -> None:
    looks()
    whole, seen = jpeg(size=(640, 480)), looks.now
    path = tmp_path / "a.jpg"
    for end in (200, 900, len(whole) - 2):
        path.write_bytes(whole[:end])
        assert looks() == []
    assert looks(3) == []  # still, and not whole
    path.write_bytes(whole)
    (arrival,) = looks.arrivals(25)
    assert (arrival.name, arrival.seen) == ("a.jpg", seen)
    assert arrival.picture.f == 4


def test_a_whole_file_is_given_within_a_second(looks: Looks, tmp_path: Path) -> None:
    looks(step_s=0.4)
    write(tmp_path, "a.jpg")
    assert looks(2, step_s=0.4) == ["a.jpg"]


def test_a_burst_is_given_whole(looks: Looks, tmp_path: Path) -> None:
    looks()
    found: list[str] = []
    for second in range(3):
        for n in range(20):
            write(tmp_path, f"{second}-{n}.jpg")
        found += looks()
    assert len(found + looks(2)) == len({*found}) + 20 == 60


def test_many_files_come_in_portions_at_once(looks: Looks, tmp_path: Path) -> None:
    data = jpeg()
    for n in range(250):
        (tmp_path / f"{n:03}.jpg").write_bytes(data)
    looks()
    portions = []
    for _ in range(8):
        portions.append(len(looks(step_s=4)))
        assert looks.watch.left_out(looks.now) == {}  # those that are not read yet are not left out
    assert portions == [40] * 6 + [10, 0]
    assert not looks.watch.busy


def test_a_folder_that_goes_away_and_comes_back_goes_on(tmp_path: Path) -> None:
    folder, away = tmp_path / "card", tmp_path / "away"
    watch = Looks(folder)
    assert watch() == []
    assert "no such file" in watch.watch.trouble
    write(folder, "a.jpg")
    assert (watch(2), watch.watch.trouble) == (["a.jpg"], "")
    folder.rename(away)
    assert watch(3) == []
    assert watch.watch.trouble
    write(away, "b.jpg")
    away.rename(folder)
    (arrival,) = watch.arrivals(30)
    assert (arrival.name, arrival.seen) == ("b.jpg", None)  # it may have come long ago


def test_a_sub_folder_that_cannot_be_read_costs_only_its_own(looks: Looks, tmp_path: Path) -> None:
    write(tmp_path, "a/a.jpg")
    write(tmp_path, "b/b.jpg")
    (tmp_path / "b" / "round").symlink_to(tmp_path)
    real = os.scandir

    def scandir(path: str) -> object:
        if str(path).endswith("/a"):
            raise PermissionError
        return real(path)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "scandir", scandir)
        assert looks(2) == ["b/b.jpg"]
    assert looks(2) == ["a/a.jpg"]


def test_a_file_written_over_is_given_again(looks: Looks, tmp_path: Path) -> None:
    write(tmp_path, "a.jpg")
    looks(2)
    write(tmp_path, "a.jpg", AT + dt.timedelta(hours=1), size=(32, 32))
    (arrival,) = looks.arrivals(30)
    assert (arrival.picture.taken, arrival.seen) == (AT + dt.timedelta(hours=1), None)


def test_what_is_left_out_is_said_after_a_while_and_no_longer_than_it_is_there(looks: Looks, tmp_path: Path) -> None:
    (tmp_path / "no\x1b[2J.jpg").write_bytes(jpeg())
    (tmp_path / "cut.jpg").write_bytes(jpeg()[:-2])
    (tmp_path / "text.jpg").write_text("no picture")
    os.mkfifo(tmp_path / "pipe.jpg")  # which would be waited on for ever
    assert looks(3) == []
    assert looks.watch.left_out(looks.now) == {}
    looks(10)
    assert looks.watch.left_out(looks.now) == {
        "cut.jpg": "not a whole picture",
        "no?[2J.jpg": "its name cannot be written in the journal",
        "text.jpg": "not a picture",
    }
    for path in tmp_path.iterdir():
        path.unlink()
    looks(30)
    assert looks.watch.left_out(looks.now) == {}
