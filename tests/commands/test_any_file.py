"""Whatever is written in a day's files, a command does its work or says plainly what is wrong."""

import re

import pytest
from hypothesis import given, settings

from runbook.cli import DEBUG, main
from tests.days import faults_of
from tests.files.test_load import MUTATIONS, mutated_day

COMMANDS = ("check", "light", "stands", "steps", "hours", "order", "log")


@settings(max_examples=12)
@given(mutations=MUTATIONS)
def test_no_command_meets_what_it_does_not_expect(mutations, tmp_path_factory):
    """What ``main`` would call unexpected is raised."""
    folder = tmp_path_factory.mktemp("mutant")
    files = mutated_day(mutations)
    two = '\norder = ["keeper-lamp", "widow-answer"]'  # which are ordered sooner than nine
    files["day.toml"] = re.sub(r"(?s)\norder = \[.*?\]", two, files["day.toml"])
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")
    words = [["check"]]
    if not faults_of(folder):  # each of the others reads the day first
        words = [*([command] for command in COMMANDS), ["sheet", "-o", str(folder / "sheet.html")]]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(DEBUG, "1")
        patch.setattr("runbook.commands.sheet.FACE_PX", 6)
        for command, *more in words:
            assert main([command, str(folder), *more]) in (0, 1, 2)


WITHOUT_A_HOME = [
    {},
    {"HOME": "/dev/null"},
    {"HOME": "/proc", "XDG_CACHE_HOME": "/dev/full", "XDG_STATE_HOME": "/dev/full"},
]


@pytest.mark.parametrize("env", WITHOUT_A_HOME, ids=lambda env: "-".join(env.values()) or "none")
def test_a_home_that_cannot_be_written_is_no_surprise(env, tmp_path, monkeypatch, capsys):
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
def test_a_journal_that_is_no_file_is_a_plain_fault_or_none(target, words, day, capsys):
    (day / "journal.runlog").symlink_to(target)
    more = ["-o", str(day / "kim.handover")] if words[0] == "handover" else []
    assert main([words[0], str(day), *words[1:], *more]) in (0, 2)
    assert "unexpected" not in capsys.readouterr().err


@pytest.mark.parametrize("name", ["day.toml", "kit.toml"])
def test_a_plan_file_that_cannot_be_read_is_a_fault_with_its_name(name, day, capsys):
    (day / name).unlink()
    (day / name).symlink_to("/proc/self/mem")  # reading its start is an input/output error
    for command in COMMANDS[:-1]:
        assert main([command, str(day)]) == 2
        err = capsys.readouterr().err
        assert name in err
        assert "unexpected" not in err
