"""What the screens' tests share."""

from pathlib import Path
from typing import Any

import pytest
from textual._compositor import Compositor
from textual.css.stylesheet import Stylesheet

from runbook.screens.app import RunbookApp

_parse_rules = Stylesheet._parse_rules
_PARSED: dict[Any, Any] = {}


def parse_once(sheet: Stylesheet, *css: Any, **more: Any) -> Any:
    """The rules of a style sheet that any app has parsed before, under these variables."""
    key = (css, frozenset(more.items()), frozenset(sheet._variables.items()))
    if key not in _PARSED:
        _PARSED[key] = _parse_rules(sheet, *css, **more)
    return _PARSED[key]


def paint_nowhere(compositor: Compositor, **_: object) -> None:
    """Render nothing for a terminal that is not there: ``screen_lines`` renders what a test looks at."""
    compositor._dirty_regions.clear()


@pytest.fixture(autouse=True)
def _quick_apps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every app a test opens do without what no test sees."""
    monkeypatch.setattr(Stylesheet, "_parse_rules", parse_once)
    monkeypatch.setattr(Compositor, "render_update", paint_nowhere)


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
