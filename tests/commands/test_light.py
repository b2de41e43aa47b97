"""``runbook light``."""

from __future__ import annotations

import pytest

from runbook.cli import main
from tests.session.days import DEMO


def test_a_key_off_a_flat_is_named_and_the_rest_counts_from_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["light", str(DEMO), "--setup", "lamplighter-fog"]) == 0
    told = capsys.readouterr().out
    flats = [line.split("  ") for line in told.splitlines() if line.startswith("   flat-")]
    assert [flat[-1].strip() for flat in flats[:3]] == ["0.0", "+0.8", "+3.4"]
    assert "key A off flat-1, f/2.8 +0.6" in told
    assert "pattern" not in told
