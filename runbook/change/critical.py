"""What everybody waits for: the critical path, and the slack of everything else.

Forward: a step starts when the last it follows has ended. Backward: it must end before the first
that follows it has to start. Slack is what lies between (the critical path method, any textbook).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple


class Slack(NamedTuple):
    """Earliest and latest start of one step, in seconds from the beginning."""

    earliest_s: float
    latest_s: float

    @property
    def slack_s(self) -> float:
        return self.latest_s - self.earliest_s


def critical_path(
    seconds: Mapping[int, float], after: Mapping[int, Sequence[int]]
) -> dict[int, Slack]:
    """Earliest and latest starts that keep the shortest total, for steps by number.

    ``after`` may leave out steps that follow nothing. Steps with no slack are critical. Raises
    ValueError for a loop, and KeyError for a step that has no duration.
    """
    order = _in_order(seconds, after)
    earliest: dict[int, float] = {}
    for n in order:
        earliest[n] = max((earliest[p] + seconds[p] for p in after.get(n, ())), default=0.0)
    end = max((earliest[n] + seconds[n] for n in order), default=0.0)
    latest = {n: end - seconds[n] for n in order}
    for n in reversed(order):
        for earlier in after.get(n, ()):
            latest[earlier] = min(latest[earlier], latest[n] - seconds[earlier])
    return {n: Slack(earliest[n], latest[n]) for n in seconds}


def _in_order(seconds: Mapping[int, float], after: Mapping[int, Sequence[int]]) -> list[int]:
    follows: dict[int, list[int]] = {n: [] for n in seconds}
    waits = {n: len(after.get(n, ())) for n in seconds}
    for n in seconds:
        for earlier in after.get(n, ()):
            follows[earlier].append(n)
    order = [n for n in seconds if not waits[n]]
    for n in order:
        for later in follows[n]:
            waits[later] -= 1
            if not waits[later]:
                order.append(later)
    if len(order) < len(seconds):
        loop = sorted(set(seconds) - set(order))
        raise ValueError(f"steps {', '.join(map(str, loop))} wait for each other")
    return order
