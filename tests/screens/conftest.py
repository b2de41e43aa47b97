"""What the screens' tests share."""

from __future__ import annotations

from pathlib import Path

import pytest

from runbook.screens.app import RunbookApp


@pytest.fixture(autouse=True)
def _background(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Calculate nothing in the background of tests that are not about it; in the others, without waiting long."""
    wanted = request.node.get_closest_marker("forecast") is not None
    monkeypatch.setattr(RunbookApp, "REST_S", 0.05 if wanted else 1e6)


@pytest.fixture(autouse=True)
def _settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep settings in a folder of the test's own."""
    folder = tmp_path_factory.mktemp("settings")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(folder))
    return folder
