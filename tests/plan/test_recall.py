"""A day as it was last read: the same to the letter, or read anew."""

from __future__ import annotations

import os
import pickle
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from runbook.plan import recall
from runbook.plan.day import Plan
from runbook.plan.faults import Unreadable
from runbook.plan.files import read_day, read_files
from tests.days import change, write_day
from tests.terminal import DEMO, HERE, clean_env

Cache = Callable[[], list[Path]]


@pytest.fixture(autouse=True)
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Cache:
    """The files a cache of its own holds, named."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return lambda: sorted((tmp_path / "cache").rglob("*.day*"))


def anew(day: Path) -> Plan:
    """The day as its files say, read without what may be kept of it."""
    return read_files(day, {path.name: path.read_bytes() for path in day.glob("*.toml")})


def recalled(day: Path) -> Plan | None:
    return recall.recalled(day, {path.name: path.read_bytes() for path in day.glob("*.toml")})


@pytest.mark.parametrize("folder", [DEMO, None], ids=["the demo day", "a small day"])
def test_a_day_nobody_has_touched_is_the_same_as_if_read_anew(
    kept: Cache, tmp_path: Path, folder: Path | None
) -> None:
    day = folder or write_day(tmp_path / "small")
    assert recalled(day) is None
    first = read_day(day)
    again = recalled(day)
    assert again == first == anew(day)
    assert repr(again) == repr(first)  # kinds and all: a tuple equals any other of its values
    assert len(kept()) == 1


def test_a_day_nobody_has_touched_needs_no_parser_and_no_validator(day: Path) -> None:
    command = (
        "import sys; from runbook.cli import main; main(['check', sys.argv[1]]); "
        "print(sorted({'tomllib', 'pydantic_core'} & set(sys.modules)))"
    )

    def ran() -> list[str]:
        words = [sys.executable, "-c", command, str(day)]
        env = clean_env()
        return subprocess.check_output(words, env=env, cwd=HERE, text=True).splitlines()

    *said, imported = ran()
    *again, imported_again = ran()
    assert said == again
    assert (imported, imported_again) == ("['pydantic_core', 'tomllib']", "[]")


def test_what_was_changed_is_read_even_where_size_and_time_are_the_same(day: Path) -> None:
    file = day / "window.toml"
    before, about = read_day(day), file.stat()
    frames = before.setups["window"].frames
    text = file.read_text()
    file.write_text(text.replace(f"frames = {frames}", f"frames = {frames + 1}"))
    os.utime(file, ns=(about.st_atime_ns, about.st_mtime_ns))
    assert file.stat().st_size == about.st_size
    assert read_day(day).setups["window"].frames == frames + 1


def test_a_file_come_or_gone_is_seen(day: Path) -> None:
    before = read_day(day)
    (day / "another.toml").write_text('like = "window"\n')
    assert set(read_day(day).setups) == {*before.setups, "another"}
    (day / "another.toml").unlink()
    assert read_day(day) == before


def test_a_day_that_is_wrong_is_told_every_time_and_never_kept(kept: Cache, day: Path) -> None:
    change(day, "kit.toml", "mass_kg = 1.3", "mass_kg = -1.3")
    for _ in range(2):
        with pytest.raises(Unreadable, match="mass_kg"):
            read_day(day)
    assert kept() == []


def test_what_other_code_has_read_is_read_anew(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_day(day)
    assert recalled(day) is not None
    monkeypatch.setattr(recall, "__version__", "another")
    assert recalled(day) is None


def test_a_kept_file_cut_short_or_overwritten_costs_only_time(kept: Cache, day: Path) -> None:
    plan = read_day(day)
    (file,) = kept()
    whole = file.read_bytes()
    for end in range(0, len(whole), 97):
        file.write_bytes(whole[:end])
        assert recalled(day) is None
    chance = random.Random(3)
    for _ in range(200):
        hurt = bytearray(whole)
        hurt[chance.randrange(len(hurt))] ^= 1 << chance.randrange(8)
        file.write_bytes(hurt)
        assert recalled(day) is None
    for junk in (b"junk", bytes(4096), whole[::-1], pickle.dumps(plan)):
        file.write_bytes(junk)
        assert read_day(day) == plan
        assert file.read_bytes() == whole


class _Runs:
    """What a file from somebody else might do when it is read."""

    def __init__(self, call: Callable[..., object], *words: object) -> None:
        self.done = call, words

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        return self.done


@pytest.mark.parametrize(
    "call", [os.mkdir, Path.mkdir, recall.Path], ids=["call", "method", "kind"]
)
def test_a_kept_file_can_only_be_a_plan(
    kept: Cache, day: Path, tmp_path: Path, call: Callable[..., object]
) -> None:
    read_day(day)
    (file,) = kept()
    with file.open("rb") as was:
        pickle.load(was)  # what it was read from, and by what
        head = file.read_bytes()[: was.tell()]
    made = tmp_path / "made"
    for data in (pickle.dumps(_Runs(call, made)), head + pickle.dumps(_Runs(call, made))):
        file.write_bytes(data + recall._sum(data))
        assert recalled(day) is None
    assert not made.exists()


def test_what_is_no_file_is_not_waited_for(kept: Cache, day: Path) -> None:
    plan = read_day(day)
    (file,) = kept()
    file.unlink()
    os.mkfifo(file)
    assert read_day(day) == plan


def test_nothing_half_written_stays(kept: Cache, day: Path) -> None:
    read_day(day)
    (file,) = kept()
    file.unlink()
    file.mkdir()
    (file / "in the way").touch()
    assert read_day(day) == anew(day)
    assert kept() == [file]


@pytest.mark.parametrize("cache", ["/dev/null", "/proc/none", "", "beside"])
def test_without_a_place_to_keep_it_a_day_is_read_all_the_same(
    day: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cache: str
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", cache)
    monkeypatch.setenv("HOME", str(tmp_path / "file"))
    (tmp_path / "file").write_text("no folder")
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    assert read_day(day) == read_day(day) == anew(day)
    assert sorted(tmp_path.iterdir()) == before


def test_only_the_days_read_last_are_kept(kept: Cache, tmp_path: Path) -> None:
    days = [write_day(tmp_path / f"day{n}") for n in range(recall._DAYS + 3)]
    for n, day in enumerate(days):
        read_day(day)
        newest = max(kept(), key=lambda path: path.stat().st_mtime_ns)
        os.utime(newest, (n, n))
    assert len(kept()) == recall._DAYS
    assert recalled(days[-1]) is not None
    assert recalled(days[0]) is None
