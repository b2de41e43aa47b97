"""``runbook steps``: the ends of the day have names, and each only one way round; how steps are listed."""

import pytest

from runbook.cli import main
from tests.day.days import DEMO


@pytest.mark.parametrize(("words", "status", "text"), [
    (["--to", "load-in"], 2, "--to: no setup is called load-in; there are captain-chart"),
    (["--from", "wrap"], 2, "--from: no setup is called wrap; there are captain-chart"),
    (["--from", "nowhere"], 2, "--from: no setup is called nowhere; there are captain-chart"),
    (["--from", "load-in"], 0, "load-in"),
    (["--to", "wrap"], 0, "wrap"),
])  # fmt: skip
def test_load_in_is_only_a_start_and_the_wrap_only_an_end(words, status, text, capsys):
    assert main(["steps", str(DEMO), *words]) == status
    printed = capsys.readouterr()
    assert text in (printed.err if status else printed.out.splitlines()[0])
    assert not (status and printed.out)


def lines_to(setup: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """What the command prints of the changeover to a setup."""
    assert main(["steps", str(DEMO), "--to", setup]) == 0
    return capsys.readouterr().out.splitlines()


def test_every_step_a_person_is_named_for_has_its_number_above(capsys: pytest.CaptureFixture[str]) -> None:
    lines = lines_to("keeper-window", capsys)
    assert [line.split()[0] for line in lines if line.endswith(")")] == [str(n) for n in range(1, 25)]
    # alone is shown only where one can do it alone
    assert "about 4 min with 3 people, 8 min with one; " in lines[0] and "needed" not in lines[0]
    boom = lines_to("keeper-lamp", capsys)
    assert boom[0].endswith("; 2 people needed") and " alone" not in boom[0]
    # a step that is a block of its own stands out of the block before
    assert "      2  Take flat-1 off set  (25 s)" in boom
    assert "    3  Set A from 1/8 to 1/32+0.7 (1 1/3 stops, 4 clicks down)  (10 s)" in boom


@pytest.mark.parametrize(("setup", "listed", "called"), [
    ("keeper-lamp", "25  Camera: set f/2.8", "camera 25"),
    ("keeper-lamp", "26  Pose T1: turned 10°", "talent 26"),
    ("keeper-lamp", "27  Test flash: ", "test 27"),
    ("wrap", "2  Send T2 off set  (25 s)", "talent 2"),
])  # fmt: skip
def test_who_does_what_calls_things_as_the_list_of_steps_does(setup, listed, called, capsys):
    text = "\n".join(lines_to(setup, capsys))
    assert listed in text and called in text
