"""What the screens' tests share."""

from __future__ import annotations

from functools import partial

import pytest

from runbook.screens import hours
from runbook.session.hours import hours_of
from runbook.session.session import Session


@pytest.fixture(autouse=True)
def _no_forecast(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two thousand draws a screen keep nobody's test waiting that is not about them."""
    if request.node.get_closest_marker("forecast") is None:
        monkeypatch.setattr(Session, "work_out", lambda *_: None)
        monkeypatch.setattr(hours, "hours_of", partial(hours_of, draws=20))
        monkeypatch.setattr(hours, "sooner", lambda *_, **__: None)
