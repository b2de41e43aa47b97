"""``runbook log``: as shot into a folder of its own, and what to dial to match it."""

import json
import os
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.day.load_plan import read_day
from runbook.journal.events import Changed
from runbook.journal.journal import Journal, journal_path
from tests.day.days import SetClock
from tests.played import FIRST, copied, half_shot

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return half_shot(tmp_path_factory.mktemp("log") / "posters")


def test_as_shot_is_a_day_that_can_be_checked_and_opened(day: Path, tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "again"
    assert main(["log", str(day), "--as-shot", str(target)]) == 0
    message = capsys.readouterr().out.splitlines()
    assert sorted(line.removeprefix("wrote ").rsplit("/", 1)[-1] for line in message) == sorted(
        path.name for path in target.iterdir()
    )
    plan = read_day(target)
    assert str(plan.setups[FIRST].light["A"].power) == "1/8+0.3"
    assert [path.name for path in tmp_path.iterdir()] == ["again"]
    assert main(["check", str(target)]) in (0, 1)


def test_as_shot_writes_over_nothing(day: Path, tmp_path: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--as-shot", str(tmp_path)]) == 2
    assert "already exists" in capsys.readouterr().err
    assert main(["log", str(day), "--as-shot", str(tmp_path / "no" / "x")]) == 2
    assert "no such file or directory" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


MATCHES = {
    ("A=4+0.5", "all=4+0.4"): (0, "before changes): the same\n", ""),
    ("A=5.6",): (
        1,
        "A: f/5.6 now, f/4 +0.5 as shot (read f/4 +0.2 before changes): "
        "0.5 over; dial 1/8 instead of 1/8+0.3, +0.1 left over\n",
        "",
    ),
    # the whole set was read before a power was changed: it is not the same now
    ("all=4+0.1",): (
        1, "all heads: f/4 +0.1 now, f/4 +0.4 as shot (read f/4 +0.1 before changes): 0.3 under\n", ""),
    (): (2, "", "no reading is given"),
    ("C=4",): (2, "", "C is not used in keeper-window"),
    ("A",): (2, "", "write it like A=5.6"),
    ("=4",): (2, "", "write it like A=5.6"),
    ("A=bright",): (2, "", "write it like 5.6"),
}  # fmt: skip


@pytest.mark.parametrize("readings", MATCHES)
def test_a_match_is_0_what_is_off_is_1_and_what_cannot_be_matched_2(readings, day, capsys):
    status, out, err = MATCHES[readings]
    assert main(["log", str(day), "--match", FIRST, *readings]) == status
    printed = capsys.readouterr()
    assert out in printed.out and err in printed.err
    assert bool(printed.out) == bool(out)


def test_a_match_of_an_unknown_setup_or_a_head_without_light_is_reported(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--match", "keeper-windw", "A=4"]) == 2
    assert "did you mean keeper-window?" in capsys.readouterr().err
    assert main(["log", str(day), "--match", "seamstress-thread", "D=4"]) == 1
    assert "D: no light to compare" in capsys.readouterr().err


def test_a_match_as_json_has_the_same_facts(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--json", "--match", FIRST, "A=5.6"]) == 1
    result = json.loads(capsys.readouterr().out)
    (head,) = result["heads"]
    assert (result["setup"], head["head"], head["power"], head["dial"]) == (FIRST, "A", "1/8+0.3", "1/8")
    assert head["off_stops"] == pytest.approx(5 - 4.2 - 1 / 3)
    assert head["matches"] is False


def test_a_target_changed_is_shown_in_the_day_s_own_units(tmp_path: Path, capsys: Capture) -> None:
    day = copied(tmp_path / "posters")
    with Journal.open(journal_path(day), clock=SetClock(), who="photo") as journal:
        journal.append(Changed(FIRST, "head", "height_m", 2.0, 2.3, "A"))
    text = (day / "day.toml").read_text()
    imperial = text.replace('units = "metric"', 'units = "imperial"')
    for plan, change in (
        (text, "2.0 m to 2.3 m"), (imperial, "6 ft 7 in to 7 ft 7 in"), ("no plan any more", "2.0 m to 2.3 m")
    ):  # fmt: skip
        (day / "day.toml").write_text(plan)
        assert main(["log", str(day)]) == 0
        assert change in capsys.readouterr().out


def test_a_day_nobody_began_can_be_copied_as_planned(tmp_path: Path) -> None:
    day = copied(tmp_path / "day")
    target = tmp_path / "again"
    assert main(["log", str(day), "--as-shot", str(target)]) == 0
    assert read_day(target).setups == read_day(day).setups
    assert not (target / "measured.txt").exists()


def test_a_folder_that_is_not_there_cannot_be_read(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "notes.txt").touch()
    cases = {
        "no": "does not exist; name a day's folder",
        "notes.txt": "is not a folder; name the folder that holds day.toml",
        "x" * 300: "cannot be read: file name too long; ",
    }
    for name, shown_text in cases.items():
        assert main(["log", str(tmp_path / name), "--json"]) == 2
        message = capsys.readouterr()
        assert message.err.startswith(f"{tmp_path / name}: {shown_text}") and not message.out
    assert main(["log", str(tmp_path)]) == 0
    assert "The journal is empty" in capsys.readouterr().out


def test_the_journal_is_shown_whatever_became_of_the_plan(day: Path, tmp_path: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--json"]) == 0
    whole = capsys.readouterr().out
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "journal.runlog").write_bytes((day / "journal.runlog").read_bytes())
    (broken / "day.toml").write_text("name = [", encoding="utf-8")
    assert main(["check", str(broken)]) == 2
    capsys.readouterr()
    assert main(["log", str(broken), "--json"]) == 0
    assert capsys.readouterr() == (whole, "")
    assert json.loads(whole)["entries"]


def test_as_shot_is_on_disk_before_it_has_its_name(day: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target, synced, named = tmp_path / "again", set[int](), list[bool]()

    def sync(handle: int) -> None:
        synced.add(os.fstat(handle).st_ino)
        named.append(target.exists())

    monkeypatch.setattr("os.fsync", sync)
    assert main(["log", str(day), "--as-shot", str(target)]) == 0
    files = {path.stat().st_ino for path in target.iterdir()}
    assert synced >= {*files, target.stat().st_ino, tmp_path.stat().st_ino}
    # all but the name itself was on disk before
    assert named == [*[False] * (len(files) + 1), True]
