"""What a key of a day's files may hold: the notes on the annotations of our values.

``Annotated[float, Within(gt=0)]`` says it to a person; ``shape.validator`` holds a file to it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from runbook.plan.tuples import NamedTuple


class Within(NamedTuple):
    """Bounds of a number: ``Annotated[float, Within(gt=0)]``."""

    gt: float | None = None
    ge: float | None = None
    lt: float | None = None
    le: float | None = None


class Matches(NamedTuple):
    """A pattern a text must match."""

    pattern: str


class Reads(NamedTuple):
    """A value written as text in a file: its type, how it is read, and one as it is written.

    ``str`` writes it back.
    """

    kind: type
    read: Callable[[str], Any]
    like: str


class Key(NamedTuple):
    """The key a field has in its file, where Python or plain English wants another name."""

    name: str


Id = Annotated[str, Matches(r"^[A-Za-z0-9_-]{1,24}$")]
# No length, mass or time of a studio comes near these; without them a slip of the finger could
# overflow, or vanish in, every sum that squares it.
LEAST, MOST = 1e-6, 1e9
_DASHES = {ord("-"): "0", ord("_"): "0"}
Positive = Annotated[float, Within(ge=LEAST, le=MOST)]
NotNegative = Annotated[float, Within(ge=0, le=MOST)]
Share = Annotated[float, Within(ge=0, le=1)]
Stops = Annotated[float, Within(ge=-40, le=40)]
Count = Annotated[int, Within(ge=0, le=1_000_000)]


def is_id(text: str) -> bool:
    """Whether a text has the form of an id: what ``Id`` matches, without a pattern to compile."""
    return 1 <= len(text) <= 24 and text.isascii() and text.translate(_DASHES).isalnum()
