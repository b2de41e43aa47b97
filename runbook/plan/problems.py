"""What a check finds wrong: one value, whatever part of the plan it is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Level = Literal["stop", "warn", "note"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that cannot be (stop), should not be (warn) or is worth knowing (note).

    ``setup`` and ``item`` say where; ``what`` is wrong and ``do`` is what would put it right.
    """

    level: Level
    code: str
    setup: str | None
    item: str | None
    what: str
    do: str
