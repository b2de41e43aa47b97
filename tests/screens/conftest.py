"""What the screens' tests share."""

from __future__ import annotations

import pytest

from runbook.session.session import Session


@pytest.fixture(autouse=True)
def _no_forecast(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two thousand draws a screen keep nobody's test waiting that is not about them."""
    if request.node.get_closest_marker("forecast") is None:
        monkeypatch.setattr(Session, "work_out", lambda *_: None)
