"""Who does what now, and who is free, by the changeover as it was shared."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import NamedTuple

from runbook.changeover.steps import Step
from runbook.day.at_hand import AtHand
from runbook.day.planned_day import PlannedChangeover
from runbook.day.state import StepKey


class Busy(NamedTuple):
    """One of the crew: the step to do now; None is free. ``waits_for`` is what comes first.

    ``holds`` is the stand that is in their hands while they wait.
    """

    who: str
    step: Step | None
    waits_for: Step | None = None
    holds: str | None = None

    @property
    def said(self) -> str:
        """``first: A on S1``, ``second: waits for boom out``, ``photo: free``.

        ``first: holds S2, waits for B2 on S1's column``.
        """
        if self.step is None:
            return f"{self.who}: free"
        if self.waits_for is not None:
            held = f"holds {self.holds}, " if self.holds else ""
            return f"{self.who}: {held}waits for {self.waits_for.text}"
        return f"{self.who}: {self.step.text}"


def crew_of(worked: PlannedChangeover) -> Mapping[StepKey, tuple[str, ...]]:
    """Who does each step of a changeover as shared."""
    return {each.step.key: each.crew for each in worked.shares.steps}


def crew_now(
    worked: PlannedChangeover, now: AtHand, crew: tuple[str, ...], in_hands: Container[str] = ()
) -> tuple[Busy, ...]:
    """What each of the crew does next of what is left, in the order of the shares.

    ``in_hands`` are the stands that somebody is holding.
    """
    left = {step.key: step for step in now.left}
    planned = sorted(worked.shares.steps, key=lambda each: each.start_s)
    found = []
    for who in crew:
        mine = [left[each.step.key] for each in planned if who in each.crew and each.step.key in left]
        ready = next((step for step in mine if not now.waits_for(step)), None)
        if ready is not None:
            found.append(Busy(who, ready))
        elif mine:
            held = mine[0].held if mine[0].held in in_hands else None
            found.append(Busy(who, mine[0], now.waits_for(mine[0])[0], held))
        else:
            found.append(Busy(who, None))
    return tuple(found)
