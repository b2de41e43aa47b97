"""What the screens' tests share."""

from __future__ import annotations

from functools import partial

import pytest

from runbook.day.hours import hours_of
from runbook.screens import hours
from runbook.screens.app import RunbookApp


@pytest.fixture(autouse=True)
def _background(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Calculate nothing in the background of tests that are not about it; in the others, without waiting long."""
    wanted = request.node.get_closest_marker("forecast") is not None
    monkeypatch.setattr(RunbookApp, "REST_S", 0.05 if wanted else 1e6)
    if not wanted:
        monkeypatch.setattr(hours, "hours_of", partial(hours_of, draws=20))
        monkeypatch.setattr(hours, "sooner_order", lambda *_, **__: None)
