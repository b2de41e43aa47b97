"""``runbook light``: what is brighter than the key is told as so much over it."""

from __future__ import annotations

import pytest

from runbook.cli import main
from tests.session.days import DEMO


def test_a_panel_brighter_than_the_key_is_over_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["light", str(DEMO), "--setup", "lamplighter-fog"]) == 0
    told = capsys.readouterr().out
    (flat,) = [line.split("  ") for line in told.splitlines() if line.startswith("   flat-1")]
    assert flat[-1] == "4.6 over"
    assert "pattern" not in told
