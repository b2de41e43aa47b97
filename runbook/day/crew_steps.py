"""What each of the crew does in a changeover: whom with, and which steps of others come first."""

from __future__ import annotations

from dataclasses import dataclass

from runbook.changeover.steps import Step
from runbook.day.changeovers import Changeover

ALL = ""  # stands for everybody where a day names no crew


@dataclass(frozen=True, slots=True)
class CrewStep:
    """A step of one person, in seconds from the first step of all.

    ``others`` do it too, and ``leads`` is for the first of them; ``waits_for`` are the steps of others that come first.
    """

    step: Step
    start_s: float
    others: tuple[str, ...]
    leads: bool
    waits_for: tuple[int, ...]


def crew_steps(change: Changeover) -> dict[str, tuple[CrewStep, ...]]:
    """Return everybody's steps in the order they start, by crew id; all under ``ALL`` where a day names no crew."""
    earlier: dict[int, frozenset[int]] = {}  # everything that comes before a step, at once or further back
    for step in change.steps:
        earlier[step.n] = frozenset(step.after).union(*(earlier[n] for n in step.after))
    by_start = sorted(change.shared, key=lambda shared: (shared.start_s, shared.step.n))
    lists: dict[str, tuple[CrewStep, ...]] = {}
    for person in [member.id for member in change.plan.day.crew] or [ALL]:
        known: frozenset[int] = frozenset()
        mine = []
        for shared in by_start:
            if person not in (shared.crew or (ALL,)):
                continue
            step = shared.step
            open_ = [n for n in step.after if n not in known]
            waits = tuple(n for n in open_ if not any(n in earlier[other] for other in open_))
            known = known | earlier[step.n] | {step.n}
            others = tuple(other for other in shared.crew if other != person)
            mine.append(CrewStep(step, shared.start_s, others, (shared.crew or (ALL,))[0] == person, waits))
        lists[person] = tuple(mine)
    return lists
