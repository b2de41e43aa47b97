"""What tests of several modules share."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

from tests.days import write_day


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """The folder of a small day that can be read."""
    return write_day(tmp_path / "day")


# laws are about what is true, not how fast: the machine that runs them may be busy
settings.register_profile("runbook", deadline=None)
settings.load_profile("runbook")
