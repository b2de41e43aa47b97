"""When an app has done all that was asked of it, without a clock."""

from __future__ import annotations

import asyncio
from collections import deque
from time import monotonic
from typing import Any, cast

from textual.app import App, ScreenStackError, active_app
from textual.screen import Screen

_TOO_LONG_S = 60.0


async def settled(*_: object) -> None:
    """Until no widget has a message, nothing is left to paint and the loop would only wait.

    What a thread or a timer brings later is not waited for: that is what ``until`` is for.
    """
    ready = cast("deque[Any]", asyncio.get_running_loop()._ready)  # type: ignore[attr-defined]
    end = monotonic() + _TOO_LONG_S
    while monotonic() < end:
        await asyncio.sleep(0)
        if ready:
            continue
        running = active_app.get()
        if running._resize_event is not None:
            running._check_resize()
            continue
        screen = _on_top(running)
        if screen is None or not _to_paint(screen):
            return
        screen._on_timer_update()
    raise AssertionError(f"the app still had work to do after {_TOO_LONG_S} s")


def _on_top(app: App[Any]) -> Screen[Any] | None:
    try:
        return None if app._batch_count else app.screen
    except ScreenStackError:
        return None


def _to_paint(screen: Screen[Any]) -> bool:
    return bool(
        screen._layout_required
        or screen._scroll_required
        or screen._repaint_required
        or screen._recompose_required
        or screen._dirty_widgets
        or screen._callbacks
    )
