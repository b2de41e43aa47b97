"""``runbook hours`` and ``runbook order``, for a program and for a person."""

import datetime as dt
import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from runbook.cli import main
from runbook.clock.timetable import day_clock
from runbook.commands.load_session import session_now
from runbook.commands.order import _lines
from runbook.day.hours import Hours, hours_of
from runbook.day.load_plan import read_day
from runbook.day.order_proposal import OrderRequest, Proposal
from runbook.files.paths import demo_day
from runbook.journal.events import SetupBegun
from runbook.journal.journal import Journal, journal_path
from tests.day.days import SetClock, demo
from tests.days import change

Capture = pytest.CaptureFixture[str]
TIME = re.compile(r"[0-2]\d:[0-5]\d:[0-5]\d")
AT = dt.datetime(2026, 12, 4, 11, 0, tzinfo=dt.UTC)


def data(capsys: Capture, *words: str) -> dict[str, Any]:
    assert main([*words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert not err
    found: dict[str, Any] = json.loads(out)
    return found


def begin(day: Path, setup: str) -> None:
    with Journal.open(journal_path(day), clock=lambda: AT, who="photo") as journal:
        journal.append(SetupBegun(setup))


def test_the_hours_and_the_order_agree_with_the_steps(day: Path, capsys: Capture) -> None:
    hours, order = data(capsys, "hours", str(day)), data(capsys, "order", str(day))
    total_s = [each["total_s"] for each in data(capsys, "steps", str(day))["changeovers"]]
    assert [each["id"] for each in hours["setups"]] == ["window", "lamp"]
    for each in hours["setups"]:
        assert TIME.fullmatch(each["start"]) and TIME.fullmatch(each["end"])
        assert each["shoot_s"] == 25 * 60
    assert [each["changeover_s"] for each in hours["setups"]] == pytest.approx(total_s[:2], abs=0.1)
    assert hours["finish"]["p10"] < hours["finish"]["p50"] < hours["finish"]["p90"]
    assert 0 <= hours["overtime"]["chance"] <= 1 and hours["overtime"]["expected_cost"] >= 0
    assert data(capsys, "hours", str(day)) == hours  # the same day, the same dice
    assert sorted(order["order"]) == ["lamp", "window"]
    assert order["changing_s"] <= order["given_order_changing_s"] == sum(total_s)
    assert order["proven"] is True


@pytest.mark.parametrize(
    ("command", "text"),
    [(["hours"], "BY 18:00: about "), (["order"], "the least possible"), (["order", "--soonest"], "found")],
)
def test_the_hours_and_the_order_for_a_person(command: list[str], text: str, day: Path, capsys: Capture) -> None:
    before = (day / "day.toml").read_bytes()
    assert main([command[0], str(day), *command[1:]]) == 0
    assert text in capsys.readouterr().out
    assert (day / "day.toml").read_bytes() == before  # it only proposes


def test_the_hours_of_a_day_begun_are_those_from_where_it_stands(day: Path) -> None:
    begin(day, "window")

    def hours_at(now: dt.datetime) -> Hours:
        session = session_now(read_day(day), day, now)
        return hours_of(session.moment, session.changes, draws=20)

    later = hours_at(AT + dt.timedelta(hours=1))
    assert later.begun and later.now_s == 12 * 3600
    assert later.rows[0].state == "now" and later.rows[0].start_s == 11 * 3600
    assert hours_at(AT + dt.timedelta(days=21)).now_s == 11 * 3600  # as it stood


def test_the_order_is_written_when_asked_and_all_else_is_kept(day: Path, capsys: Capture) -> None:
    file = day / "day.toml"
    change(day, "day.toml", 'order = ["window", "lamp"]', 'order = ["window", "lamp"]  # mine')
    change(day, "window.toml", "shoot_min = 25", "shoot_min = 25\nbefore = []")
    change(day, "lamp.toml", 'drop = ["flat"]', 'drop = ["flat"]\nbefore = ["window"]')
    new = file.read_text("utf-8").replace('["window", "lamp"]', '["lamp", "window"]')
    for message in (f"written into {file}", f"{file} unchanged"):
        assert main(["order", str(day), "--write"]) == 0
        assert message in capsys.readouterr().out
        assert file.read_text("utf-8") == new
    assert tomllib.loads(new)["order"] == ["lamp", "window"]


def test_what_cannot_be_ordered_or_written_is_an_error(day, capsys, monkeypatch):
    assert main(["order", str(day), "--first", "nowhere"]) == 1
    assert "nowhere is not among the setups left: window, lamp" in capsys.readouterr().err
    before = (day / "day.toml").read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("runbook.files.atomic_write.os.fsync", full)
        assert main(["order", str(day), "--last", "window", "--write"]) == 2
    assert "no space left on device; nothing was changed" in capsys.readouterr().err
    assert (day / "day.toml").read_bytes() == before
    change(day, "window.toml", "shoot_min = 25", 'shoot_min = 25\nbefore = ["lamp"]')
    change(day, "lamp.toml", 'drop = ["flat"]', 'drop = ["flat"]\nbefore = ["window"]')
    assert main(["order", str(day)]) == 1
    assert "no order keeps every rule" in capsys.readouterr().err


def test_the_order_of_the_demo_day_is_written_in_a_copy(tmp_path, monkeypatch, capsys):
    demo_folder = demo_day()
    assert demo_folder is not None
    before = {path.name: path.read_bytes() for path in demo_folder.iterdir()}
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert main(["order", "--write", "--json"]) == 0
    out, err = capsys.readouterr()
    assert "copied to" in err
    assert {path.name: path.read_bytes() for path in demo_folder.iterdir()} == before
    assert main(["hours", "--json"]) == 0  # every command means the copy now
    assert [row["id"] for row in json.loads(capsys.readouterr().out)["setups"]] == json.loads(out)["order"]


def test_only_what_is_left_is_ordered(day: Path, capsys: Capture) -> None:
    begin(day, "lamp")
    assert main(["order", str(day)]) == 0
    assert "  -  lamp\n  2  window\n" in capsys.readouterr().out
    found = data(capsys, "order", str(day))
    assert (found["order"], found["settled"]) == (["lamp", "window"], 1)


def _compared(changing_s: float, finish_s: float) -> list[str]:
    """Return how an order with so much less changing, which ends so much later, is compared with the one given."""
    proposal = Proposal(
        (), ("b", "a"), ("a", "b"), 565.0, 565.0 + changing_s, 565.0, True, (), 36_000.0 + finish_s, 36_000.0
    )
    return list(_lines(proposal, OrderRequest(), day_clock(demo().day, SetClock()())))[5:]


def test_another_order_is_compared_with_the_one_given_and_under_a_minute_as_good() -> None:
    assert _compared(10, -35) == _compared(0, 59) == ["the order in day.toml is as good, to the minute"]
    assert _compared(180, -2700) == ["the order in day.toml: 12 min of changeovers; the day would end at 10:00"]
    assert _compared(180, 2700)[1].endswith("see runbook order --soonest")


def test_an_order_that_gains_nothing_is_offered_only_where_it_was_asked_for(day, capsys, monkeypatch):
    proposal = Proposal((), ("lamp", "window"), ("window", "lamp"), 600, 610, 600, True, (), 36_000, 36_000)
    monkeypatch.setattr("runbook.commands.order.best_order", lambda *_: proposal)
    for words, offered in (([], False), (["--first", "lamp"], True)):
        assert main(["order", str(day), *words]) == 0
        assert ("to write it into " in capsys.readouterr().out) is offered
