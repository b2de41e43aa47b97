"""The JSON reference names exactly the keys that the commands give."""

import json
import re
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from runbook.cli import COMMANDS, main
from runbook.commands import hours
from runbook.day.hours import hours_of, with_help
from runbook.files.validate import members
from runbook.journal.events import KINDS, Frame
from runbook.journal.journal import Journal, journal_path
from tests.day.days import SetClock
from tests.days import change
from tests.played import FIRST, half_shot
from tests.terminal import badly_ordered_demo

PAGE = (Path(__file__).parents[1] / "docs" / "json.md").read_text("utf-8")
SECTIONS = dict(re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL))
ASKED = {
    "runbook check": ["check"], "runbook light": ["light"], "runbook stands": ["stands"], "runbook steps": ["steps"],
    "runbook hours": ["hours"], "runbook order": ["order"],
    "runbook frames": ["frames", "--copies", str(Path(__file__).parent)],
    "runbook log --match": ["log", "--match", FIRST, "A=5.6", "all=4"],
}  # fmt: skip


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = half_shot(tmp_path_factory.mktemp("json") / "posters")
    with Journal.open(journal_path(folder), clock=SetClock(9), who="photo") as journal:
        journal.append(Frame("1.jpg", 1, "x", "2026-12-04T08:05:00+01:00", camera="M1"))
    return folder


@pytest.fixture(scope="module")
def badly_ordered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo day in an order that changes the look with every setup, too short, and with a cloth hung in a setup."""
    folder = badly_ordered_demo(tmp_path_factory.mktemp("json") / "badly-ordered")
    change(folder, "day.toml", "wrap = 18:00:00", "wrap = 09:30:00")
    hung = '[[hang]]\ncloth = "voile"\nside = "left"\nangle_deg = 180\ndistance_m = 1.5\nhem_m = 0.1\n'
    with (folder / f"{FIRST}.toml").open("a", encoding="utf-8") as setup:
        setup.write(f"\n{hung}")
    return folder


def named(section: str) -> set[str]:
    """The keys a section's table names, as paths: ``setups[].heads[].dial.power``."""
    return set(re.findall(r"^\| `([^`]+)` \|", SECTIONS[section], re.MULTILINE))


def paths(value: Any, at: str = "") -> Iterator[str]:
    """The path of every key in a value; those inside a null are known from where there is one."""
    if isinstance(value, dict):
        for key, item in value.items():
            path = f"{at}.{key}" if at else key
            yield path
            yield from paths(item, path)
    elif isinstance(value, list):
        for item in value:
            yield from paths(item, f"{at}[]")


@pytest.mark.parametrize("section", ASKED)
def test_a_command_gives_the_keys_the_page_names(section, day, badly_ordered, capsys, monkeypatch):
    for function in (hours_of, with_help):
        monkeypatch.setattr(hours, function.__name__, partial(function, draws=50))
    word, *more = ASKED[section]
    given: set[str] = set()
    # what is null half way through a day, a sooner order for one, may be there before it begins
    for folder in (day, badly_ordered) if not more else (day,):
        assert main([word, str(folder), "--json", *more]) in (0, 1)
        given |= set(paths(json.loads(capsys.readouterr().out)))
    assert given == named(section)


def test_every_command_that_speaks_json_has_a_section(capsys: pytest.CaptureFixture[str]) -> None:
    for command in COMMANDS:
        main([command.name, "--help"])
        if "--json" in capsys.readouterr().out:
            assert f"runbook {command.name}" in SECTIONS


def test_every_kind_of_entry_is_named_with_its_keys() -> None:
    rows = dict(re.findall(r"^\| `([a-z-]+)` \| ((?:`\w+`(?:, )?)*) ?\|", SECTIONS["runbook log"], re.M))
    assert rows.keys() == KINDS.keys()
    for kind, shape in KINDS.items():
        keys = re.findall(r"`(\w+)`", rows[kind])
        assert keys == [member.key for member in members(shape)], kind


def test_every_entry_has_the_keys_common_to_all(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", str(day), "--json"]) == 0
    entries = json.loads(capsys.readouterr().out)["entries"]
    assert len(entries) > 20
    for entry in entries:
        assert list(entry)[:4] == ["n", "at", "who", "kind"]
        assert set(entry) - {"n", "at", "who", "kind"} == {member.key for member in members(KINDS[entry["kind"]])}
