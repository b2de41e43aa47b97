"""What the screens' tests share."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest
from textual import app, pilot
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

from runbook.day.actions import Session
from runbook.day.hours import hours_of
from runbook.screens import hours
from tests.screens.settled import settled


@pytest.fixture(autouse=True)
def _no_forecast(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two thousand draws a screen keep nobody's test waiting that is not about them."""
    if request.node.get_closest_marker("forecast") is None:
        monkeypatch.setattr(Session, "work_out", lambda *_: None)
        monkeypatch.setattr(hours, "hours_of", partial(hours_of, draws=20))
        monkeypatch.setattr(hours, "sooner_order", lambda *_, **__: None)


@pytest.fixture(autouse=True)
def _no_idle_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a key the library sleeps until the processor has been idle twice; we look instead."""
    monkeypatch.setattr(app, "wait_for_idle", settled)
    monkeypatch.setattr(pilot, "wait_for_idle", settled)


_parse = Stylesheet._parse_rules
_parsed: dict[tuple[object, ...], list[RuleSet]] = {}


def _parse_once(sheet: Stylesheet, *what: Any, **how: Any) -> list[RuleSet]:
    key = (*what, *how.items(), *sheet._variables.items())
    if key not in _parsed:
        _parsed[key] = _parse(sheet, *what, **how)
    return _parsed[key]


@pytest.fixture(autouse=True)
def _styles_parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two hundred apps have the same styles, which each would parse for a fifth of its start."""
    monkeypatch.setattr(Stylesheet, "_parse_rules", _parse_once)
