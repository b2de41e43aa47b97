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
    assert "is there already" in capsys.readouterr().err
    assert main(["log", str(day), "--as-shot", str(tmp_path / "no" / "x")]) == 2
    assert "no such file or directory" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_target_changed_is_shown_in_the_day_s_own_units(tmp_path: Path, capsys: Capture) -> None:
    day = copied(tmp_path / "posters")
    with Journal.open(journal_path(day), clock=SetClock(), who="photo") as journal:
        journal.append(Changed(FIRST, "head", "height_m", 2.0, 2.3, "A"))

    def shown_text() -> str:
        assert main(["log", str(day)]) == 0
        return capsys.readouterr().out

    assert "2.0 m to 2.3 m" in shown_text()
    text = (day / "day.toml").read_text().replace('units = "metric"', 'units = "imperial"')
    (day / "day.toml").write_text(text)
    assert "6 ft 7 in to 7 ft 7 in" in shown_text()
    (day / "day.toml").write_text("no plan any more")
    assert "2.0 m to 2.3 m" in shown_text()


def test_a_match_is_0_and_what_is_off_is_1(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--match", FIRST, "A=4+0.5", "all=4+0.4"]) == 0
    assert "the same" in capsys.readouterr().out
    assert main(["log", str(day), "--match", FIRST, "A=5.6"]) == 1
    assert capsys.readouterr().out == (
        "A: f/5.6 now, f/4 +0.5 as shot (read f/4 +0.2 before changes): "
        "0.5 over; dial 1/8 instead of 1/8+0.3, +0.1 left over\n"
    )


def test_the_whole_set_read_before_a_power_was_changed_is_not_the_same_now(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--match", FIRST, "all=4+0.1"]) == 1
    assert capsys.readouterr().out == (
        "all heads: f/4 +0.1 now, f/4 +0.4 as shot (read f/4 +0.1 before changes): 0.3 under\n"
    )


def test_a_match_as_json_has_the_same_facts(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--json", "--match", FIRST, "A=5.6"]) == 1
    found = json.loads(capsys.readouterr().out)
    (head,) = found["heads"]
    assert found["setup"] == FIRST
    assert (head["head"], head["power"], head["dial"]) == ("A", "1/8+0.3", "1/8")
    assert head["off_stops"] == pytest.approx(5 - 4.2 - 1 / 3)
    assert head["matches"] is False


@pytest.mark.parametrize(
    ("words", "shown_text"),
    [
        (["keeper-windw", "A=4"], "did you mean keeper-window?"),
        ([FIRST], "no reading is given"),
        ([FIRST, "C=4"], "C is not used in keeper-window"),
        ([FIRST, "A"], "write it like A=5.6"),
        ([FIRST, "=4"], "write it like A=5.6"),
        ([FIRST, "A=bright"], "write it like 5.6"),
    ],
)
def test_a_match_that_cannot_be_made_is_reported(words: list[str], shown_text: str, day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--match", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert shown_text in err


def test_a_head_that_gives_no_light_is_reported_and_not_matched(day: Path, capsys: Capture) -> None:
    assert main(["log", str(day), "--match", "seamstress-thread", "D=4"]) == 1
    assert "D: no light there to match" in capsys.readouterr().err


def test_a_day_nobody_began_can_be_copied_as_planned(tmp_path: Path) -> None:
    day = copied(tmp_path / "day")
    target = tmp_path / "again"
    assert main(["log", str(day), "--as-shot", str(target)]) == 0
    assert read_day(target).setups == read_day(day).setups
    assert not (target / "measured.txt").exists()


def test_a_folder_that_is_not_there_cannot_be_read(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "notes.txt").touch()
    cases = {
        "no": "is not there; name a day's folder",
        "notes.txt": "is no folder; name the folder that holds day.toml",
        "x" * 300: "cannot be read: file name too long; ",
    }
    for name, shown_text in cases.items():
        assert main(["log", str(tmp_path / name), "--json"]) == 2
        message = capsys.readouterr()
        assert message.err.startswith(f"{tmp_path / name}: {shown_text}") and not message.out
    assert main(["log", str(tmp_path)]) == 0
    assert "Nothing has been journalled yet" in capsys.readouterr().out


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
