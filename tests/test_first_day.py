"""The page of the first day is right: every command runs, every key exists."""

import builtins
import re
import shlex
from pathlib import Path

from textual.binding import Binding

from runbook.cli import main
from runbook.commands import open as opening
from runbook.commands import resume
from runbook.screens.app import RunbookApp
from runbook.screens.handover import HandoverScreen
from runbook.screens.hours import HoursScreen
from runbook.screens.kit_count import KitCountScreen
from runbook.screens.lists import Log
from runbook.screens.planning import PlanningScreen
from runbook.screens.set import SetScreen
from runbook.screens.stands import StandsScreen

DOCS = Path(__file__).parents[1] / "docs"
SCREENS = (SetScreen, StandsScreen, HoursScreen, HandoverScreen, KitCountScreen, PlanningScreen, Log, RunbookApp)
PAGE = (DOCS / "first-day.md").read_text("utf-8")
BLOCKS = re.findall(r"<!-- commands -->\n```sh\n(.*?)```\n<!-- /commands -->", PAGE, re.DOTALL)
COMMANDS = [line for block in BLOCKS for line in block.splitlines()]


def test_every_command_of_the_page_runs_in_its_order(tmp_path, monkeypatch, capsys):
    """Commands that need a terminal get one that answers yes; the screens have their own tests."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(builtins, "input", lambda _: "yes")
    for module in (opening, resume):
        monkeypatch.setattr(module, "is_terminal", lambda: True)
        monkeypatch.setattr(module, "show_day", lambda *_, **__: 0)
    assert len(COMMANDS) > 10
    for line in COMMANDS:
        program, *words = shlex.split(line)
        assert program == "runbook"
        # 1 is an answer too: something is to be looked at, or dialled
        assert main(words) in (0, 1), (line, capsys.readouterr().err)
    made = {path.name for path in tmp_path.iterdir()}
    assert {"my-day", "my-day.html", "three.handover", "record.html", "again", "my-day-2"} == made


def test_every_key_of_the_pages_tables_is_on_the_page_of_keys() -> None:
    rows = re.findall(r"^\| (`[^|]+) \| (?!-)", PAGE, re.MULTILINE)
    keys = [key for row in rows for key in re.findall(r"`([^`]+)`", row)]
    assert len(keys) > 15
    bindings = [
        binding
        for screen in SCREENS
        for cls in screen.__mro__
        for binding in cls.__dict__.get("BINDINGS", ())
        if isinstance(binding, Binding) and binding.tooltip
    ]
    explained = {name for binding in bindings for name in (binding.key_display or "", *binding.key.split(","))}
    for key in keys:
        assert key in explained or (key.isdigit() and "1-9" in explained), f"{key} is not on the page of keys"
