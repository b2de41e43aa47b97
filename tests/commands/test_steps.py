"""``runbook steps``: the ends of the day have names, and each only one way round."""

from __future__ import annotations

import pytest

from runbook.cli import main
from tests.session.days import DEMO


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--to", "load-in"], "--to: load-in is only a beginning; write --from load-in"),
        (["--from", "wrap"], "--from: wrap is only an end; write --to wrap"),
        (["--from", "nowhere"], "--from: no setup nowhere; one of keeper-window"),
    ],
)
def test_an_end_asked_for_the_wrong_way_round_is_refused(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["steps", str(DEMO), *words]) == 2
    out = capsys.readouterr()
    assert said in out.err and not out.out


@pytest.mark.parametrize("words", [["--from", "load-in"], ["--to", "wrap"]])
def test_an_end_asked_for_the_right_way_is_told(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["steps", str(DEMO), *words]) == 0
    assert words[1] in capsys.readouterr().out.splitlines()[0]


def test_every_step_a_person_is_named_for_has_its_number_above(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["steps", str(DEMO), "--to", "keeper-window"]) == 0
    lines = capsys.readouterr().out.splitlines()
    told = [line.split()[0] for line in lines if line.startswith("    ")]
    assert told == [str(n) for n in range(1, 25)]
    assert "talent 23, then test pop 24" in lines[-1]
