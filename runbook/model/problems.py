"""What a check finds wrong: one value, whatever part of the plan it is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Level = Literal["stop", "warn", "note", "meant"]
# what a setup may say it means to be so: findings about the picture and the work, none about safety
Meant = Literal[
    "ambient-over", "ambient-shows", "asked-twice", "break-cuts-in", "flare", "in-frame",
    "in-panel", "key-under-key", "light-misses-face", "look-late", "no-frames", "no-key",
    "no-light", "no-look", "no-time", "not-in-order", "on-camera", "reading-over",
    "reading-under", "recycle-slow", "same-spot", "too-close", "trade-heads", "two-keys",
    "whole-over", "whole-under",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that cannot be (stop), should not be (warn) or is worth knowing (note).

    One that its setup names under ``meant`` is intended (meant); a stop never is.
    ``setup`` and ``item`` say where; ``what`` is wrong and ``do`` is what would put it right.
    """

    level: Level
    code: str
    setup: str | None
    item: str | None
    what: str
    do: str
