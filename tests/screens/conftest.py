"""What the screens' tests share."""

from __future__ import annotations

from functools import partial

import pytest

from runbook.day.actions import Session
from runbook.day.hours import hours_of
from runbook.screens import hours


@pytest.fixture(autouse=True)
def _no_forecast(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare tests that are not about the forecast its two thousand draws."""
    if request.node.get_closest_marker("forecast") is None:
        monkeypatch.setattr(Session, "work_out", lambda *_: None)
        monkeypatch.setattr(hours, "hours_of", partial(hours_of, draws=20))
        monkeypatch.setattr(hours, "sooner_order", lambda *_, **__: None)
