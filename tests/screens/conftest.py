"""What the screens' tests share."""

from __future__ import annotations

import pytest

from runbook.screens.app import RunbookApp


@pytest.fixture(autouse=True)
def _background(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Calculate nothing in the background of tests that are not about it; in the others, without waiting long."""
    wanted = request.node.get_closest_marker("forecast") is not None
    monkeypatch.setattr(RunbookApp, "REST_S", 0.05 if wanted else 1e6)
