"""What tests of several modules share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.days import write_day


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """The folder of a small day that can be read."""
    return write_day(tmp_path / "day")
