"""Whatever is written in a day's files, a command does its work or says plainly what is wrong."""

from __future__ import annotations

import random
import re
import shutil
from pathlib import Path

import pytest

from runbook.cli import DEBUG, main
from runbook.day.load_plan import read_day
from runbook.files.errors import Unreadable
from tests.day.days import DEMO

COMMANDS = ("check", "light", "stands", "steps", "hours", "order", "log")
SEEDS = 12
VALUES = (
    "0", "-1", "1e308", "-1e-308", "nan", "inf", "9" * 40, '""', '"\\u0000"', "[]", "{}", "true",
    "[[1]]", '["A"]', "0.1", "3", "1979-05-27", "07:32:00", '"off"', '"full"', '"1/8"', '"solve"',
    '"bare"', '"A"', '"flat-1"', '"face"', '"left"', '"far legs"', "{ a = 1 }",
)  # fmt: skip
_KEY = re.compile(r"(\s*[\w.-]+\s*=\s*)(.+)")


def mutated(text: str, chance: random.Random) -> str:
    """A file's text with one thing changed that a person or a disk might change."""
    lines = text.splitlines(keepends=True)
    at = chance.randrange(len(lines))
    kind = chance.choice(["delete", "delete", "double", "value", "value", "value", "swap", "cut"])
    if kind == "delete":
        del lines[at : at + chance.choice([1, 1, 1, 2, 5])]
    elif kind == "double":
        lines.insert(chance.randrange(len(lines)), lines[at])
    elif kind == "value":
        keys = [n for n, line in enumerate(lines) if _KEY.match(line)]
        if keys:
            at = chance.choice(keys)
            other = [match[2] for line in lines if (match := _KEY.match(line))]
            value = chance.choice([*VALUES, *chance.choices(other, k=5)])
            lines[at] = _KEY.sub(lambda match: match[1] + value, lines[at].rstrip()) + "\n"
    elif kind == "swap":
        other_at = chance.randrange(len(lines))
        lines[at], lines[other_at] = lines[other_at], lines[at]
    else:
        return text[: chance.randrange(len(text))]
    return "".join(lines)


def mutant(folder: Path, seed: int) -> Path:
    """The demo day with one to three changes in its files."""
    chance = random.Random(seed)
    shutil.copytree(DEMO, folder)
    for _ in range(chance.choice([1, 1, 2, 3])):
        path = chance.choice(sorted(folder.glob("*.toml")))
        path.write_text(mutated(path.read_text("utf-8"), chance) or "\n", "utf-8")
    return folder


def run_all(folder: Path, sheet: Path) -> None:
    """Run every command that reads a day; what main would call unexpected is raised."""
    try:
        plan = read_day(folder)
    except Unreadable:
        plan = None
    for command in COMMANDS if plan else COMMANDS[:1]:  # each of them reads the day first
        assert main([command, str(folder)]) in (0, 1, 2)
    if plan:
        assert main(["sheet", str(folder), "-o", str(sheet)]) in (0, 1, 2)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_no_command_meets_what_it_does_not_expect(seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DEBUG, "1")
    monkeypatch.setattr("runbook.commands.sheet.FACE_PX", 6)
    run_all(mutant(tmp_path / "day", seed), tmp_path / "sheet.html")


WITHOUT_A_HOME = [
    {},
    {"HOME": "/dev/null"},
    {"HOME": "/proc", "XDG_CACHE_HOME": "/dev/full", "XDG_STATE_HOME": "/dev/full"},
]


@pytest.mark.parametrize("env", WITHOUT_A_HOME, ids=lambda env: "-".join(env.values()) or "none")
def test_a_home_that_cannot_be_written_is_no_surprise(
    env: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in env.items():
        monkeypatch.setenv(name, value)
    for command in ("hours", "log"):
        assert main([command]) in (0, 2)
        assert "unexpected" not in capsys.readouterr().err


JOURNALS = {
    "a link to itself": "journal.runlog",
    "a link to nothing": "no folder/journal",
    "a link to a device that refuses": "/proc/self/mem",
    "a link to a device without end": "/dev/zero",
    "a link to a folder": ".",
}


@pytest.mark.parametrize("target", JOURNALS.values(), ids=JOURNALS)
@pytest.mark.parametrize("words", [["log"], ["hours"], ["handover", "--to", "Kim"]], ids=" ".join)
def test_a_journal_that_is_no_file_is_a_plain_fault_or_none(
    target: str, words: list[str], day: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (day / "journal.runlog").symlink_to(target)
    more = ["-o", str(day / "kim.handover")] if words[0] == "handover" else []
    assert main([words[0], str(day), *words[1:], *more]) in (0, 2)
    assert "unexpected" not in capsys.readouterr().err


@pytest.mark.parametrize("name", ["day.toml", "kit.toml"])
def test_a_plan_file_that_cannot_be_read_is_a_fault_with_its_name(
    name: str, day: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (day / name).unlink()
    (day / name).symlink_to("/proc/self/mem")  # reading its start is an input/output error
    for command in COMMANDS[:-1]:
        assert main([command, str(day)]) == 2
        err = capsys.readouterr().err
        assert name in err
        assert "unexpected" not in err


@pytest.mark.parametrize(
    "part", ['[[light]]\nrole = "fill"\n', '[[place_panel]]\nside = "left"\n'], ids=["head", "panel"]
)
def test_a_part_without_its_name_in_a_setup_like_another_is_a_fault_with_file_and_line(
    part: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = Path(shutil.copytree(DEMO, tmp_path / "day"))
    path = next(p for p in sorted(day.glob("*.toml")) if "\nlike = " in p.read_text("utf-8"))
    text = path.read_text("utf-8")
    path.write_text(f"{text}\n{part}", "utf-8")
    for command in COMMANDS[:-1]:
        assert main([command, str(day)]) == 2
        err = capsys.readouterr().err
        assert re.search(rf"{path.name}:\d+: ", err), err
        assert "unexpected" not in err
