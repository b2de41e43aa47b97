"""The pattern a key draws on a face, from where it stands relative to where the face points.

The names are the trade's; US Army SS0510 (1994), p. 1-20, and US Navy NAVEDTRA 14209 define them
without angles (seen), and trade texts disagree about the angles. The bands here are this
program's own convention: no standard gives any.
"""

from __future__ import annotations

from typing import Final, Literal

from runbook.light.space import Seen

Pattern = Literal["butterfly", "loop", "Rembrandt", "split", "rim", "top light", "under light", "none"]

_TURNED_UP_TO: Final[tuple[tuple[float, Pattern], ...]] = (
    (15.0, "butterfly"),
    (35.0, "loop"),
    (60.0, "Rembrandt"),
    (105.0, "split"),
)
_TOP_ABOVE_DEG: Final = 70.0
_SLACK_DEG: Final = 1e-6  # a light put at a band's very edge stays inside it


def pattern(seen: Seen) -> Pattern:
    """The pattern of a light seen from the face; its height rules before its turn."""
    if seen.above_deg > _TOP_ABOVE_DEG + _SLACK_DEG:
        return "top light"
    if seen.above_deg < -_SLACK_DEG:
        return "under light"
    for most, name in _TURNED_UP_TO:
        if seen.turned_deg <= most + _SLACK_DEG:
            return name
    return "rim"
