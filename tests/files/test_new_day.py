"""A day to begin with, and one with the kit of another."""

import datetime as dt
import os
import re
from dataclasses import replace
from math import cos, log, pi, radians
from pathlib import Path

import pytest

from runbook.day.day_audit import problems_of
from runbook.files.errors import Unreadable
from runbook.files.load import read_day
from runbook.files.new_day import start_day
from tests.day.days import DEMO
from tests.days import SMALL, change, write_day

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
                 "reflector in a holder", "card", "flat", "V-flat", "flag", "cut-out", "voile"):  # fmt: skip
        assert word in names
    assert {stand.kind for stand in kit.stands} == {"stand", "roller", "boom"}
    assert len(kit.bags) >= 6
    assert {panel.wings for panel in kit.panels} == {1, 2}
    assert any(panel.open_share > 0 for panel in kit.panels)
    # none sends out more light than the head's reflector: a beam ``cos^m`` with a peak of 1 holds ``2π / (m + 1)``, and
    # a wider one of the same light has a lower peak

    def flux(spread_deg: float) -> float:
        exponent = log(0.1) / log(cos(radians(spread_deg / 2)))
        return 2 * pi / (exponent + 1)

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
    with pytest.raises(Unreadable, match="is not empty; name a new folder"):
        start_day(tmp_path, DATE)
    assert [path.name for path in tmp_path.iterdir()] == ["notes"]


@pytest.mark.parametrize("name", ["file", "link", "file/in/it"])
def test_a_folder_that_cannot_be_made_is_a_fault(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere" / "deep")
    with pytest.raises(Unreadable) as refused:
        start_day(tmp_path / name, DATE)
    (fault,) = refused.value.faults
    assert (fault.file, fault.what.split(":")[0]) == (str(tmp_path / name), "cannot be written")
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.parametrize("name", ["fsync", "replace"])
@pytest.mark.parametrize("fresh", [True, False])
def test_nothing_half_written_is_left_when_the_disk_fails(tmp_path, monkeypatch, name, fresh):
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


def test_a_start_that_ends_before_the_folder_has_its_name_leaves_none(tmp_path, monkeypatch):
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "rename", stopped)
    with pytest.raises(KeyboardInterrupt):
        start_day(tmp_path / "day", DATE)
    assert list(tmp_path.iterdir()) == []


# -- with the kit of another day -----------------------------------------------------------------


@pytest.mark.parametrize("other", [DEMO, SMALL])
def test_the_kit_of_another_day_is_taken_as_it_is_with_crew_place_and_rate(tmp_path: Path, other: Path) -> None:
    written = start_day(tmp_path / "day", DATE, other)
    assert {path.name for path in written} == {"kit.toml", "day.toml", "one.toml"}
    assert (tmp_path / "day" / "kit.toml").read_bytes() == (other / "kit.toml").read_bytes()
    plan, theirs = read_day(tmp_path / "day"), read_day(other)
    assert plan.kit == theirs.kit
    for key in ("units", "rate", "crew", "place"):
        assert getattr(plan.day, key) == getattr(theirs.day, key), key
    assert (plan.day.name, plan.day.date, plan.day.order) == ("day", DATE, ("one",))
    one, first = plan.setups["one"], theirs.order[0]
    assert first.background is not None
    assert (one.exposure, one.view) == (first.exposure, first.view)
    assert one.background == replace(first.background, over_stops=None)  # nothing lights it yet
    assert (one.lights, one.panels) == ((), ())
    assert {problem.level for problem in problems_of(plan)} == {"note"}


def test_what_the_other_day_leaves_out_stays_out(tmp_path: Path) -> None:
    other = write_day(tmp_path / "other")
    text = (other / "day.toml").read_text("utf-8")
    (other / "day.toml").write_text(re.sub(r"\[\[crew\]\]\n(?:\w.+\n)+", "", text), "utf-8")
    (other / "kit.toml").write_bytes(b"\xef\xbb\xbf" + (other / "kit.toml").read_bytes())
    start_day(tmp_path / "day", DATE, other)
    assert read_day(tmp_path / "day").day.crew == ()
    assert (tmp_path / "day" / "kit.toml").read_bytes() == (other / "kit.toml").read_bytes()


@pytest.mark.parametrize("other", ["nowhere", "empty", "file", "wrong"])
def test_a_day_that_cannot_be_read_is_named_and_nothing_is_written(tmp_path: Path, other: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("mine")
    change(write_day(tmp_path / "wrong"), "kit.toml", "[camera]", "[kamera]")
    with pytest.raises(Unreadable) as refused:
        start_day(tmp_path / "day", DATE, tmp_path / other)
    for fault in refused.value.faults:
        assert str(tmp_path / other) in str(fault)
        assert "\n" not in str(fault)
    assert not (tmp_path / "day").exists()
