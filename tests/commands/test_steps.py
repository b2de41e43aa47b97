"""``runbook steps``: the ends of the day have names, and each only one way round."""

from __future__ import annotations

import pytest

from runbook.cli import main
from tests.day.days import DEMO


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["--to", "load-in"], "--to: no setup load-in; one of wrap, keeper-window"),
        (["--from", "wrap"], "--from: no setup wrap; one of load-in, keeper-window"),
        (["--from", "nowhere"], "--from: no setup nowhere; one of load-in, keeper-window"),
    ],
)
def test_an_end_asked_for_the_wrong_way_round_is_refused(
    words: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["steps", str(DEMO), *words]) == 2
    out = capsys.readouterr()
    assert text in out.err and not out.out


@pytest.mark.parametrize("words", [["--from", "load-in"], ["--to", "wrap"]])
def test_an_end_asked_for_the_right_way_is_accepted(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", str(DEMO), *words]) == 0
    assert words[1] in capsys.readouterr().out.splitlines()[0]


def test_every_step_a_person_is_named_for_has_its_number_above(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", str(DEMO), "--to", "keeper-window"]) == 0
    lines = capsys.readouterr().out.splitlines()
    message = [line.split()[0] for line in lines if line.endswith(")")]
    assert message == [str(n) for n in range(1, 25)]


def test_a_step_that_is_a_block_of_its_own_stands_out_of_the_block_before(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", str(DEMO), "--to", "keeper-lamp"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "      2  Take flat-1 off set  (25 s)" in lines
    assert "    3  Set A from 1/8 to 1/32+0.7 (1 1/3 stops, 4 clicks down)  (10 s)" in lines


def test_who_does_what_calls_things_as_the_list_of_steps_does(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", str(DEMO), "--to", "keeper-lamp"]) == 0
    text = capsys.readouterr().out
    for listed, called in (
        ("25  Camera: set f/2.8", "camera 25"),
        ("26  Pose T1: turned 10°", "talent 26"),
        ("27  Test flash: ", "test 27"),
    ):
        assert listed in text and called in text
    assert main(["steps", str(DEMO), "--to", "wrap"]) == 0
    text = capsys.readouterr().out
    assert "1  Send T2 off set  (25 s)" in text and "talent 1" in text


def test_alone_is_shown_only_where_one_can_do_it_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", str(DEMO), "--to", "keeper-window"]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert "about 4 min shared over three, 8 min alone; " in first
    assert "needed" not in first
    assert main(["steps", str(DEMO), "--to", "keeper-lamp"]) == 0
    boom = capsys.readouterr().out.splitlines()[0]
    assert boom.endswith("; two people needed") and " alone" not in boom
