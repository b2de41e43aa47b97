"""How a long calculation says what it is working on, and how it is stopped."""

from __future__ import annotations

from typing import Protocol


class Tell(Protocol):
    """Called with what is being worked on, and how much of it is done; what it raises stops the work."""

    def __call__(self, what: str, done: int = 0, of: int = 0, /) -> object:
        """Take the words, and what they count as numbers; ``of`` is 0 where nothing is counted."""


class Stopped(Exception):
    """Somebody asked to stop a calculation."""


def silent(_what: str, _done: int = 0, _of: int = 0) -> None:
    """Tell nobody what is being worked on."""
