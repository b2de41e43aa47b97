"""``runbook hours`` and ``runbook order``, as processes and as a person reads them."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.clock.timetable import day_clock
from runbook.commands.load_session import session_now
from runbook.commands.order import _lines
from runbook.day.hours import Hours, hours_of
from runbook.day.order_proposal import OrderRequest, Proposal
from runbook.files.load import read_day
from runbook.files.paths import demo_day
from runbook.journal.events import SetupBegun
from runbook.journal.journal import Journal, journal_path
from tests.day.days import DEMO, SetClock, demo
from tests.days import change
from tests.test_cli import run

Capture = pytest.CaptureFixture[str]
TIME = re.compile(r"[0-2]\d:[0-5]\d:[0-5]\d")


def test_the_hours_for_a_program(day: Path) -> None:
    done = run("hours", str(day), "--json")
    assert (done.returncode, done.stderr) == (0, b"")
    told = json.loads(done.stdout)
    assert [each["id"] for each in told["setups"]] == ["window", "lamp"]
    for each in told["setups"]:
        assert TIME.fullmatch(each["start"]) and TIME.fullmatch(each["end"])
        assert each["shoot_s"] == 25 * 60
    steps = json.loads(run("steps", str(day), "--json").stdout)["changeovers"]
    assert [each["changeover_s"] for each in told["setups"]] == pytest.approx(
        [each["total_s"] for each in steps[:2]], abs=0.1
    )
    finish = told["finish"]
    assert finish["p10"] < finish["p50"] < finish["p90"]
    assert 0 <= told["overtime"]["chance"] <= 1
    assert told["overtime"]["expected_cost"] >= 0
    assert run("hours", str(day), "--json").stdout == done.stdout  # the same day, the same dice


def test_the_hours_for_a_person(day: Path, capsys: Capture) -> None:
    assert main(["hours", str(day)]) == 0
    said = capsys.readouterr().out
    assert "ends about " in said and "wrap 18:00" in said
    assert "based on estimates" in said


def test_a_day_begun_is_told_from_where_it_stands(day: Path) -> None:
    at = dt.datetime(2026, 12, 4, 11, 0, tzinfo=dt.UTC)
    with Journal.open(journal_path(day), clock=lambda: at, who="photo") as journal:
        journal.append(SetupBegun("window"))

    def hours_at(now: dt.datetime) -> Hours:
        session = session_now(read_day(day), day, now)
        return hours_of(session.moment, session.changes, draws=20)

    later = hours_at(at + dt.timedelta(hours=1))
    assert later.begun and later.now_s == 12 * 3600
    assert later.rows[0].state == "now" and later.rows[0].times.start_s == 11 * 3600
    assert hours_at(at + dt.timedelta(days=21)).now_s == 11 * 3600  # as it stood


def test_the_order_for_a_program_and_for_a_person(day: Path, capsys: Capture) -> None:
    assert main(["order", str(day), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sorted(told["order"]) == ["lamp", "window"]
    assert told["changing_s"] <= told["given_order_changing_s"]
    assert told["proven"] is True
    steps = json.loads(run("steps", str(day), "--json").stdout)["changeovers"]
    assert told["given_order_changing_s"] == sum(each["total_s"] for each in steps)
    before = (day / "day.toml").read_bytes()
    assert main(["order", str(day)]) == 0
    assert "the least possible" in capsys.readouterr().out
    assert (day / "day.toml").read_bytes() == before  # it only proposes


def test_the_order_is_written_when_asked_and_all_else_is_kept(day: Path, capsys: Capture) -> None:
    file = day / "day.toml"
    change(day, "day.toml", 'order = ["window", "lamp"]', 'order = ["window", "lamp"]  # mine')
    change(day, "window.toml", "shoot_min = 25", "shoot_min = 25\nbefore = []")
    change(day, "lamp.toml", 'drop = ["flat"]', 'drop = ["flat"]\nbefore = ["window"]')
    text = file.read_text("utf-8")
    assert main(["order", str(day), "--write"]) == 0
    assert f"written into {file}" in capsys.readouterr().out
    new = file.read_text("utf-8")
    assert tomllib.loads(new)["order"] == ["lamp", "window"]
    assert new == text.replace('["window", "lamp"]', '["lamp", "window"]')
    assert main(["order", str(day), "--write"]) == 0
    assert f"{file} unchanged" in capsys.readouterr().out
    assert file.read_text("utf-8") == new


def test_rules_that_go_round_in_a_circle_are_exit_1(day: Path, capsys: Capture) -> None:
    change(day, "window.toml", "shoot_min = 25", 'shoot_min = 25\nbefore = ["lamp"]')
    change(day, "lamp.toml", 'drop = ["flat"]', 'drop = ["flat"]\nbefore = ["window"]')
    assert main(["order", str(day)]) == 1
    assert "no order keeps every rule" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_exit_2_and_kept(
    day: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    before = (day / "day.toml").read_bytes()
    monkeypatch.setattr("runbook.files.atomic_write.os.fsync", full)
    assert main(["order", str(day), "--last", "window", "--write"]) == 2
    assert "no space left on device; nothing was changed" in capsys.readouterr().err
    assert (day / "day.toml").read_bytes() == before


def test_who_does_what_is_told(day: Path, capsys: Capture) -> None:
    assert main(["steps", str(day), "--to", "lamp"]) == 0
    said = capsys.readouterr().out
    assert " shared over two; " in said and "; two people needed" in said
    assert "  photo: " in said and "  first: " in said


def test_the_order_of_the_demo_day_is_written_in_a_copy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    demo = demo_day()
    assert demo is not None
    before = {path.name: path.read_bytes() for path in demo.iterdir()}
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert main(["order", "--write", "--json"]) == 0
    told = capsys.readouterr()
    assert "copied to" in told.err
    assert {path.name: path.read_bytes() for path in demo.iterdir()} == before
    assert main(["hours", "--json"]) == 0  # every command means the copy now
    rows = json.loads(capsys.readouterr().out)["setups"]
    assert [row["id"] for row in rows] == json.loads(told.out)["order"]


def test_an_order_is_told_for_the_soonest_end_and_for_what_is_left(day: Path, capsys: Capture) -> None:
    assert main(["order", str(day), "--soonest", "--last", "window"]) == 0
    said = capsys.readouterr().out
    assert "  1  lamp  (was 2)" in said and "the soonest found" in said
    assert main(["order", str(day), "--first", "nowhere"]) == 1
    assert "nowhere is not among the setups left: window, lamp" in capsys.readouterr().err
    at = dt.datetime(2026, 12, 4, 11, 0, tzinfo=dt.UTC)
    with Journal.open(journal_path(day), clock=lambda: at, who="photo") as journal:
        journal.append(SetupBegun("lamp"))
    assert main(["order", str(day)]) == 0
    said = capsys.readouterr().out
    assert "  -  lamp\n  2  window\n" in said
    assert main(["order", str(day), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["order"], told["settled"]) == (["lamp", "window"], 1)


def _compared(changing_s: float, finish_s: float) -> list[str]:
    """What is said of an order that has so much less changing and ends so much later."""
    found = Proposal(
        settled=(),
        order=("b", "a"),
        given=("a", "b"),
        changing_s=565.0,
        given_changing_s=565.0 + changing_s,
        bound_s=565.0,
        together=True,
        kept=(),
        finish_s=36_000.0 + finish_s,
        given_finish_s=36_000.0,
    )
    return list(_lines(found, OrderRequest(), day_clock(demo().day, SetClock()())))[5:]


def test_another_order_is_compared_with_the_one_given_and_under_a_minute_as_good() -> None:
    assert _compared(10, -35) == _compared(0, 59) == ["the order in day.toml is as good, to the minute"]
    assert _compared(180, -2700) == ["the order in day.toml: 12 min of changing; the day would end at 10:00"]
    assert _compared(180, 2700)[1].endswith("see runbook order --soonest")


def test_an_order_that_gains_nothing_is_offered_only_where_it_was_asked_for(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def found(*_: object) -> Proposal:
        names = demo().day.order
        turned = (*names[-2:], *names[:-2])
        return Proposal((), turned, names, 600.0, 610.0, 600.0, True, (), 36_000.0, 36_000.0)

    monkeypatch.setattr("runbook.commands.order.best_order", found)
    assert main(["order", str(DEMO)]) == 0
    assert "--write" not in capsys.readouterr().out
    assert main(["order", str(DEMO), "--first", "widow-letter"]) == 0
    assert "to write it into " in capsys.readouterr().out
