"""``runbook light``."""

import json
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.day.actions import Session
from runbook.journal.journal import Journal, journal_path
from tests.day.days import DEMO, SetClock, answer_checks, demo
from tests.played import copied


def test_a_key_off_a_flat_is_named_and_the_rest_counts_from_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["light", str(DEMO), "--setup", "lamplighter-fog"]) == 0
    text = capsys.readouterr().out
    flats = [line.split() for line in text.splitlines() if line.startswith("   flat-")]
    assert [flat[-2:] for flat in flats] == [["0.0", "67°"], ["+0.6", "74°"], ["+8.9", "77°"]]
    assert "key A off flat-1, f/2.8 +0.4" in text
    assert "pattern" not in text


def test_powers_to_set_and_what_is_asked_of_the_set_are_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["light", str(DEMO), "--setup", "keeper-window"]) == 0
    text = capsys.readouterr().out
    (row,) = [line.split() for line in text.splitlines() if line.startswith("   B ")]
    assert row[2] == row[-3] == str(demo().setups["keeper-window"].light["B"].power)
    assert row[-1] == "calculated"
    assert "set this" in text
    assert "target of the background: f/4, met with all powers set" in text
    assert main(["light", str(DEMO), "--setup", "keeper-window", "--json"]) == 0
    (setup,) = json.loads(capsys.readouterr().out)["setups"]
    asked = {ask["of"]: ask for ask in setup["asks"]}
    assert asked.keys() == {"A", "background"}
    assert asked["background"]["wanted_f"] == 4.0
    assert abs(asked["background"]["left_over_stops"]) <= 1 / 6
    reads, against = setup["background_reads_f"], setup["background_against_f_stops"]
    assert reads == pytest.approx(4.0 * 2 ** (against / 2))
    assert [head["solved"] for head in setup["heads"]] == [False, True]


def test_commands_carry_the_light_from_the_day_s_readings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A metered a stop over: the screen, the command and check say the same of every setup."""
    folder, clock = copied(tmp_path / "day"), SetClock()

    def light() -> dict[str, dict[str, object]]:
        assert main(["light", str(folder), "--json"]) == 0
        setups = json.loads(capsys.readouterr().out)["setups"]
        return {each["id"]: {head["head"]: head for head in each["heads"]} for each in setups}

    def warned() -> set[tuple[str, str]]:
        main(["check", str(folder), "--json"])
        problems = json.loads(capsys.readouterr().out)["problems"]
        return {(p["setup"], p["item"]) for p in problems if p["code"] == "reading-over"}

    before = light()
    assert warned() == set()
    with Journal.open(journal_path(folder), clock=clock, who="first") as journal:
        session = Session(demo(), journal, "first", clock, folder)
        session.begin("keeper-window")
        session.reading("A", 5.2)
        session.begin("keeper-lamp")
        shown = session.view.head_light("A")
        answer_checks(session)
        lines = session.view.lines
    assert shown is not None and shown.dial is not None
    after = light()["keeper-lamp"]["A"]
    assert shown.reads_stops is not None and after["reads_f"] == 2 ** (shown.reads_stops / 2)
    assert after["dial"]["power"] == str(shown.dial.power)  # type: ignore[index]
    assert after != before["keeper-lamp"]["A"]
    assert ("keeper-lamp", "A") in warned()
    assert main(["light", str(folder), "--setup", "keeper-lamp"]) == 0
    assert "metered today" in capsys.readouterr().out
    # the steps say the same of that head's power as the screens do
    (shown_step,) = [line for line in lines if line.step.key == ("power", "head", "A")]
    assert main(["steps", str(folder), "--to", "keeper-lamp", "--json"]) == 0
    (change,) = json.loads(capsys.readouterr().out)["changeovers"]
    noted = {step["item"]: step["note"] for step in change["steps"] if step["note"]}
    assert noted == {"A": shown_step.note}
    assert main(["steps", str(folder), "--to", "keeper-lamp"]) == 0
    assert shown_step.note in capsys.readouterr().out


def test_a_journal_that_cannot_be_read_costs_the_readings_and_is_reported(tmp_path, capsys):
    folder = copied(tmp_path / "day")
    journal_path(folder).write_bytes(b"no journal at all")
    assert main(["light", str(folder), "--json"]) == 0
    text = capsys.readouterr()
    assert json.loads(text.out)["setups"]
    assert "readings of the day are not used" in text.err
