"""What is printed on a terminal: no text that a person wrote is a command to it."""

import subprocess
import sys
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.commands.output import print_error, print_json, print_line
from tests.day.days import DEMO
from tests.days import change
from tests.terminal import clean_env


def test_what_stands_in_a_plan_is_no_command_to_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    print_line("a\x1b[31mred\x07\nb\tc")
    print_error("\x9b2J")
    message = capsys.readouterr()
    assert (message.out, message.err) == ("a?[31mred?\nb\tc\n", "?2J\n")


def test_spaces_of_other_kinds_are_spaces_and_what_turns_letters_round_goes(capsys: pytest.CaptureFixture[str]) -> None:
    print_line("5\xa0m\rof\u2028tape, \u202edesrever, an\xad, é, \N{WOMAN}\u200d\N{ARTIST PALETTE}")
    assert capsys.readouterr().out == ("5 m of tape, desrever, an, é, \N{WOMAN}\N{ARTIST PALETTE}\n")


def test_json_has_null_for_what_is_no_number(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"factor": float("inf"), "all": [1.5, (float("nan"), "inf"), -float("inf")]})
    assert capsys.readouterr().out == '{"factor":null,"all":[1.5,[null,"inf"],null]}\n'


def test_a_name_in_a_plan_is_shown_harmlessly_by_the_command(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    change(day, "kit.toml", "reflectance = 0.85", 'reflectance = 0.85\nname = "a\\u001b[31mred"')
    change(day, "kit.toml", 'id = "voile"', 'id = "voile"\n"\\u001b[2J" = 1')
    assert main(["check", str(day)]) == 2
    out, err = capsys.readouterr()
    assert "cloth.voile.?[2J: no such key" in err
    assert "\x1b" not in out + err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("also", ["stdout", "stderr"])
def test_a_full_disk_is_reported_in_a_sentence_and_by_the_status(also: str) -> None:
    words = [sys.executable, "-m", "runbook", "check", str(DEMO)]
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device, not a path
        err = full if also == "stderr" else subprocess.PIPE
        ended = subprocess.run(words, stdout=full, stderr=err, env=clean_env(), check=False, text=True)
    assert ended.returncode == 2
    if also == "stdout":
        assert (
            ended.stderr == "runbook: the output cannot be written: the disk is full; free some space and try again\n"
        )
