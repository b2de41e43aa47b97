import re
from pathlib import Path

import pytest

from runbook.changeover.steps import DEFAULT_S

PAGE = Path(__file__).parents[2] / "docs" / "durations.md"


def test_the_page_prints_the_table_the_program_uses() -> None:
    rows = re.findall(r"^\| ([a-z]+) \| ([a-z]+) \| ([\d.]+) \|$", PAGE.read_text("utf-8"), re.M)
    assert {(verb, kind): float(seconds) for verb, kind, seconds in rows} == DEFAULT_S
    assert len(rows) == len(DEFAULT_S)


def test_a_boom_takes_longer_than_a_stand() -> None:
    for verb in ("place", "strike", "move", "raise", "lower"):
        assert DEFAULT_S[verb, "boom"] > DEFAULT_S[verb, "stand"]


def test_a_step_that_does_not_exist_has_no_default() -> None:
    with pytest.raises(KeyError):
        DEFAULT_S["bag", "subject"]
