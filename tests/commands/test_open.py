"""``runbook open``: which day it shows, and whose files it may write."""

from pathlib import Path
from typing import Any

import pytest

from runbook.cli import main
from runbook.commands import open as opening
from runbook.files.paths import demo_day
from tests.days import change, write_day

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[tuple[Path, dict[str, Any]]]:
    """What would be shown, in an empty folder with a terminal that says yes."""
    shown: list[tuple[Path, dict[str, Any]]] = []

    def show(folder: Path, *_: object, **how: Any) -> int:
        shown.append((folder, how))
        return 0

    monkeypatch.setattr(opening, "is_terminal", lambda: True)
    monkeypatch.setattr(opening, "show_day", show)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    return shown


def test_no_day_at_hand_opens_a_copy_of_the_demo_day(shows, tmp_path, capsys):
    assert main([]) == main(["open"]) == 0
    (first, how), (again, then) = shows
    assert first == again == tmp_path / "state" / "runbook" / "lantern-row"
    assert how["edited"] and then["edited"]
    assert capsys.readouterr() == ("", f"{how['message']}\n{then['message']}\n")
    assert how["message"].startswith(f"no day in this folder: showing the demo day (copied to {first})")
    assert then["message"].startswith(f"no day in this folder: showing the demo day (your copy in {first})")


def test_where_no_copy_can_be_the_demo_day_is_shown_and_not_edited(shows, tmp_path, capsys):
    (tmp_path / "state").write_text("a file, where the folder should be")
    assert main(["open"]) == 0
    ((folder, how),) = shows
    assert (folder, how["edited"]) == (demo_day(), False)
    assert "cannot be copied there: Not a directory" in how["message"]
    assert capsys.readouterr().err.startswith("no day in this folder: showing the demo day\n")
    assert main(["order", "--write"]) == 2


def test_a_day_named_is_edited_where_it_is(shows: list[tuple[Path, dict[str, Any]]], capsys: Capture) -> None:
    demo = demo_day()
    assert main(["open", str(demo)]) == 0
    assert shows == [(demo, {"rehearsal": False, "message": "", "edited": True, "pictures": None})]
    assert capsys.readouterr() == ("", "")


def test_frames_arrive_where_the_day_says_or_where_the_command_says(shows, tmp_path):
    day = write_day(tmp_path / "day")
    change(day, "day.toml", "call = 08:00:00", 'frames_folder = "card"\ncall = 08:00:00')
    assert main(["open", str(day)]) == main(["open", str(day), "--frames", "elsewhere"]) == 0
    assert [how["pictures"] for _, how in shows] == [day / "card", Path("elsewhere")]
