"""``runbook frames``: what it counts, what it compares, and what it leaves behind."""

import datetime as dt
import json
import shutil
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.commands import frames as command
from runbook.day.actions import Session
from runbook.day.changeovers import Changeovers
from runbook.day.copies import PARTIAL, REPORT
from runbook.day.planned_times import planned_times
from runbook.journal.events import Frame
from runbook.journal.journal import Journal, journal_path
from tests.day.days import SetClock, short
from tests.demo_frames import shoot_day
from tests.pictures import write
from tests.played import FIRST, SECOND, copied, half_shot

Capture = pytest.CaptureFixture[str]
ZONE = dt.timezone(dt.timedelta(hours=1))


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return half_shot(tmp_path_factory.mktemp("frames") / "posters")


@pytest.fixture
def day(half: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo day half shot, and a card with frames of before, of the first setup and of the second."""
    monkeypatch.setattr(command, "sleep", lambda _: None)
    monkeypatch.setattr(command, "now", Ticking())
    folder = Path(shutil.copytree(half, tmp_path / "day"))
    for minute in (-30, 5, 20, 25, 36):
        taken = dt.datetime(2026, 12, 4, 8, tzinfo=ZONE) + dt.timedelta(minutes=minute)
        write(tmp_path / "card", f"100/{minute + 30:03}.JPG", taken, **({"t8827": 400} if minute == 25 else {}))
    write(tmp_path / "card", "100/050.NEF", dt.datetime(2026, 12, 4, 8, 20, tzinfo=ZONE))
    return folder


class Ticking:
    """A clock a second on at each look."""

    def __init__(self) -> None:
        self.now = dt.datetime(2026, 12, 4, 20, tzinfo=ZONE)

    def __call__(self) -> dt.datetime:
        self.now += dt.timedelta(seconds=1)
        return self.now


def facts(*words: str, capsys: Capture) -> tuple[int, dict[str, object]]:
    capsys.readouterr()
    status = main(["frames", *words, "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_pictures_of_a_folder_are_counted_once_by_when_they_were_taken(day: Path, capsys: Capture) -> None:
    card = str(day.parent / "card")
    status, found = facts(str(day), "--from", card, capsys=capsys)
    again = facts(str(day), "--from", card, capsys=capsys)
    assert (status, again) == (0, (0, found))
    setups = {setup["id"]: setup["frames"] for setup in found["setups"]}  # type: ignore[index, attr-defined]
    assert [frame["name"] for frame in setups[FIRST]] == ["100/035.JPG", "100/050.JPG", "100/055.JPG"]
    assert [frame["differs"] for frame in setups[FIRST]] == [[], [], ["ISO 400, set 100"]]
    assert [frame["name"] for frame in setups[SECOND]] == ["100/066.JPG"]
    assert (found["unplaced"], found["camera_offset_s"], found["copies"]) == (["100/000.JPG"], 0.0, None)
    assert main(["frames", str(day)]) == 0
    assert "keeper-window: ISO 400, set 100: 1 picture" in capsys.readouterr().out


def test_a_cameras_clock_can_be_set(day: Path, capsys: Capture) -> None:
    main(["frames", str(day), "--from", str(day.parent / "card")])
    status, found = facts(str(day), "--offset", "-1800", capsys=capsys)
    assert (status, found["camera_offset_s"], found["unplaced"]) == (0, -1800.0, [])
    for wrong in ("soon", "Another=3"):
        assert main(["frames", str(day), "--offset", wrong]) == 2
    assert "--offset" in capsys.readouterr().err


def test_a_file_that_is_no_picture_is_named_and_the_others_count(day: Path, capsys: Capture) -> None:
    for n in range(90):  # more than are read at once, before the others by name
        (day.parent / "card" / f"0cut{n}.JPG").write_bytes(b"\xff\xd8\xff")
    assert main(["frames", str(day), "--from", str(day.parent / "card")]) == 1
    assert capsys.readouterr().err.count("is not counted") == 90
    frames = [entry for entry in Journal.read(journal_path(day)).entries if isinstance(entry.data, Frame)]
    assert len(frames) == 5


def test_copies_are_held_against_each_other(day: Path, capsys: Capture) -> None:
    card, a, b = (day.parent / name for name in ("card", "a", "b"))
    main(["frames", str(day), "--from", str(card)])
    for copy in (a, b):
        shutil.copytree(card, copy)
    status, found = facts(str(day), "--copies", str(a), str(b), capsys=capsys)
    assert (status, [copy["whole"] for copy in found["copies"]]) == (0, [6, 6])  # type: ignore[attr-defined]
    assert "6 files" in (day / REPORT).read_text() or len(json.loads((day / REPORT).read_text())["twice"]) == 6
    assert not (day / PARTIAL).exists()
    (b / "100" / "050.NEF").unlink()
    status, found = facts(str(day), "--copies", str(a), str(b), capsys=capsys)
    assert (status, found["copies"][1]["missing"]) == (1, ["100/050.NEF"])  # type: ignore[index]
    assert main(["frames", str(day), "--copies", str(a)]) == 1
    out = capsys.readouterr().out
    assert "6 of 6 files are in fewer than two copies" in out
    assert "read from memory" in out


def test_two_names_of_one_folder_are_refused_and_nothing_to_compare_is_not_fine(day: Path, capsys: Capture) -> None:
    card = str(day.parent / "card")
    assert main(["frames", str(day), "--copies", card, f"{card}/../card"]) == 2
    assert main(["frames", str(day), "--copies", card, str(day.parent / "nowhere")]) == 2
    assert main(["frames", str(day), "--from", str(day.parent / "nowhere")]) == 2
    assert main(["frames", str(day), "--copies", card]) == 1
    assert "nothing was compared" in capsys.readouterr().out


def test_the_frames_made_for_the_demo_day_are_in_its_setups_as_set(tmp_path, monkeypatch, capsys):
    day, card, clock = copied(tmp_path / "day"), tmp_path / "card", SetClock()
    plan = short(FIRST, SECOND)
    assert len(list(shoot_day(plan, card, wide_px=32))) == 16
    slots = planned_times(Changeovers(plan), ZONE).run.slots
    with Journal.open(journal_path(day), clock=clock, who="photo") as journal:
        session = Session(plan, journal, "photo", clock, day)
        for slot in slots:
            clock.now = dt.datetime(2026, 12, 4, tzinfo=ZONE) + dt.timedelta(seconds=slot.start_s)
            session.begin(slot.id)
    monkeypatch.setattr(command, "sleep", lambda _: None)
    monkeypatch.setattr(command, "now", Ticking())
    status, found = facts(str(day), "--from", str(card), capsys=capsys)
    frames = {setup["id"]: setup["frames"] for setup in found["setups"]}  # type: ignore[index, attr-defined]
    assert (status, [len(frames[setup_id]) for setup_id in (FIRST, SECOND)], found["unplaced"]) == (0, [8, 8], [])
    assert [frame["differs"] for frame in frames[FIRST] + frames[SECOND]] == [[]] * 16
