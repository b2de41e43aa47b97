"""How a long calculation says what it is working on, and how it is stopped."""

from __future__ import annotations

from collections.abc import Callable

Tell = Callable[[str], object]  # called with what is being worked on; what it raises stops the work


class Stopped(Exception):
    """Somebody asked to stop a calculation."""


def silent(_: str) -> None:
    """Tell nobody what is being worked on."""
