"""The answers to the last few questions: most of what happens on a set leaves them as they were."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Final, Generic, TypeVar

Asked = TypeVar("Asked")
Answer = TypeVar("Answer")
_KEPT: Final = 4  # a step back and forth, and what was before it


class Recent(Generic[Asked, Answer]):
    """The last few answers, each with what was asked, which is compared as a value."""

    def __init__(self) -> None:
        self._known: deque[tuple[Asked, Answer]] = deque(maxlen=_KEPT)

    def answer(self, asked: Asked, work_out: Callable[[], Answer]) -> Answer:
        """The answer as it is known, or worked out."""
        for known, answer in self._known:
            if known == asked:
                return answer
        found = work_out()
        self._known.appendleft((asked, found))
        return found

    def forget(self) -> None:
        """What the answers were worked out from is no longer so."""
        self._known.clear()
