"""Which folder a command means when none is named; and a day to begin with."""

from __future__ import annotations

import datetime as dt
import errno
import os
import re
from math import cos, log, pi, radians
from pathlib import Path

import pytest

from runbook.day.day_audit import problems_of
from runbook.files import atomic_write, paths
from runbook.files.atomic_write import temp_file
from runbook.files.errors import Unreadable
from runbook.files.load import read_day
from runbook.files.paths import demo_day, find_day, holds_day, records_of, start_day


def test_the_folder_named_is_meant(day: Path) -> None:
    assert find_day(str(day)) == day


def test_the_current_folder_if_it_holds_a_day(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(day)
    assert find_day(None) == Path()


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to be in, and no state of earlier days: where the demo's copy will be."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    return tmp_path / "state" / "runbook" / "lantern-row"


def test_without_a_day_the_demo_day_is_shown_with_a_message(nowhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert find_day(None) == demo_day()
    assert capsys.readouterr() == ("", "no day here: showing the demo day\n")
    assert not nowhere.exists()


def test_the_demo_day_is_written_in_a_copy_that_is_the_demo_day_from_then_on(
    nowhere: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    demo = demo_day()
    assert demo is not None
    assert find_day(None, to_write=True) == nowhere
    assert read_day(nowhere) == read_day(demo)
    assert records_of(nowhere) == records_of(demo) == nowhere
    shown = "no day here: showing the demo day"
    what = f", copied to {nowhere}; what you write stays there"
    assert capsys.readouterr() == ("", f"{shown}{what}\n")
    (nowhere / "day.toml").write_text("mine", encoding="utf-8")
    for to_write in (False, True):
        assert find_day(None, to_write=to_write) == nowhere
        assert capsys.readouterr().err == f"{shown}, your copy of it in {nowhere}\n"
    assert (nowhere / "day.toml").read_text("utf-8") == "mine"


def test_a_copy_half_made_is_none(nowhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copied: list[str] = []

    def full(folder: Path, data: bytes, mode: int) -> Path:
        if len(copied) == 3:
            raise OSError(errno.ENOSPC, "No space left on device")
        copied.append(temp_file(folder, data, mode).name)
        return folder / copied[-1]

    monkeypatch.setattr(atomic_write, "temp_file", full)
    with pytest.raises(Unreadable, match=r"cannot be copied there: No space left.*XDG_STATE_HOME"):
        find_day(None, to_write=True)
    assert find_day(None) == demo_day()
    monkeypatch.undo()
    monkeypatch.setenv("XDG_STATE_HOME", str(nowhere.parents[1]))
    monkeypatch.chdir(nowhere)
    assert holds_day(find_day(None, to_write=True))


def test_the_demo_day_named_is_the_persons_choice(nowhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    demo = demo_day()
    assert find_day(str(demo), to_write=True) == demo
    assert capsys.readouterr().err == ""
    assert not nowhere.exists()


def test_the_demo_day_is_inside_the_package_or_beside_it(tmp_path: Path) -> None:
    package = tmp_path / "runbook"
    beside, inside = tmp_path / "setups" / "b", package / "demo" / "a"
    assert demo_day(package) is None
    for folder in (beside, inside):
        folder.mkdir(parents=True)
        (folder / "day.toml").write_text("")
        assert demo_day(package) == folder


def test_without_any_day_the_message_explains_how_to_start_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(paths, "demo_day", lambda: None)
    with pytest.raises(Unreadable, match=r"holds no day\.toml; .*runbook new DAY"):
        find_day(None)


# -- a new day --------------------------------------------------------------------------------

DATE = dt.date(2026, 12, 4)


def test_it_writes_a_day_with_nothing_wrong(tmp_path: Path) -> None:
    folder = tmp_path / "new" / 'Café "día"'
    written = start_day(folder, DATE)
    assert sorted(path.name for path in written) == sorted(path.name for path in folder.iterdir())
    plan = read_day(folder)
    assert (plan.day.date, plan.day.name) == (DATE, "Café día")
    assert [setup.id for setup in plan.order] == ["one", "two"]
    assert problems_of(plan) == ()


def test_the_starter_kit_has_the_usual_things_each_marked_as_typical(tmp_path: Path) -> None:
    start_day(tmp_path / "day", DATE)
    kit = read_day(tmp_path / "day").kit
    headers = re.findall(r"^\[.*$", (tmp_path / "day" / "kit.toml").read_text("utf-8"), re.MULTILINE)
    assert len(headers) > 50
    assert [line for line in headers if "# typical; measure yours" not in line] == []
    names = " ".join(thing.name for thing in (*kit.modifiers, *kit.accessories, *kit.panels, *kit.cloths))
    for word in ("octabox", "softbox", "strip", "umbrella", "beauty dish", "standard reflector", "grid", "honeycomb",
                 "reflector in a holder", "card", "flat", "flag", "voile"):  # fmt: skip
        assert word in names
    assert {stand.kind for stand in kit.stands} == {"stand", "roller", "boom"}
    assert len(kit.bags) >= 6


def test_no_modifier_of_the_starter_kit_sends_out_more_light_than_its_reflector(tmp_path: Path) -> None:
    """A beam ``cos^m`` with a peak of 1 holds ``2π / (m + 1)``; a wider one of the same light has a lower peak."""

    def flux(spread_deg: float) -> float:
        exponent = log(0.1) / log(cos(radians(spread_deg / 2)))
        return 2 * pi / (exponent + 1)

    start_day(tmp_path / "day", DATE)
    kit = read_day(tmp_path / "day").kit
    boxes = [modifier for modifier in kit.modifiers if modifier.shape != "bare"]
    assert len(boxes) > 8
    for box in boxes:
        assert 2**-box.loss_stops * flux(box.field_deg) < flux(70), box.id


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
