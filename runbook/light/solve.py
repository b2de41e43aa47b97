"""The powers that make everything asked of the heads of a setup come true together.

Readings are in stops (``log2 N²``) at the face, the meter turned to the head. A reading of its own,
and so far under the key where the key's own reading is asked for, do not depend on what any other
head is set to; a key that nothing is asked of counts as it is set. So each head takes its nearest
click, and setting one never makes the power shown for another wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runbook.light.power import DialSetting, dial_for
from runbook.light.stops import DARK, METER_LEAST
from runbook.model.power import Dial
from runbook.model.setup import Role


@dataclass(frozen=True, slots=True)
class HeadAsk:
    """A head, what it gives the face, and what is asked of it.

    ``at_full`` is its reading at full power, ``as_key`` what it gives as a key at the power it is
    set to (``DARK`` when off). ``wanted`` is the reading asked for, ``under_key`` how many stops
    under the key; None where it is not asked.
    """

    role: Role
    dial: Dial
    fires: bool
    at_full: float
    as_key: float
    wanted: float | None = None
    under_key: float | None = None

    @property
    def follows(self) -> bool:
        """Whether all that is asked of it counts from the key."""
        return self.wanted is None and self.under_key is not None

    @property
    def as_asked(self) -> float:
        """What it gives as a key once its own reading is dialled; as it is set without one."""
        if self.wanted is None or self.at_full == DARK:
            return self.as_key
        return self.wanted + dial_for(self.dial, self.at_full, self.wanted).left_over_stops


@dataclass(frozen=True, slots=True)
class Solution:
    """Which head is the key, by place, and each head's target reading and power to dial.

    None where nothing is asked of a head; no power where none of its light reaches the face.
    """

    key: int | None
    asked: tuple[float | None, ...]
    dials: tuple[DialSetting | None, ...]


def solve(heads: Sequence[HeadAsk]) -> Solution:
    """The key, and what each head is asked to read and to be set to for it."""
    key = _key(heads)
    asked = tuple(_asked(heads, n, key) for n in range(len(heads)))
    dials = tuple(
        None if target is None or head.at_full == DARK else dial_for(head.dial, head.at_full, target)
        for head, target in zip(heads, asked, strict=True)
    )
    return Solution(key, asked, dials)


def _key(heads: Sequence[HeadAsk]) -> int | None:
    """The first head whose role is key; without one, the brightest as asked.

    One that no meter at the face would show is neither. What follows the key is the key only where
    nothing else is, and then the one asked to be the least under it.
    """
    shown = [n for n, head in enumerate(heads) if head.fires and head.as_asked >= METER_LEAST]
    keys = [n for n in shown if heads[n].role == "key"]
    if keys:
        return keys[0]
    free = [n for n in shown if not heads[n].follows]
    if free:
        return max(free, key=lambda n: heads[n].as_asked)
    return min(shown, key=lambda n: heads[n].under_key or 0.0, default=None)


def _asked(heads: Sequence[HeadAsk], n: int, key: int | None) -> float | None:
    """What the meter should show of a head: its own reading, or so far under the key as asked."""
    head = heads[n]
    if head.wanted is not None:
        return head.wanted
    if head.under_key is None or key is None or key == n:
        return None
    wanted = heads[key].wanted
    return (heads[key].as_key if wanted is None else wanted) - head.under_key
